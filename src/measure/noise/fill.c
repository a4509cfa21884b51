#include "measure/noise/fill.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SIDE = 16, /* free bins on each side that a gap is filled from */
    FAR = 1024 /* bins to search for them */
};
static const double STEEPEST = -3.0; /* steepest exponent of f with which a gap at the low end is continued */

/* The free bins on one side of a gap. */
struct side {
    int bins;
    double frequency_hz, power; /* means over the bins */
    double block[LDS_BLOCKS];
};

/* A position in the composite spectrum, which changes from level to level. */
struct place {
    int level, bin;
};

static bool step(const struct lds_density *density, struct place *place, int direction)
{
    place->bin += direction;
    if (place->bin < density->level[place->level].first || place->bin < 0) {
        if (--place->level < 0)
            return false;
        place->bin = density->level[place->level].last - 1;
    } else if (place->bin >= density->level[place->level].last) {
        if (++place->level >= density->levels)
            return false;
        place->bin = density->level[place->level].first;
    }
    return true;
}

/* Moves on by up to SIDE bins without lines. */
static void look_aside(const struct lds_floor *floor, struct place *place, int direction, struct side *side)
{
    const struct lds_density *density = floor->density;
    memset(side, 0, sizeof *side);
    for (int i = 0; i < FAR && side->bins < SIDE && step(density, place, direction); i++) {
        const struct lds_level *level = &density->level[place->level];
        if (floor->taken[place->level][place->bin] || place->bin == 0)
            continue;
        side->bins++;
        side->frequency_hz += place->bin * level->bin_hz;
        side->power += level->power[place->bin];
        for (int b = 0; b < LDS_BLOCKS; b++)
            side->block[b] += level->block_frames[b] > 0 ? level->block[b][place->bin] : NAN;
    }
    if (side->bins == 0)
        return;
    side->frequency_hz /= side->bins;
    side->power /= side->bins;
    for (int b = 0; b < LDS_BLOCKS; b++)
        side->block[b] /= side->bins;
}

static double slope_between(const struct side *low, const struct side *high)
{
    if (!(low->power > 0.0) || !(high->power > 0.0))
        return 0.0;
    return log(high->power / low->power) / log(high->frequency_hz / low->frequency_hz);
}

static void fill_bins(const struct lds_floor *floor, int i, const struct lds_gap *gap, const struct side *from,
                      double slope)
{
    double bin_hz = floor->density->level[i].bin_hz;
    for (int k = gap->first; k <= gap->last; k++) {
        double at = fmax(k, 0.5) * bin_hz;
        floor->filled[i][k] = from->bins ? from->power * pow(at / from->frequency_hz, slope) : 0.0;
    }
}

/* Between two sides the density is straight in log-log. With one side only: at the low end it continues with the slope
 * found there, limited to between white and f^STEEPEST; at the high end it stays level. */
static void fill_gap(const struct lds_floor *floor, int i, struct lds_gap *gap)
{
    struct place down = {i, gap->first}, up = {i, gap->last};
    struct side left, right;
    look_aside(floor, &down, -1, &left);
    look_aside(floor, &up, 1, &right);
    if (left.bins && right.bins) {
        fill_bins(floor, i, gap, &left, slope_between(&left, &right));
    } else if (right.bins) {
        struct side farther;
        look_aside(floor, &up, 1, &farther);
        double slope = farther.bins ? slope_between(&right, &farther) : 0.0;
        fill_bins(floor, i, gap, &right, fmin(fmax(slope, STEEPEST), 0.0));
    } else {
        fill_bins(floor, i, gap, &left, 0.0);
    }
    /* m free bins stand for a gap of g bins besides themselves: each then weighs 1 + g/m, and the variance of the band
     * grows by m (1 + g/m)^2 - m = g (2 + g/m) bins. */
    double sides = left.bins + right.bins;
    gap->spread = sides > 0.0 ? 2.0 + (gap->last - gap->first + 1) / sides : 2.0;
    for (int b = 0; b < LDS_BLOCKS; b++)
        gap->block[b] = (left.bins * left.block[b] + right.bins * right.block[b]) /
                        (left.bins * left.power + right.bins * right.power);
}

static int gaps_of(const unsigned char *taken, int from, int to, struct lds_gap *gap)
{
    int count = 0;
    for (int k = from; k < to; k++) {
        if (!taken[k])
            continue;
        int first = k;
        while (k + 1 < to && taken[k + 1])
            k++;
        if (gap)
            gap[count] = (struct lds_gap){.first = first, .last = k};
        count++;
    }
    return count;
}

bool lds_floor_fill(struct lds_floor *floor)
{
    for (int i = 0; i < floor->density->levels; i++) {
        const struct lds_level *level = &floor->density->level[i];
        size_t bins = (size_t)level->n / 2 + 1;
        memcpy(floor->filled[i], level->power, bins * sizeof(double));
        int last = level->last < (int)bins ? level->last : (int)bins;
        free(floor->gap[i]);
        floor->gap[i] = NULL;
        floor->gaps[i] = gaps_of(floor->taken[i], level->first, last, NULL);
        if (floor->gaps[i] == 0)
            continue;
        floor->gap[i] = malloc((size_t)floor->gaps[i] * sizeof *floor->gap[i]);
        if (!floor->gap[i])
            return false;
        gaps_of(floor->taken[i], level->first, last, floor->gap[i]);
        for (int g = 0; g < floor->gaps[i]; g++)
            fill_gap(floor, i, &floor->gap[i][g]);
    }
    return true;
}
