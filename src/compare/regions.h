/* Lines and parts of axes that changed. */
#ifndef LDS_COMPARE_REGIONS_H
#define LDS_COMPARE_REGIONS_H

#include "loadside/compare.h"

bool lds_region_is_worse(const struct lds_series_kind *kind, const struct lds_axis_span *region);

/* How many rose and fell by more than matters, over all channels: single lines, and regions of a kind of series (NULL:
 * of all). */
struct lds_moved {
    size_t rose, fell;
};
struct lds_moved lds_lines_moved(const struct lds_comparison *comparison);
struct lds_moved lds_regions_moved(const struct lds_comparison *comparison, const struct lds_series_kind *kind);

#endif
