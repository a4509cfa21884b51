/* The change of every figure that both sides have. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"
#include "grow.h"
#include "record/record.h"

/* A level without a scale in volts is judged in dB; one that may have either sign cannot be. */
bool lds_is_judged(const struct lds_figure *figure)
{
    const struct lds_key *row = figure->name.row;
    enum lds_scale scale = lds_scale_of(row, figure->unit);
    return row->family != LDS_FAMILY_NONE && row->compared == LDS_JUDGED && scale != LDS_SCALE_OWN &&
           (!row->either_sign || scale != LDS_SCALE_DB);
}

static bool pool(const struct lds_chosen *chosen, enum lds_scale scale, struct lds_pooled side[2])
{
    struct lds_reading *reading = calloc((size_t)chosen->all, sizeof *reading);
    if (!reading)
        return false;
    for (int i = 0; i < chosen->all; i++)
        lds_reading_take(chosen->figure[i], scale, &reading[i]);
    lds_pool_sides(reading, chosen->count, side);
    free(reading);
    return true;
}

/* The side's value as printed: in the figure's unit; for several captures the mean on the scale of the change. */
static double value_of(const struct lds_chosen *chosen, int side, const struct lds_pooled *pooled, enum lds_scale scale)
{
    const struct lds_figure *first = chosen->figure[side ? chosen->count[0] : 0];
    if (chosen->count[side] == 1 || isnan(pooled->mean.value))
        return isnan(pooled->mean.value) ? (double)NAN : first->value;
    if (scale == LDS_SCALE_DB && strcmp(first->unit, "W") == 0)
        return pow(10.0, pooled->mean.value / 10.0);
    if (scale == LDS_SCALE_DB &&
        (lds_unit_is_amplitude(first->unit) || strcmp(first->unit, "Hz") == 0 || strcmp(first->unit, "s") == 0))
        return pow(10.0, pooled->mean.value / 20.0);
    if (scale == LDS_SCALE_DC)
        return copysign(pooled->mean.value, first->value);
    return pooled->mean.value;
}

static double mean_seconds(const struct lds_chosen *chosen)
{
    double sum = 0.0;
    for (int i = 0; i < chosen->all; i++)
        sum += chosen->seen[i]->capture->seconds;
    return sum / chosen->all;
}

static void fill_fact(const struct lds_work *work, const struct lds_chosen *chosen, const struct lds_pooled pooled[2],
                      struct lds_fact *fact)
{
    const struct lds_figure *figure = chosen->figure[0];
    const struct lds_key *row = figure->name.row;
    bool judged = lds_is_judged(figure);
    struct lds_delta_way way = {.u_rep = judged ? lds_scatter_of(&work->scatter, chosen) : 0.0,
                                .shared_bench = lds_bench_is_shared(chosen),
                                .from_repeats = judged && lds_repeats_tell(&work->scatter, row->family, chosen->count),
                                .inverted = row->worse == LDS_WORSE_DOWN};
    lds_fact_make(&pooled[0], &pooled[1], way, judged ? lds_matters_of(work->options, figure) : (double)NAN,
                  mean_seconds(chosen), fact);
}

static bool add_change(struct lds_work *work, struct lds_part *part, const struct lds_view *view,
                       const struct lds_chosen *chosen)
{
    struct lds_compared_channel *out = part->out;
    const struct lds_figure *first = chosen->figure[0];
    enum lds_scale scale = lds_scale_of(first->name.row, first->unit);
    struct lds_pooled pooled[2];
    if (!pool(chosen, scale, pooled))
        return false;
    size_t facts = out->changes; /* as many as changes */
    struct lds_fact *fact = lds_grow(&part->change, &facts, sizeof *fact);
    struct lds_change *change = fact ? lds_grow(&out->change, &out->changes, sizeof *change) : NULL;
    if (!change)
        return false;
    fill_fact(work, chosen, pooled, fact);
    change->judged = !isnan(fact->matters) && !isnan(fact->delta.p);
    change->repeated = chosen->count[0] >= LDS_REPEATS && chosen->count[1] >= LDS_REPEATS;
    change->matters = fact->matters;
    change->flags = pooled[0].mean.flags | pooled[1].mean.flags;
    change->before = value_of(chosen, 0, &pooled[0], scale);
    change->after = value_of(chosen, 1, &pooled[1], scale);
    snprintf(change->unit, sizeof change->unit, "%s", lds_scale_unit(scale, first->unit));
    snprintf(change->value_unit, sizeof change->value_unit, "%s", first->unit);
    char key[96];
    lds_view_key(view, first, key, sizeof key);
    change->key = strdup(key);
    change->name = lds_key_read(key);
    return change->key != NULL;
}

static bool compare_figure(struct lds_work *work, struct lds_part *part, const struct lds_view *view,
                           const struct lds_figure *figure)
{
    const struct lds_key *row = figure->name.row;
    if (row->compared == LDS_NOT_COMPARED)
        return true;
    struct lds_chosen chosen;
    char reason[256];
    bool ok = lds_choose(view, figure->key, row, &chosen);
    if (ok && ((chosen.all > 0 && lds_is_of_moving(chosen.seen[0], row, reason)) ||
               lds_not_comparable(view, &chosen, figure->key, row, reason))) {
        char key[96];
        lds_view_key(view, figure, key, sizeof key);
        ok = lds_absent_add(&part->out->not_compared_why, &part->out->not_compared, key, "%s", reason);
    } else if (ok) {
        ok = add_change(work, part, view, &chosen);
    }
    lds_chosen_free(&chosen);
    return ok;
}

/* Did an earlier capture have this key? */
static bool met_before(const struct lds_view *view, int which, const char *key)
{
    for (int i = 0; i < which; i++)
        if (lds_seen_figure(&view->seen[i], key))
            return true;
    return false;
}

bool lds_changes_find(struct lds_work *work, struct lds_part *part, const struct lds_view *view)
{
    for (int i = 0; i < view->all; i++)
        for (size_t f = 0; f < view->seen[i].figures; f++) {
            const struct lds_figure *figure = &view->seen[i].figure[f];
            if (!met_before(view, i, figure->key) && !compare_figure(work, part, view, figure))
                return false;
        }
    return true;
}
