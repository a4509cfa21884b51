/* Whether captures hold what their roles say. */
#ifndef LDS_JOB_ROLE_FITS_H
#define LDS_JOB_ROLE_FITS_H

#include <stdbool.h>

#include "job/look.h"

/* "role = sine, and this capture holds two tones, 19 kHz and 20 kHz"; "": it fits, or nothing is known. By the short
 * look. */
void lds_role_by_look(const struct lds_sheet_capture *capture, const struct lds_look *look, char *words, size_t size);

/* The same by what was measured, which tells sweeps, bursts and music as well; what was measured as idle is told by
 * the look alone. */
void lds_role_by_signal(const struct lds_sheet_capture *capture, const struct lds_look *look,
                        const struct lds_measurement *measurement, char *words, size_t size);

#endif
