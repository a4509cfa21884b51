#include "report/comparison_cells.h"

#include <string.h>

#include "report/figures.h"
#include "report/reading.h"

double lds_compared_level(const struct lds_compared_channel *channel, double linear)
{
    return channel->calibrated ? linear : lds_dbfs(linear);
}

struct lds_short lds_line_label(const struct lds_line_change *line)
{
    if (line->kind->match == LDS_MATCH_ORDER)
        return lds_short("%s %d", line->kind->row_label, line->order);
    return line->kind->match == LDS_MATCH_NAME ? lds_short("%s", line->origin) : lds_hz(line->frequency_hz);
}

const char *lds_line_word(const struct lds_line_change *line)
{
    return line->appeared ? "appeared" : line->vanished ? "vanished" : lds_word_name(line->word);
}

const char *lds_limit_result_name(const struct lds_limit_result *limit)
{
    static const char *const names[] = {[LDS_WITHIN] = "within", [LDS_OVER] = "over", [LDS_NOT_SHOWN] = "not shown"};
    return names[limit->result];
}

const char *lds_limit_kind_name(int kind)
{
    static const char *const names[] = {
        [LDS_AT_MOST] = "at most", [LDS_AT_LEAST] = "at least", [LDS_CHANGE_AT_MOST] = "change at most"};
    return kind >= 0 && kind < (int)(sizeof names / sizeof names[0]) ? names[kind] : "";
}

const char *lds_limit_unit(const struct lds_compared_channel *channel, const struct lds_limit_result *limit)
{
    for (size_t i = 0; i < channel->changes; i++)
        if (strcmp(channel->change[i].key, limit->key) == 0)
            return limit->kind == LDS_CHANGE_AT_MOST ? channel->change[i].unit : channel->change[i].value_unit;
    return limit->unit;
}

const char *lds_family_name(int family)
{
    static const char *const names[LDS_FAMILIES] = {
        [LDS_FAMILY_NONE] = "",       [LDS_FAMILY_LEVEL] = "level",
        [LDS_FAMILY_NOISE] = "noise", [LDS_FAMILY_DISTORTION] = "distortion",
        [LDS_FAMILY_MAINS] = "mains", [LDS_FAMILY_DC] = "dc",
    };
    return family >= 0 && family < LDS_FAMILIES ? names[family] : "";
}
