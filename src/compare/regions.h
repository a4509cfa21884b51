/* Parts of axes that changed. */
#ifndef LDS_COMPARE_REGIONS_H
#define LDS_COMPARE_REGIONS_H

#include "loadside/compare.h"

bool lds_region_is_worse(const struct lds_series_kind *kind, const struct lds_axis_span *region);

#endif
