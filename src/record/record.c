#include "record/record.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "scarce.h"

/* A level in dBFS as defined by AES17: the rms of a full-scale sine, 1/sqrt(2), is 0 dBFS. */
static double dbfs(double linear)
{
    return 20.0 * log10(fabs(linear) * M_SQRT2);
}

static bool clear_figure(struct lds_figure *figure, const char *key, bool calibrated)
{
    *figure = (struct lds_figure){
        .key = strdup(key),
        .name = lds_key_read(key),
        .value = NAN,
        .low = NAN,
        .high = NAN,
        .u_a = NAN,
        .u_b = NAN,
        .dof = NAN,
        .band_hz = {NAN, NAN},
        .removed_hz = NAN,
    };
    snprintf(figure->unit, sizeof figure->unit, "%s", lds_key_unit(figure->name.row, calibrated));
    return figure->key != NULL;
}

/* Appends a figure. Without memory the list stays as it was, and the caller gets a figure that is in no list. */
static struct lds_figure *append_figure(struct lds_figure **list, size_t *count, const char *key, bool calibrated)
{
    static _Thread_local struct lds_figure nowhere;
    struct lds_figure *figure = lds_grow(list, count, sizeof *figure);
    if (figure && clear_figure(figure, key, calibrated))
        return figure;
    *count -= figure ? 1 : 0;
    lds_scarce_note();
    nowhere = (struct lds_figure){.name = lds_key_read(key)};
    return &nowhere;
}

struct lds_figure *lds_channel_add(struct lds_channel *channel, const char *key)
{
    struct lds_figure *figure = append_figure(&channel->figure, &channel->figures, key, channel->calibrated);
    const struct lds_flag_rules *rules = channel->flag_rules;
    if (rules)
        figure->flags =
            rules->of[figure->name.row->of] | (figure->name.row->chain == LDS_CHAIN_NONE ? 0u : rules->chain);
    return figure;
}

struct lds_figure *lds_pair_add(struct lds_pair *pair, const char *key, bool calibrated)
{
    return append_figure(&pair->figure, &pair->figures, key, calibrated);
}

bool lds_figure_over(struct lds_figure *figure, const int *other, size_t others)
{
    int *copy = malloc(others * sizeof *copy);
    if (!copy)
        return false;
    figure->other = memcpy(copy, other, others * sizeof *copy);
    figure->others = others;
    return true;
}

bool lds_absent_add(struct lds_absent **list, size_t *count, const char *key, const char *format, ...)
{
    char *reason = NULL, *name = strdup(key);
    va_list args;
    va_start(args, format);
    int length = vasprintf(&reason, format, args);
    va_end(args);
    struct lds_absent *absent = name && length >= 0 ? lds_grow(list, count, sizeof *absent) : NULL;
    if (absent) {
        *absent = (struct lds_absent){.key = name, .name = lds_key_read(key), .reason = reason};
        return true;
    }
    if (length >= 0)
        free(reason);
    free(name);
    return false;
}

bool lds_absent_add_all(struct lds_absent **list, size_t *count, const char *why, const char *const *keys)
{
    bool ok = true;
    for (; ok && *keys; keys++)
        ok = lds_absent_add(list, count, *keys, "%s", why);
    return ok;
}

void lds_absents_free(struct lds_absent *absent, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(absent[i].key);
        free(absent[i].reason);
    }
    free(absent);
}

void lds_figure_set_level(struct lds_figure *figure, bool calibrated, double value, double low, double high, double u_a)
{
    if (calibrated) {
        figure->value = value;
        figure->low = low;
        figure->high = high;
        figure->u_a = u_a;
        return;
    }
    figure->value = dbfs(value);
    figure->low = dbfs(low < 0.0 ? 0.0 : low);
    figure->high = dbfs(high);
    /* d(20 log10 v)/dv = 20 / (v ln 10) */
    double slope = 20.0 / (M_LN10 * fabs(value));
    figure->u_a = isfinite(slope) ? slope * u_a : NAN;
}

void lds_figure_set(struct lds_figure *figure, double value, double low, double high, double u_a, double dof)
{
    figure->value = value;
    figure->low = low;
    figure->high = high;
    figure->u_a = u_a;
    figure->u_b = 0.0;
    figure->dof = dof;
}

void lds_figures_bound(struct lds_figure *figure, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double least, most;
        lds_key_range(figure[i].name.row, figure[i].unit, &least, &most);
        if (figure[i].low < least)
            figure[i].low = least;
        if (figure[i].high > most)
            figure[i].high = most;
    }
}
