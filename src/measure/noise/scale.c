/* The noise floor as seen at the load, and how much of a band it covers. */
#include <math.h>
#include <stdio.h>

#include "measure/noise/noise.h"

enum { LEAST_BINS = 3 };             /* a band starts at the third bin of the slowest level or higher */
static const double CLIFF_DB = 15.0; /* drop over CLIFF_BANDS bands that no analogue filter of up to 8 poles reaches */
enum { CLIFF_BANDS = 2, BANDS_MAX = 256 };
enum { PER_DECADE = 24, INDEPENDENT = 8 };
static const double CLIFF_FROM_HZ = 1000.0;

void lds_noise_scale_init(struct lds_noise_scale *scale, const struct lds_bench *bench, const struct lds_floor *floor)
{
    double volts = bench ? lds_bench_volts_per_unit(bench) : NAN;
    bool flat = !bench || (bench->response_points == 0 && !(bench->low_corner_hz > 0.0));
    double end = lds_floor_edge(floor->density, floor->density->levels), u_hz;
    *scale = (struct lds_noise_scale){
        .per_unit = isnan(volts) ? 1.0 : volts,
        .bench = flat ? NULL : bench,
        /* u = a/sqrt(3) for limits +-a when nothing else is known (GUM 4.3.7) */
        .relative_u_b = isnan(volts) ? 0.0 : bench->calibration_percent / 100.0 / sqrt(3.0),
        .end_hz = fmin(end, floor->density->end_hz),
        .edge_hz = lds_noise_edge(floor, &u_hz),
    };
    if (bench && bench->usable_to_hz < scale->end_hz)
        scale->end_hz = bench->usable_to_hz;
}

/* The weight that lds_floor_band uses at a frequency: the figure's own weighting over the chain's power gain. */
struct chain_weight {
    const struct lds_bench *bench;
    double (*weight)(double frequency_hz, const void *context);
};

static double through_chain(double frequency_hz, const void *context)
{
    const struct chain_weight *chain = context;
    double gain = lds_bench_gain(chain->bench, frequency_hz);
    double weight = chain->weight ? chain->weight(frequency_hz, NULL) : 1.0;
    return weight / (gain * gain);
}

void lds_noise_band(const struct lds_floor *floor, const struct lds_noise_scale *scale, double low_hz, double high_hz,
                    unsigned keep, double (*weight)(double frequency_hz, const void *context),
                    struct lds_band_power *band)
{
    struct chain_weight chain = {scale->bench, weight};
    if (scale->bench)
        lds_floor_band(floor, low_hz, high_hz, keep, through_chain, &chain, band);
    else
        lds_floor_band(floor, low_hz, high_hz, keep, weight, NULL, band);
    double factor = scale->per_unit * scale->per_unit;
    band->power *= factor;
    band->variance *= factor * factor;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        band->block[b] *= factor;
        band->block_variance[b] *= factor * factor;
    }
}

bool lds_noise_covered(const struct lds_floor *floor, const struct lds_noise_scale *scale, double low_hz,
                       double high_hz, double covered_hz[2], bool *cut, char reason[160])
{
    const struct lds_level *slowest = &floor->density->level[0];
    double lowest = LEAST_BINS * slowest->bin_hz;
    covered_hz[0] = fmax(low_hz, lowest);
    covered_hz[1] = fmin(high_hz, scale->end_hz);
    *cut = covered_hz[0] > low_hz || covered_hz[1] < high_hz;
    if (covered_hz[1] - covered_hz[0] >= 0.5 * (high_hz - low_hz))
        return true;
    const char *whose = scale->end_hz < floor->density->end_hz * 0.999 ? "the bench is usable" : "the capture reaches";
    if (covered_hz[1] < high_hz)
        snprintf(reason, 160, "less than half of the band is covered: %s to %.6g Hz", whose, scale->end_hz);
    else
        snprintf(reason, 160, "less than half of the band is covered: frames of %.3g s begin at %.3g Hz, record longer",
                 slowest->n / slowest->rate_hz, lowest);
    return false;
}

bool lds_noise_next_band(const struct lds_density *density, double end_hz, struct lds_band *band)
{
    double from = band->high_hz;
    const struct lds_level *level = lds_density_level(density, from);
    double width = from * (pow(10.0, 1.0 / PER_DECADE) - 1.0);
    if (level->band_dof > 0.0) /* the degrees of freedom of a bin are those of a band this wide */
        width = fmax(width, INDEPENDENT * level->bin_dof / level->band_dof);
    *band = (struct lds_band){from, from + width <= end_hz ? from + width : end_hz};
    return band->high_hz - from >= 0.5 * width;
}

double lds_noise_mean_floor(const struct lds_floor *floor, const struct lds_bench *bench, const struct lds_band *band)
{
    double sum = 0.0, width = 0.0;
    for (int i = 0; i < floor->density->levels; i++) {
        const struct lds_level *level = &floor->density->level[i];
        double low = fmax(band->low_hz, lds_floor_edge(floor->density, i));
        double high = fmin(band->high_hz, lds_floor_edge(floor->density, i + 1));
        for (int k = (int)ceil(low / level->bin_hz); k < level->last && k * level->bin_hz < high; k++) {
            if (isnan(floor->reference[i][k]))
                continue;
            double gain = bench ? lds_bench_gain(bench, k * level->bin_hz) : 1.0;
            sum += floor->reference[i][k] / (gain * gain) * level->bin_hz;
            width += level->bin_hz;
        }
    }
    return width > 0.0 ? sum / width : NAN;
}

/* First bin from low_hz on where the floor is half of the density before the drop. */
static double half_power_hz(const struct lds_floor *floor, double low_hz, double before_db, double *u_hz)
{
    double half = 0.5 * pow(10.0, before_db / 10.0);
    for (int i = 0; i < floor->density->levels; i++) {
        const struct lds_level *level = &floor->density->level[i];
        int from = (int)fmax(ceil(low_hz / level->bin_hz), level->first);
        for (int k = from; k < level->last && k <= level->n / 2; k++) {
            if (floor->reference[i][k] > half || isnan(floor->reference[i][k]))
                continue;
            *u_hz = 4.0 * level->bin_hz; /* half the distance between the floor's nodes */
            return k * level->bin_hz;
        }
    }
    return low_hz;
}

double lds_noise_edge(const struct lds_floor *floor, double *u_hz)
{
    double end = fmin(lds_floor_edge(floor->density, floor->density->levels), floor->density->end_hz);
    double low[BANDS_MAX], level_db[BANDS_MAX];
    int bands = 0;
    *u_hz = 0.0;
    struct lds_band band = {.high_hz = CLIFF_FROM_HZ};
    while (bands < BANDS_MAX && lds_noise_next_band(floor->density, end, &band)) {
        low[bands] = band.low_hz;
        /* -400 dB for silence */
        level_db[bands++] = 10.0 * log10(fmax(lds_noise_mean_floor(floor, NULL, &band), 1e-40));
    }
    double highest_after = -INFINITY, edge = end;
    /* From the top down: everything above band i + CLIFF_BANDS is CLIFF_DB below band i. */
    for (int i = bands - 1 - CLIFF_BANDS; i >= 0; i--) {
        highest_after = fmax(highest_after, level_db[i + CLIFF_BANDS]);
        if (level_db[i] > -390.0 && level_db[i] - highest_after >= CLIFF_DB)
            edge = half_power_hz(floor, low[i], level_db[i], u_hz);
    }
    return edge;
}
