/* Parts of axes that changed. */
#ifndef LDS_COMPARE_REGIONS_H
#define LDS_COMPARE_REGIONS_H

#include "loadside/compare.h"

bool lds_region_is_worse(const struct lds_series_kind *kind, const struct lds_axis_span *region);

/* How many of a kind (NULL: of all) rose and fell by more than matters, over all channels. */
struct lds_region_counts {
    size_t rose, fell;
};
struct lds_region_counts lds_regions_count(const struct lds_comparison *comparison, const struct lds_series_kind *kind);

#endif
