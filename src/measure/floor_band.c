/* Bands and local densities of the composite spectrum. */
#include <math.h>
#include <string.h>

#include "measure/lines.h"

/* One band's integration as it goes over the bins. */
struct integral {
    const struct lds_floor *floor;
    unsigned keep;
    double (*weight)(double frequency_hz, const void *context);
    const void *context;
    double low_hz, high_hz;
    struct lds_band_power *band;
};

/* One bin's share of the band. */
struct cell {
    int bin;
    double middle_hz, width_hz;
    double weight;             /* power gain x width */
    const struct lds_gap *gap; /* not NULL: filled */
    bool line;                 /* a line that stays in */
};

double lds_floor_edge(const struct lds_density *density, int i)
{
    if (i >= density->levels) {
        const struct lds_level *top = &density->level[density->levels - 1];
        return (top->last - 0.5) * top->bin_hz;
    }
    return fmax((density->level[i].first - 0.5) * density->level[i].bin_hz, 0.0);
}

/* S^ of a bin scatters with 2 S^2/nu, so that the mean of S^2 is that of S^ squared over 1 + 2/nu. A line that stays in
 * is no noise, but beats with it: F^2 + 2 F (S - F) in place of S^2, F the floor beneath. */
static double squared(const struct lds_level *level, const struct cell *cell, double power, double filled)
{
    if (cell->gap)
        return filled * filled * cell->gap->spread;
    if (cell->line)
        return fmax(2.0 * filled * power - filled * filled, filled * filled);
    return power * power / (1.0 + 2.0 / level->bin_dof);
}

static void add_cell(const struct integral *integral, int i, const struct cell *cell)
{
    const struct lds_level *level = &integral->floor->density->level[i];
    struct lds_band_power *band = integral->band;
    double power = level->power[cell->bin], filled = integral->floor->filled[i][cell->bin];
    band->power += cell->weight * (cell->gap ? filled : power);
    if (cell->gap)
        band->removed_hz += cell->width_hz;
    if (cell->width_hz > 0.0 && level->band_dof > 0.0)
        band->variance += 2.0 / level->band_dof * squared(level, cell, power, filled) * cell->weight *
                          (cell->weight / cell->width_hz);
    for (int b = 0; b < LDS_BLOCKS; b++) {
        if (level->block_frames[b] < 1)
            band->block[b] = NAN;
        else
            band->block[b] += cell->weight * (cell->gap ? filled * cell->gap->block[b] : level->block[b][cell->bin]);
    }
}

/* The last cell of a level reaches up to where the next level begins. */
static void add_level(const struct integral *integral, int i)
{
    const struct lds_density *density = integral->floor->density;
    const struct lds_level *level = &density->level[i];
    double low = fmax(lds_floor_edge(density, i), integral->low_hz);
    double top = lds_floor_edge(density, i + 1), high = fmin(top, integral->high_hz);
    int last = level->last <= level->n / 2 ? level->last : level->n / 2 + 1;
    int from = (int)fmax(floor(low / level->bin_hz + 0.5), level->first);
    const struct lds_gap *gap = integral->floor->gap[i], *end = gap + integral->floor->gaps[i];
    for (int k = from; k < last && low < high; k++) {
        double upper = fmin(k == last - 1 ? top : (k + 0.5) * level->bin_hz, high);
        double lower = fmax((k - 0.5) * level->bin_hz, low);
        if (upper <= lower) {
            if (lower >= high)
                break;
            continue;
        }
        struct cell cell = {.bin = k, .middle_hz = 0.5 * (upper + lower), .width_hz = upper - lower};
        cell.weight = cell.width_hz * (integral->weight ? integral->weight(cell.middle_hz, integral->context) : 1.0);
        unsigned taken = integral->floor->taken[i][k];
        if (taken && (integral->keep & 1u << (taken - 1))) {
            cell.line = true;
        } else if (taken) {
            while (gap < end && gap->last < k)
                gap++;
            cell.gap = gap < end ? gap : NULL;
        }
        add_cell(integral, i, &cell);
    }
}

/* A band narrower than the window's own bandwidth still has a bin's degrees of freedom. */
static void finish(const struct integral *integral)
{
    struct lds_band_power *band = integral->band;
    const struct lds_level *level = lds_density_level(integral->floor->density, integral->low_hz);
    if (level->bin_dof > 0.0)
        band->variance = fmin(band->variance, 2.0 * band->power * band->power / level->bin_dof);
    band->dof = band->variance > 0.0 ? 2.0 * band->power * band->power / band->variance : 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++)
        band->blocks += isfinite(band->block[b]);
}

void lds_floor_band(const struct lds_floor *floor, double low_hz, double high_hz, unsigned keep,
                    double (*weight)(double frequency_hz, const void *context), const void *context,
                    struct lds_band_power *band)
{
    memset(band, 0, sizeof *band);
    struct integral integral = {floor, keep, weight, context, low_hz, high_hz, band};
    for (int i = 0; i < floor->density->levels; i++)
        add_level(&integral, i);
    finish(&integral);
}

double lds_floor_density(const struct lds_floor *floor, double frequency_hz, double span_hz, double *dof)
{
    double low = fmax(frequency_hz - span_hz, 0.0);
    double high = fmin(frequency_hz + span_hz, lds_floor_edge(floor->density, floor->density->levels));
    if (high <= low) {
        low = fmax(high - span_hz, 0.0); /* above the end: the end's */
    }
    struct lds_band_power band;
    lds_floor_band(floor, low, high, 0, NULL, NULL, &band);
    if (dof)
        *dof = band.dof;
    return high > low ? band.power / (high - low) : NAN;
}
