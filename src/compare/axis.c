/* The noise density along the frequency axis: where it rose or fell.
 *
 * Each stretch over which the change is the same, as far as the noise can tell, is one question, so that the band which
 * happens to read highest is not taken for the change of those about it. */
#include <math.h>
#include <stdlib.h>

#include "compare/floor_over.h"
#include "compare/statistics.h"
#include "compare/stretches.h"
#include "compare/work.h"
#include "grow.h"
#include "measure/interval.h"

static const double EDGE_SAME = 1e-6; /* relative */
static const double SHARE = 0.5;      /* of the false alarms allowed: the bands' degrees of freedom are known to some
                                       * percent only, and there are as many tests as bands */

struct band {
    double low_hz, high_hz;
    struct lds_reading *reading; /* dB re 1 V^2/Hz or full scale, of each capture, one side after the other */
    double p, p_adjusted;        /* of the stretch that it lies in */
    enum lds_word word;
    bool called;
};

/* That of one channel. */
struct axis {
    struct lds_part *part;
    struct band *band;
    size_t bands;
    struct lds_reading *reading; /* of all bands, and of one more for what is joined */
    int count[2];                /* captures of a side */
    double u_rep_db;             /* from one capture to the next; where repeats tell it, not used */
    bool from_repeats;
};

/* var ln P of a chi-square power is 2/nu to first order. */
static bool read_band(const struct lds_chosen *chosen, struct band *band)
{
    struct lds_reading *reading = band->reading;
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < chosen->count[s]; i++, reading++) {
            const struct lds_series *floor = lds_channel_series(chosen->seen[s][i]->channel, "floor");
            double mean, dof;
            if (!lds_floor_over(floor, band->low_hz, band->high_hz, &mean, &dof))
                return false;
            *reading = (struct lds_reading){.value = 20.0 * log10(mean), .limit = NAN, .dof = INFINITY};
            reading->u = 10.0 / M_LN10 * sqrt(2.0 / dof);
            reading->below = 10.0 * log10(lds_chi_square_quantile(0.975, dof));
            reading->above = -10.0 * log10(lds_chi_square_quantile(0.025, dof));
        }
    return true;
}

static void pool_sides(const struct axis *axis, const struct lds_reading *reading, struct lds_pooled side[2])
{
    lds_pool(reading, axis->count[0], &side[0]);
    lds_pool(reading + axis->count[0], axis->count[1], &side[1]);
}

/* Change of one band and its standard uncertainty, from the captures' own noise. */
static void own_change(const struct axis *axis, const struct band *band, double *change, double *u)
{
    struct lds_pooled side[2];
    pool_sides(axis, band->reading, side);
    *change = side[1].mean.value - side[0].mean.value;
    *u = hypot(side[0].mean.u, side[1].mean.u);
}

/* Some bands as one, capture by capture, weighted by what they know of the change. */
static void join(const struct axis *axis, size_t first, size_t last, struct lds_pooled side[2])
{
    struct lds_reading *joined = axis->reading + axis->bands * (size_t)(axis->count[0] + axis->count[1]);
    int captures = axis->count[0] + axis->count[1];
    double all = 0.0, change, u;
    for (int c = 0; c < captures; c++)
        joined[c] = (struct lds_reading){.limit = NAN, .dof = INFINITY};
    for (size_t i = first; i <= last; i++) {
        own_change(axis, &axis->band[i], &change, &u);
        double weight = 1.0 / (u * u);
        all += weight;
        for (int c = 0; c < captures; c++) {
            const struct lds_reading *r = &axis->band[i].reading[c];
            joined[c].value += weight * r->value;
            joined[c].u = hypot(joined[c].u, weight * r->u);
            joined[c].below = hypot(joined[c].below, weight * r->below);
            joined[c].above = hypot(joined[c].above, weight * r->above);
        }
    }
    for (int c = 0; c < captures; c++) {
        joined[c].value /= all;
        joined[c].u /= all;
        joined[c].below /= all;
        joined[c].above /= all;
    }
    pool_sides(axis, joined, side);
}

/* Chi-square degrees of freedom of a side. A scatter of u dB between captures adds (u ln 10/10)^2 to the variance of
 * each, so that a power which scatters so is like one of fewer degrees of freedom. */
static double freedom_of(const struct lds_pooled *side, double u_rep_db)
{
    double per_db = M_LN10 / 10.0, own = per_db * side->mean.u, between = per_db * u_rep_db;
    return 2.0 / (own * own + between * between / side->count);
}

/* Change of some neighbouring bands together, with its interval and p. What re-cabling does is common to them. */
static void change_of(const struct axis *axis, size_t first, size_t last, struct lds_delta *delta)
{
    struct lds_pooled side[2];
    join(axis, first, last, side);
    struct lds_delta_way way = {.u_rep = axis->u_rep_db, .from_repeats = axis->from_repeats};
    if (axis->from_repeats)
        way.u_rep = 0.0;
    lds_delta_find(&side[0], &side[1], way, delta);
    if (!axis->from_repeats)
        delta->p = lds_variance_ratio_p(pow(10.0, delta->change / 10.0), freedom_of(&side[1], axis->u_rep_db),
                                        freedom_of(&side[0], axis->u_rep_db));
}

static bool touches(const struct axis *axis, size_t i)
{
    return i > 0 && fabs(axis->band[i - 1].high_hz - axis->band[i].low_hz) <= EDGE_SAME * axis->band[i].low_hz;
}

/* p of every band, that of its stretch; and the word that it has if p says that it changed. */
static bool test_stretches(struct axis *axis, double matters)
{
    size_t bands = axis->bands;
    double *value = calloc(2 * bands + 1, sizeof *value), *u = value ? value + bands : NULL;
    bool *joined = calloc(bands + 1, sizeof *joined);
    struct lds_stretch *stretch = calloc(bands + 1, sizeof *stretch);
    bool ok = value && joined && stretch;
    for (size_t i = 0; ok && i < bands; i++) {
        own_change(axis, &axis->band[i], &value[i], &u[i]);
        joined[i] = touches(axis, i);
    }
    size_t count = ok ? lds_stretches_find(value, u, joined, bands, stretch) : 0;
    for (size_t k = 0; k < count; k++) {
        struct lds_delta delta;
        change_of(axis, stretch[k].first, stretch[k].last, &delta);
        for (size_t i = stretch[k].first; i <= stretch[k].last; i++) {
            axis->band[i].p = delta.p;
            axis->band[i].word = lds_word_of_size(delta.change, matters);
        }
    }
    free(value);
    free(joined);
    free(stretch);
    return ok;
}

/* The capture whose bands are widest: those of shorter captures, which others can be brought to. */
static const struct lds_series *coarsest(const struct lds_chosen *chosen)
{
    const struct lds_series *coarsest = lds_channel_series(chosen->seen[0][0]->channel, "floor");
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < chosen->count[s]; i++) {
            const struct lds_series *floor = lds_channel_series(chosen->seen[s][i]->channel, "floor");
            if (floor->rows > 0 && coarsest->rows > 0 &&
                lds_series_value(floor, 0, LDS_FLOOR_HIGH_HZ) > lds_series_value(coarsest, 0, LDS_FLOOR_HIGH_HZ))
                coarsest = floor;
        }
    return coarsest;
}

static bool make_room(struct axis *axis, const struct lds_chosen *chosen, size_t bands)
{
    axis->count[0] = chosen->count[0];
    axis->count[1] = chosen->count[1];
    axis->band = calloc(bands + 1, sizeof *axis->band);
    axis->reading = calloc((bands + 1) * (size_t)(axis->count[0] + axis->count[1]), sizeof *axis->reading);
    return axis->band && axis->reading;
}

static bool collect(struct lds_work *work, struct axis *axis)
{
    struct lds_chosen chosen;
    char reason[256];
    const struct lds_key *row = lds_key_find("noise.band");
    bool ok = lds_choose(&axis->part->view, "level.rms", row, &chosen);
    if (ok && !lds_not_comparable(&axis->part->view, &chosen, "level.rms", row, reason)) {
        const struct lds_series *first = coarsest(&chosen);
        bool repeats = isnan(work->scatter.family_db[LDS_FAMILY_NOISE]);
        axis->from_repeats = repeats && chosen.count[0] >= LDS_REPEATS && chosen.count[1] >= LDS_REPEATS;
        axis->u_rep_db = work->scatter.declared_db[LDS_FAMILY_NOISE];
        ok = make_room(axis, &chosen, first->rows);
        for (size_t i = 0; ok && i < first->rows; i++) {
            struct band *band = &axis->band[axis->bands];
            band->reading = axis->reading + axis->bands * (size_t)(axis->count[0] + axis->count[1]);
            band->low_hz = lds_series_value(first, i, LDS_FLOOR_LOW_HZ);
            band->high_hz = lds_series_value(first, i, LDS_FLOOR_HIGH_HZ);
            axis->bands += read_band(&chosen, band);
        }
        ok = ok && test_stretches(axis, lds_matters_of(work->options, row->stem, "dB", row));
    }
    lds_chosen_free(&chosen);
    return ok;
}

/* ---- what is written down ---- */

static bool add_region(struct lds_compared_channel *out, const struct axis *axis, size_t first, size_t last)
{
    struct lds_region *grown = lds_grow(out->region, &out->regions, sizeof *grown);
    if (!grown)
        return false;
    out->region = grown;
    struct lds_delta delta;
    change_of(axis, first, last, &delta);
    struct lds_region *region = &grown[out->regions - 1];
    *region = (struct lds_region){.low_hz = axis->band[first].low_hz,
                                  .high_hz = axis->band[last].high_hz,
                                  .change_db = delta.change,
                                  .low = delta.low,
                                  .high = delta.high,
                                  .p_adjusted = 1.0,
                                  .word = axis->band[first].word};
    for (size_t i = first; i <= last; i++)
        region->p_adjusted = fmin(region->p_adjusted, axis->band[i].p_adjusted);
    return true;
}

static bool goes_on(const struct axis *axis, size_t i)
{
    const struct band *a = &axis->band[i - 1], *b = &axis->band[i];
    return b->called && a->word == b->word && touches(axis, i);
}

static bool write_axis(const struct lds_work *work, const struct axis *axis)
{
    struct lds_compared_channel *out = axis->part->out;
    out->density = calloc(axis->bands + 1, sizeof *out->density);
    if (!out->density)
        return false;
    out->densities = axis->bands;
    for (size_t i = 0; i < axis->bands; i++) {
        struct band *band = &axis->band[i];
        struct lds_delta delta;
        change_of(axis, i, i, &delta);
        band->called = band->p_adjusted < SHARE * work->options->false_alarm;
        out->density[i] = (struct lds_density_change){.frequency_hz = sqrt(band->low_hz * band->high_hz),
                                                      .low_hz = band->low_hz,
                                                      .high_hz = band->high_hz,
                                                      .change_db = delta.change,
                                                      .low = delta.low,
                                                      .high = delta.high,
                                                      .called = band->called};
    }
    for (size_t i = 0, end; i < axis->bands; i = end) {
        end = i + 1;
        if (!axis->band[i].called)
            continue;
        while (end < axis->bands && goes_on(axis, end))
            end++;
        if (!add_region(out, axis, i, end - 1))
            return false;
    }
    return true;
}

static bool adjust(struct axis *axis, size_t count)
{
    size_t bands = 0, at = 0;
    for (size_t c = 0; c < count; c++)
        bands += axis[c].bands;
    double *p = calloc(2 * bands + 1, sizeof *p);
    if (!p)
        return false;
    for (size_t c = 0; c < count; c++)
        for (size_t i = 0; i < axis[c].bands; i++)
            p[at++] = axis[c].band[i].p;
    bool ok = lds_holm(p, p + bands, bands);
    at = bands;
    for (size_t c = 0; ok && c < count; c++)
        for (size_t i = 0; i < axis[c].bands; i++)
            axis[c].band[i].p_adjusted = p[at++];
    free(p);
    return ok;
}

bool lds_axis_find(struct lds_work *work)
{
    size_t count = work->out->channels;
    struct axis *axis = calloc(count + 1, sizeof *axis);
    bool ok = axis != NULL;
    for (size_t c = 0; ok && c < count; c++) {
        axis[c].part = &work->part[c];
        ok = collect(work, &axis[c]);
    }
    ok = ok && adjust(axis, count);
    for (size_t c = 0; ok && c < count; c++)
        ok = write_axis(work, &axis[c]);
    for (size_t c = 0; axis && c < count; c++) {
        free(axis[c].band);
        free(axis[c].reading);
    }
    free(axis);
    return ok;
}
