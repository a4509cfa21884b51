/* A power against what the sheet says. */
#ifndef LDS_JOB_POWER_H
#define LDS_JOB_POWER_H

#include <stdbool.h>

#include "loadside/job.h"

/* A power this near the rated one, relative to it, counts as that: 0.04 dB, common practice, no source. */
#define LDS_RATED_WITHIN 0.01

/* Whether a power within low to high may be the stated one, within the sheet's tolerance; so is one that is not known,
 * or of which nothing is stated. */
bool lds_power_is_stated(const struct lds_sheet *sheet, const struct lds_sheet_capture *capture, double low_w,
                         double high_w);

/* Whether the rating is for that load: within 5 %, as loads of one name are. */
bool lds_rating_is_for(const struct lds_rating *rating, double load_ohm);

/* Whether a power is more than the rated one, by more than what counts as that. */
bool lds_rating_is_exceeded(const struct lds_rating *rating, double load_ohm, double power_w);

#endif
