/* The user's limits: within, over, or not shown, by the interval. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"

/* A limit on a figure of pairs that names no channels applies to both directions of the pair that it is listed under. A
 * limit without a band applies to each band. */
static bool is_asked(const struct lds_figure_name *asked, const struct lds_figure_name *name)
{
    bool band = isnan(asked->asked_hz[0]) ||
                (asked->asked_hz[0] == name->asked_hz[0] && asked->asked_hz[1] == name->asked_hz[1]);
    bool channels = asked->channels[0] == 0 || memcmp(asked->channels, name->channels, sizeof asked->channels) == 0;
    return asked->row == name->row && asked->row->section == LDS_PAIR && band && channels;
}

/* The figure of a pair with that key, or of any direction if the limit names none: the largest is judged. */
static const struct lds_figure *figure_of_pair(const struct lds_pair *pair, const char *key)
{
    const struct lds_figure *found = lds_pair_figure(pair, key);
    const struct lds_figure_name asked = lds_key_read(key);
    for (size_t i = 0; asked.row->directed && i < pair->figures; i++) {
        const struct lds_figure *figure = &pair->figure[i];
        if (is_asked(&asked, &figure->name) && (!found || figure->high > found->high))
            found = figure;
    }
    return found;
}

/* The figure of one capture: of the channel, or of a pair in which it is the second. */
static const struct lds_figure *figure_in(const struct lds_seen *seen, const char *key)
{
    const struct lds_figure *figure = lds_seen_figure(seen, key);
    for (size_t p = 0; !figure && p < seen->capture->pairs; p++) {
        const struct lds_pair *pair = &seen->capture->pair[p];
        if (pair->channels[1] == seen->channel->channel)
            figure = figure_of_pair(pair, key);
    }
    return figure;
}

/* A voltage or current of either sign is judged by its size. */
static void take_size(struct lds_figure *figure)
{
    if (!figure->name.row->either_sign || (strcmp(figure->unit, "V") != 0 && strcmp(figure->unit, "A") != 0))
        return;
    double low = figure->low, high = figure->high;
    figure->value = fabs(figure->value);
    figure->high = fmax(fabs(low), fabs(high));
    figure->low = low < 0.0 && high > 0.0 ? 0.0 : fmin(fabs(low), fabs(high));
}

/* Figure of the side after; for several captures their mean with the widest interval. */
static bool after_figure(const struct lds_part *part, const char *key, struct lds_figure *figure)
{
    int count = 0;
    for (int i = part->view.count[LDS_BEFORE]; i < part->view.all; i++) {
        const struct lds_figure *one = figure_in(&part->view.seen[i], key);
        if (!one)
            continue;
        struct lds_figure sized = *one;
        take_size(&sized);
        if (count++ == 0) {
            *figure = sized;
            continue;
        }
        figure->value = figure->value + (sized.value - figure->value) / count;
        figure->low = fmin(figure->low, sized.low);
        figure->high = fmax(figure->high, sized.high);
        figure->flags |= sized.flags;
    }
    return count > 0;
}

static const char *why_absent(const struct lds_part *part, const char *key, const struct lds_figure_name *asked)
{
    for (int i = part->view.count[LDS_BEFORE]; i < part->view.all; i++) {
        const char *reason = lds_channel_absent(part->view.seen[i].channel, key);
        if (reason)
            return reason;
    }
    for (int i = part->view.count[LDS_BEFORE]; i < part->view.all; i++) {
        const struct lds_seen *seen = &part->view.seen[i];
        for (size_t p = 0; p < seen->capture->pairs; p++)
            for (size_t k = 0; k < seen->capture->pair[p].absents; k++)
                if (seen->capture->pair[p].channels[1] == seen->channel->channel &&
                    (strcmp(key, seen->capture->pair[p].absent[k].key) == 0 ||
                     is_asked(asked, &seen->capture->pair[p].absent[k].name)))
                    return seen->capture->pair[p].absent[k].reason;
    }
    for (size_t i = 0; i < part->out->not_compared; i++)
        if (strcmp(key, part->out->not_compared_why[i].key) == 0 ||
            is_asked(asked, &part->out->not_compared_why[i].name))
            return part->out->not_compared_why[i].reason;
    return lds_key_find(key) ? "not among the figures" : "no such figure";
}

static bool set_reason(struct lds_limit_result *result, const char *reason)
{
    result->reason = strdup(reason);
    return result->reason != NULL;
}

static bool judge_value(const struct lds_limit *limit, const struct lds_figure *figure, struct lds_limit_result *result)
{
    bool most = limit->kind == LDS_AT_MOST;
    bool falls_with_chain = !most; /* the chain makes a figure worse, never better */
    result->value = figure->value;
    result->low = figure->low;
    result->high = figure->high;
    bool within = most ? figure->high <= limit->value : figure->low >= limit->value;
    bool over = most ? figure->low > limit->value : figure->high < limit->value;
    if (isnan(figure->value)) /* below the floor: only the upper limit is known */
        over = !most && figure->high < limit->value;
    result->result = within ? LDS_WITHIN : over ? LDS_OVER : LDS_NOT_SHOWN;
    if (!over || !(figure->flags & LDS_FLAG_CHAIN_LIMITED))
        return true;
    result->result = LDS_NOT_SHOWN;
    return set_reason(result, falls_with_chain ? "the chain alone keeps it below the limit"
                                               : "the chain alone puts it over the limit");
}

static bool judge_change(const struct lds_limit *limit, const struct lds_change *change,
                         struct lds_limit_result *result)
{
    result->value = change->change;
    result->low = change->low;
    result->high = change->high;
    if (change->low >= -limit->value && change->high <= limit->value)
        result->result = LDS_WITHIN;
    else if (change->low > limit->value || change->high < -limit->value)
        result->result = LDS_OVER;
    return true;
}

static bool check(const struct lds_part *part, const struct lds_limit *limit, struct lds_limit_result *result)
{
    *result = (struct lds_limit_result){.result = LDS_NOT_SHOWN,
                                        .value = NAN,
                                        .low = NAN,
                                        .high = NAN,
                                        .limit = limit->value,
                                        .kind = (int)limit->kind,
                                        .key = strdup(limit->key),
                                        .name = lds_key_read(limit->key)};
    snprintf(result->unit, sizeof result->unit, "%s", limit->unit ? limit->unit : "");
    if (!result->key)
        return false;
    for (size_t i = 0; i < part->out->changes; i++) {
        const struct lds_change *change = &part->out->change[i];
        if (limit->kind == LDS_CHANGE_AT_MOST &&
            (strcmp(limit->key, change->key) == 0 || is_asked(&result->name, &change->name)))
            return judge_change(limit, change, result);
    }
    struct lds_figure figure = {0};
    if (limit->kind != LDS_CHANGE_AT_MOST && after_figure(part, limit->key, &figure))
        return judge_value(limit, &figure, result);
    return set_reason(result, why_absent(part, limit->key, &result->name));
}

/* A limit of a pair is listed only with its second channel, and if no channel has it, with the last. */
static bool is_told_elsewhere(const struct lds_work *work, const struct lds_part *part, const char *key)
{
    struct lds_figure unused;
    bool last = part->out == &work->out->channel[work->out->channels - 1];
    return lds_key_read(key).row->section == LDS_PAIR && !last && !after_figure(part, key, &unused);
}

void lds_comparison_limits(const struct lds_comparison *comparison, size_t count[LDS_LIMIT_RESULTS])
{
    for (int i = 0; i < LDS_LIMIT_RESULTS; i++)
        count[i] = 0;
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].limits; i++)
            count[comparison->channel[c].limit[i].result]++;
}

bool lds_limits_judge(struct lds_work *work, struct lds_part *part)
{
    size_t count = work->options->limits;
    if (count == 0)
        return true;
    part->out->limit = calloc(count, sizeof *part->out->limit);
    if (!part->out->limit)
        return false;
    for (size_t i = 0; i < count; i++)
        if (!is_told_elsewhere(work, part, work->options->limit[i].key) &&
            !check(part, &work->options->limit[i], &part->out->limit[part->out->limits++]))
            return false;
    return true;
}
