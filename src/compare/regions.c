#include "compare/regions.h"

#include <string.h>

const struct lds_axis_change *lds_compared_axis(const struct lds_compared_channel *channel, const char *key)
{
    static const struct lds_axis_change none = {0};
    for (size_t i = 0; i < channel->axes; i++)
        if (strcmp(channel->axis[i].key, key) == 0)
            return &channel->axis[i];
    return &none;
}

bool lds_region_is_worse(const struct lds_series_kind *kind, const struct lds_axis_span *region)
{
    return (kind->worse == LDS_WORSE_UP && region->word == LDS_HIGHER) ||
           (kind->worse == LDS_WORSE_DOWN && region->word == LDS_LOWER);
}
