/* The noise density along the frequency axis: where it rose or fell. */
#include <math.h>
#include <stdlib.h>

#include "compare/floor_over.h"
#include "compare/statistics.h"
#include "compare/work.h"
#include "constants.h"
#include "grow.h"
#include "measure/interval.h"

static const double EDGE_SAME = 1e-6; /* relative */
static const double SHARE = 0.5;      /* of the false alarms allowed: the bands' degrees of freedom are known to some
                                       * percent only, and there are as many tests as bands */

/* One band of one channel's axis, both sides pooled over their captures. */
struct band {
    double low_hz, high_hz;
    struct lds_pooled side[2]; /* dB re 1 V^2/Hz or full scale */
    double nu[2];              /* chi-square degrees of freedom, re-cabling taken in */
    double p, p_adjusted;
};

struct axis {
    struct lds_part *part;
    struct band *band;
    size_t bands;
};

/* var ln P of a chi-square power is 2/nu to first order. A scatter of u dB between captures adds (u ln 10/10)^2 to that
 * of each, so that a power which scatters so is like one of fewer degrees of freedom. */
static bool pool_band(const struct lds_chosen *chosen, int side, const struct lds_floor_band *wanted, double u_rep_db,
                      struct band *band, struct lds_reading *reading)
{
    double between = u_rep_db * M_LN10 / 10.0, variance = 0.0;
    int count = chosen->count[side];
    for (int i = 0; i < count; i++) {
        struct lds_floor_band found;
        if (!lds_floor_over(chosen->seen[side][i]->channel, wanted->low_hz, wanted->high_hz, &found))
            return false;
        reading[i] = (struct lds_reading){.value = 20.0 * log10(found.mean), .limit = NAN, .dof = found.dof};
        reading[i].u = 10.0 / M_LN10 * sqrt(2.0 / found.dof);
        reading[i].below = 10.0 * log10(lds_chi_square_quantile(0.975, found.dof));
        reading[i].above = -10.0 * log10(lds_chi_square_quantile(0.025, found.dof));
        variance += (2.0 / found.dof + between * between) / (count * count);
    }
    lds_pool(reading, count, &band->side[side]);
    band->nu[side] = 2.0 / variance;
    return true;
}

static void test_band(struct band *band, bool from_repeats)
{
    if (from_repeats) {
        struct lds_delta delta;
        lds_delta_find(&band->side[0], &band->side[1], (struct lds_delta_way){.from_repeats = true}, &delta);
        band->p = delta.p;
        return;
    }
    double ratio = pow(10.0, (band->side[1].mean.value - band->side[0].mean.value) / 10.0);
    band->p = lds_variance_ratio_p(ratio, band->nu[1], band->nu[0]);
}

/* The capture whose bands are widest: those of shorter captures, which others can be brought to. */
static const struct lds_channel *coarsest(const struct lds_chosen *chosen)
{
    const struct lds_channel *coarsest = chosen->seen[0][0]->channel;
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < chosen->count[s]; i++) {
            const struct lds_channel *channel = chosen->seen[s][i]->channel;
            if (channel->floor_bands > 0 && coarsest->floor_bands > 0 &&
                channel->floor[0].high_hz > coarsest->floor[0].high_hz)
                coarsest = channel;
        }
    return coarsest;
}

static bool collect(struct lds_work *work, struct axis *axis)
{
    struct lds_chosen chosen;
    char reason[256];
    const struct lds_key *row = lds_key_find("noise.band");
    bool repeats = isnan(work->scatter.family_db[LDS_FAMILY_NOISE]);
    bool ok = lds_choose(&axis->part->view, "level.rms", row, &chosen);
    if (ok && !lds_not_comparable(&axis->part->view, &chosen, "level.rms", row, reason)) {
        const struct lds_channel *first = coarsest(&chosen);
        int most = chosen.count[0] > chosen.count[1] ? chosen.count[0] : chosen.count[1];
        struct lds_reading *reading = calloc((size_t)most, sizeof *reading);
        axis->band = calloc(first->floor_bands + 1, sizeof *axis->band);
        ok = reading && axis->band;
        repeats = repeats && chosen.count[0] > 2 && chosen.count[1] > 2;
        for (size_t i = 0; ok && i < first->floor_bands; i++) {
            struct band *band = &axis->band[axis->bands];
            double u_rep = work->scatter.declared_db[LDS_FAMILY_NOISE];
            if (!pool_band(&chosen, 0, &first->floor[i], u_rep, band, reading) ||
                !pool_band(&chosen, 1, &first->floor[i], u_rep, band, reading))
                continue;
            band->low_hz = first->floor[i].low_hz;
            band->high_hz = first->floor[i].high_hz;
            test_band(band, repeats);
            axis->bands++;
        }
        free(reading);
    }
    lds_chosen_free(&chosen);
    return ok;
}

/* ---- what is written down ---- */

/* Change of some neighbouring bands together: the mean over them, weighted by what they know; what re-cabling does is
 * common to them. */
static void joined(const struct band *band, size_t count, double u_rep_db, bool from_repeats, double result[3])
{
    double weight = 0.0, sum = 0.0, half = 0.0, common = 0.0;
    for (size_t i = 0; i < count; i++) {
        struct lds_delta delta;
        struct lds_delta_way way = {.from_repeats = from_repeats};
        lds_delta_find(&band[i].side[0], &band[i].side[1], way, &delta);
        double w = 1.0 / (delta.u * delta.u), reach = 0.5 * (delta.high - delta.low);
        weight += w;
        sum += w * delta.change;
        half += w * w * reach * reach;
        common += w * reach;
    }
    double own = from_repeats ? common / weight : sqrt(half) / weight; /* between repeats, bands move together */
    double captures = 1.0 / band->side[0].count + 1.0 / band->side[1].count;
    double reach = from_repeats ? own : hypot(own, LDS_COVERAGE * u_rep_db * sqrt(captures));
    result[0] = sum / weight;
    result[1] = result[0] - reach;
    result[2] = result[0] + reach;
}

static bool add_region(struct lds_compared_channel *out, const struct band *band, size_t count, double u_rep_db,
                       bool repeats)
{
    struct lds_region *grown = lds_grow(out->region, &out->regions, sizeof *grown);
    if (!grown)
        return false;
    out->region = grown;
    struct lds_region *region = &grown[out->regions - 1];
    double change[3];
    joined(band, count, u_rep_db, repeats, change);
    region->low_hz = band[0].low_hz;
    region->high_hz = band[count - 1].high_hz;
    region->change_db = change[0];
    region->low = change[1];
    region->high = change[2];
    region->p_adjusted = 1.0;
    for (size_t i = 0; i < count; i++)
        region->p_adjusted = fmin(region->p_adjusted, band[i].p_adjusted);
    return true;
}

static bool same_direction(const struct lds_density_change *a, const struct lds_density_change *b)
{
    return a->called && b->called && (a->change_db > 0.0) == (b->change_db > 0.0) &&
           fabs(a->high_hz - b->low_hz) <= EDGE_SAME * b->low_hz;
}

static bool write_axis(const struct lds_work *work, const struct axis *axis)
{
    struct lds_compared_channel *out = axis->part->out;
    const struct lds_key *row = lds_key_find("noise.band");
    double matters = lds_matters_of(work->options, row->stem, "dB", row);
    double u_rep = work->scatter.declared_db[LDS_FAMILY_NOISE];
    out->density = calloc(axis->bands + 1, sizeof *out->density);
    if (!out->density)
        return false;
    out->densities = axis->bands;
    bool repeats = isnan(work->scatter.family_db[LDS_FAMILY_NOISE]);
    for (size_t i = 0; i < axis->bands; i++) {
        const struct band *band = &axis->band[i];
        double change[3];
        joined(band, 1, u_rep, repeats && band->side[0].count > 2 && band->side[1].count > 2, change);
        out->density[i] = (struct lds_density_change){.frequency_hz = sqrt(band->low_hz * band->high_hz),
                                                      .low_hz = band->low_hz,
                                                      .high_hz = band->high_hz,
                                                      .change_db = change[0],
                                                      .low = change[1],
                                                      .high = change[2]};
        out->density[i].called = band->p_adjusted < SHARE * work->options->false_alarm && fabs(change[0]) > matters;
    }
    for (size_t i = 0, end; i < axis->bands; i = end) {
        end = i + 1;
        if (!out->density[i].called)
            continue;
        while (end < axis->bands && same_direction(&out->density[end - 1], &out->density[end]))
            end++;
        if (!add_region(out, &axis->band[i], end - i, u_rep, repeats))
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
    for (size_t c = 0; axis && c < count; c++)
        free(axis[c].band);
    free(axis);
    return ok;
}
