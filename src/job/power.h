/* Compares a power with what the sheet says. */
#ifndef LDS_JOB_POWER_H
#define LDS_JOB_POWER_H

#include <stdbool.h>

#include "loadside/job.h"

/* A power this close to the rated one, relative to it, counts as equal: 0.04 dB, common practice, no source. */
#define LDS_RATED_WITHIN 0.01

/* The bench through which a power is recorded: that of the capture or, where it states no load, of the first channel
 * that states one. */
const struct lds_bench *lds_power_bench(const struct lds_sheet_capture *capture);

/* Whether both state the same power, or neither states one. */
bool lds_same_power(const struct lds_sheet_capture *a, const struct lds_sheet_capture *b);

/* Whether a power within low to high may be the stated one, within the sheet's tolerance; also true if the power is not
 * known, or none is stated. */
bool lds_power_is_stated(const struct lds_sheet *sheet, const struct lds_sheet_capture *capture, double low_w,
                         double high_w);

/* Whether the rating applies to that load: within 5 %, like loads of the same nominal value. */
bool lds_rating_is_for(const struct lds_rating *rating, double load_ohm);

/* Whether a power exceeds the rated one by more than what counts as equal. */
bool lds_rating_is_exceeded(const struct lds_rating *rating, double load_ohm, double power_w);

#endif
