/* Whether captures match their roles. */
#ifndef LDS_JOB_ROLE_FITS_H
#define LDS_JOB_ROLE_FITS_H

#include "job/look.h"

/* The role that a capture may have by the short look (lds_role_unknown: none), and what it holds: "a tone of 1 kHz". */
const struct lds_role *lds_role_of_look(const struct lds_look *look, char *words, size_t size);

/* "role = sine, and this capture holds two tones, 19 kHz and 20 kHz"; "": it matches, or nothing is known. By the short
 * look. */
void lds_role_by_look(const struct lds_sheet_capture *capture, const struct lds_look *look, char *words, size_t size);

/* The same from the measurement, which also recognises sweeps, bursts and music; for what was measured as idle only the
 * look counts. */
void lds_role_by_signal(const struct lds_sheet_capture *capture, const struct lds_look *look,
                        const struct lds_measurement *measurement, char *words, size_t size);

#endif
