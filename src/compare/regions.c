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

static void count(struct lds_moved *moved, enum lds_word word)
{
    moved->rose += word == LDS_HIGHER;
    moved->fell += word == LDS_LOWER;
}

struct lds_moved lds_lines_moved(const struct lds_comparison *comparison)
{
    struct lds_moved moved = {0};
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].lines; i++)
            count(&moved, comparison->channel[c].line[i].word);
    return moved;
}

struct lds_moved lds_regions_moved(const struct lds_comparison *comparison, const struct lds_series_kind *kind)
{
    struct lds_moved moved = {0};
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t a = 0; a < comparison->channel[c].axes; a++) {
            const struct lds_axis_change *axis = &comparison->channel[c].axis[a];
            for (size_t i = 0; (!kind || kind == axis->kind) && i < axis->regions; i++)
                count(&moved, axis->region[i].word);
        }
    return moved;
}
