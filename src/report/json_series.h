/* Series in the JSON report. */
#ifndef LDS_REPORT_JSON_SERIES_H
#define LDS_REPORT_JSON_SERIES_H

#include "loadside/series.h"
#include "report/json_parts.h"

/* Puts the series of a channel or pair into its object: the lists of lines, empty if there are none; or the curves and
 * the series over an axis, if there are any. */
void lds_json_put_lines(json_t *object, const struct lds_series *series, size_t count, bool calibrated);
void lds_json_put_curves(json_t *object, const struct lds_series *series, size_t count, bool calibrated);

#endif
