/* Finds where series rose or fell along their axes. For the noise density, neighbouring bands with the same change
 * within their noise are one stretch and one test: otherwise the band that happens to read highest would stand for the
 * change of its neighbours. For other series each point is a test, since errors of neighbouring points need not be
 * independent. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/axis.h"
#include "compare/statistics.h"
#include "grow.h"

static const double EDGE_SAME = 1e-6; /* relative */
static const double SHARE = 0.5;      /* of the false alarms allowed: the bands' degrees of freedom are known only to
                                       * some percent, and there are as many tests as bands */

/* Change of one band and its standard uncertainty, from the captures' own noise. */
static void own_change(const struct lds_axis *axis, const struct lds_band *band, double *change, double *u)
{
    struct lds_pooled side[2];
    lds_pool_sides(band->reading, axis->count, side);
    *change = side[1].mean.value - side[0].mean.value;
    *u = hypot(side[0].mean.u, side[1].mean.u);
}

/* Adds the uncertainty of one more value: bands of noise are independent, points may share their error. */
static double joined_with(const struct lds_axis *axis, double sum, double part)
{
    return axis->kind->match == LDS_MATCH_BANDS ? hypot(sum, part) : sum + part;
}

/* Joins several bands into one, capture by capture, weighted by 1/u^2. */
static void join(const struct lds_axis *axis, size_t first, size_t last, struct lds_pooled side[2])
{
    struct lds_reading *joined = axis->reading + axis->bands * (size_t)axis->captures;
    double all = 0.0, change, u;
    for (int c = 0; c < axis->captures; c++)
        joined[c] = (struct lds_reading){.limit = NAN, .dof = INFINITY};
    for (size_t i = first; i <= last; i++) {
        own_change(axis, &axis->band[i], &change, &u);
        double weight = u > 0.0 && isfinite(u) ? 1.0 / (u * u) : 1.0;
        all += weight;
        for (int c = 0; c < axis->captures; c++) {
            const struct lds_reading *r = &axis->band[i].reading[c];
            joined[c].value += weight * r->value;
            joined[c].u = joined_with(axis, joined[c].u, weight * r->u);
            joined[c].below = joined_with(axis, joined[c].below, weight * r->below);
            joined[c].above = joined_with(axis, joined[c].above, weight * r->above);
            joined[c].flags |= r->flags;
        }
    }
    for (int c = 0; c < axis->captures; c++) {
        joined[c].value /= all;
        joined[c].u /= all;
        joined[c].below /= all;
        joined[c].above /= all;
    }
    lds_pool_sides(joined, axis->count, side);
}

/* Chi-square degrees of freedom of a side. A scatter of u dB between captures adds (u ln 10/10)^2 to the variance of
 * each, which has the effect of fewer degrees of freedom. */
static double freedom_of(const struct lds_pooled *side, double u_rep_db)
{
    double per_db = M_LN10 / 10.0, own = per_db * side->mean.u, between = per_db * u_rep_db;
    return 2.0 / (own * own + between * between / side->count);
}

/* Change of some neighbouring bands together, with its interval and p. The effect of re-cabling is common to them.
 * The noise of a band is a chi-square, so p is that of the ratio of two, unless the chain leaves an end of the
 * change open. */
static void change_of(const struct lds_axis *axis, size_t first, size_t last, struct lds_fact *fact)
{
    struct lds_pooled side[2];
    join(axis, first, last, side);
    lds_fact_make(&side[0], &side[1], axis->way, axis->matters, NAN, fact);
    if (!axis->way.from_repeats && axis->kind->match == LDS_MATCH_BANDS && !fact->hidden[0] && !fact->hidden[1])
        fact->delta.p =
            lds_variance_ratio_p(pow(10.0, fact->delta.change / 10.0), freedom_of(&side[1], axis->way.u_rep),
                                 freedom_of(&side[0], axis->way.u_rep));
}

/* Which sides of a band the chain hides. */
static unsigned hidden_sides(const struct lds_axis *axis, const struct lds_band *band)
{
    struct lds_pooled side[2];
    lds_pool_sides(band->reading, axis->count, side);
    return (lds_is_hidden(&side[0]) ? 1u : 0u) | (lds_is_hidden(&side[1]) ? 2u : 0u);
}

/* Is a band joined to the one before it? If the chain hides a side, only one end of the change is known. */
static bool touches(const struct lds_axis *axis, size_t i)
{
    if (i == 0 || hidden_sides(axis, &axis->band[i - 1]) != hidden_sides(axis, &axis->band[i]))
        return false;
    return axis->kind->match != LDS_MATCH_BANDS ||
           fabs(axis->band[i - 1].to - axis->band[i].from) <= EDGE_SAME * axis->band[i].from;
}

/* Makes one test of these bands or points: they all get its answer. */
static void test_points(struct lds_axis *axis, size_t first, size_t last)
{
    change_of(axis, first, last, &axis->band[first].fact);
    for (size_t i = first + 1; i <= last; i++)
        axis->band[i].fact = axis->band[first].fact;
}

static bool test_stretches(struct lds_axis *axis)
{
    struct lds_stretch *stretch = calloc(axis->bands + 1, sizeof *stretch);
    double change, u;
    for (size_t i = 0; stretch && i < axis->bands; i++) {
        own_change(axis, &axis->band[i], &change, &u);
        stretch[i] = (struct lds_stretch){i, i, change, 1.0 / (u * u), touches(axis, i)};
    }
    size_t count = stretch ? lds_stretches_join(stretch, axis->bands) : 0;
    for (size_t k = 0; k < count; k++)
        test_points(axis, stretch[k].first, stretch[k].last);
    bool ok = stretch != NULL;
    free(stretch);
    return ok;
}

static bool test(struct lds_axis *axis)
{
    if (axis->kind->match == LDS_MATCH_BANDS)
        return test_stretches(axis);
    for (size_t i = 0; i < axis->bands; i++)
        test_points(axis, i, i);
    return true;
}

/* Tests all channels and pairs together (Holm). */
static bool decide(struct lds_axis *axis, size_t count, double false_alarm)
{
    size_t room = 1, facts = 0;
    for (size_t c = 0; c < count; c++)
        room += axis[c].bands;
    struct lds_fact **fact = calloc(room, sizeof(struct lds_fact *));
    for (size_t c = 0; fact && c < count; c++)
        for (size_t i = 0; i < axis[c].bands; i++)
            fact[facts++] = &axis[c].band[i].fact;
    bool ok = fact && lds_facts_decide(fact, facts, SHARE * false_alarm);
    for (size_t c = 0; ok && c < count; c++)
        for (size_t i = 0; i < axis[c].bands; i++) {
            const struct lds_fact *one = &axis[c].band[i].fact;
            axis[c].band[i].called = one->p_adjusted < SHARE * false_alarm && one->word != LDS_HIDDEN_BY_CHAIN;
        }
    free((void *)fact);
    return ok;
}

/* ---- results ---- */

static void write_span(const struct lds_axis *axis, size_t first, size_t last, struct lds_axis_span *span)
{
    const struct lds_band *band = &axis->band[first];
    struct lds_fact fact;
    change_of(axis, first, last, &fact);
    *span = (struct lds_axis_span){.x = band->x,
                                   .from = band->from,
                                   .to = axis->band[last].to,
                                   .change = fact.delta.change,
                                   .low = fact.delta.low,
                                   .high = fact.delta.high,
                                   .p_adjusted = band->fact.p_adjusted,
                                   .word = band->fact.word,
                                   .called = band->called};
    for (size_t i = first; i <= last; i++) {
        span->p_adjusted = fmin(span->p_adjusted, axis->band[i].fact.p_adjusted);
        for (int c = 0; c < axis->captures; c++)
            span->flags |= axis->band[i].reading[c].flags;
    }
}

static bool goes_on(const struct lds_axis *axis, size_t i)
{
    const struct lds_band *a = &axis->band[i - 1], *b = &axis->band[i];
    return b->called && a->fact.word == b->fact.word && touches(axis, i);
}

static bool write_axis(const struct lds_axis *axis)
{
    struct lds_compared_channel *channel = axis->of[axis->of[1] != NULL]->out;
    struct lds_axis_change *out = axis->bands ? lds_grow(&channel->axis, &channel->axes, sizeof *out) : NULL;
    if (!out)
        return axis->bands == 0;
    out->kind = axis->kind;
    snprintf(out->key, sizeof out->key, "%s%s", axis->kind->key, axis->view->suffix);
    if (axis->view->channels[1] > 0)
        memcpy(out->channels, axis->view->channels, sizeof out->channels);
    out->calibrated = channel->calibrated;
    out->matters = axis->matters;
    out->point = calloc(axis->bands, sizeof *out->point);
    out->points = out->point ? axis->bands : 0;
    for (size_t i = 0; i < out->points; i++)
        write_span(axis, i, i, &out->point[i]);
    for (size_t i = 0, end; i < out->points; i = end) {
        end = i + 1;
        if (!axis->band[i].called)
            continue;
        while (end < axis->bands && goes_on(axis, end))
            end++;
        struct lds_axis_span *region = lds_grow(&out->region, &out->regions, sizeof *region);
        if (!region)
            return false;
        write_span(axis, i, end - 1, region);
    }
    return out->points > 0;
}

/* Compares one kind of series, in all channels and pairs. */
static bool find_kind(struct lds_work *work, const struct lds_series_kind *kind)
{
    size_t channels = work->out->channels, count = channels + work->pairs;
    struct lds_axis *axis = calloc(count + 1, sizeof *axis);
    bool ok = axis != NULL;
    for (size_t c = 0; ok && c < count; c++) {
        const struct lds_pair_part *pair = c < channels ? NULL : &work->pair[c - channels];
        axis[c] = (struct lds_axis){.kind = kind,
                                    .view = pair ? &pair->view : &work->part[c].view,
                                    .of = {pair ? pair->of[0] : &work->part[c], pair ? pair->of[1] : NULL}};
        ok = lds_axis_read(work, &axis[c]) && test(&axis[c]);
    }
    ok = ok && decide(axis, count, work->options->false_alarm);
    for (size_t c = 0; ok && c < count; c++)
        ok = write_axis(&axis[c]);
    for (size_t c = 0; axis && c < count; c++)
        lds_axis_free(&axis[c]);
    free(axis);
    return ok;
}

bool lds_axis_find(struct lds_work *work)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    bool ok = true;
    for (size_t k = 0; ok && k < kinds; k++)
        if (kind[k].match == LDS_MATCH_BANDS || kind[k].match == LDS_MATCH_AXIS)
            ok = find_kind(work, &kind[k]);
    return ok;
}
