#include "measure/spurs/lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "measure/noise/fill.h"
#include "measure/noise/reference.h"
#include "measure/statistics/interval.h"
#include "spectrum/window.h"

/* A suspected line is accepted when its highest bin exceeds what noise alone would reach once in this many times. */
static const double SUSPECT_FALSE_ALARM = 1e-3;
/* A bin is taken where the line's share exceeds this part of the floor. */
static const double LINE_SHARE = 0.1;
/* Times the floor: next to a line's bins, power belongs to the line as long as it falls away from them and is above
 * this. */
static const double SKIRT = 10.0;
/* Of a line's power that must be visible to estimate its level. */
static const double LEAST_SHARE = 0.5;

enum { HALF_STEPS = 2 * LDS_LOBE_BINS };

struct marker {
    struct lds_floor *floor;
    double lobe[HALF_STEPS + 1]; /* |W|^2 at every half bin */
};

bool lds_lines_add(struct lds_lines *lines, const struct lds_known_line *line)
{
    struct lds_known_line *at = lds_grow(&lines->line, &lines->count, sizeof *at);
    if (!at)
        return false;
    for (; at > lines->line && at[-1].frequency_hz > line->frequency_hz; at--)
        at[0] = at[-1];
    *at = *line;
    return true;
}

static int clamp_bin(const struct lds_level *level, double bin)
{
    int lowest = level->first > 2 ? level->first : 2; /* the reference starts there */
    int highest = level->last - 1 < level->n / 2 - 1 ? level->last - 1 : level->n / 2 - 1;
    int at = (int)lround(fmin(fmax(bin, lowest), highest));
    return at < 0 ? 0 : at;
}

static int lowest_bin(double from)
{
    return (int)fmax(ceil(from), 0.0);
}

static int highest_bin(const struct lds_level *level, double to)
{
    return (int)fmin(floor(to), level->n / 2);
}

double lds_floor_line_power(const struct lds_floor *floor, double frequency_hz, double spread_hz,
                            const unsigned char *barred)
{
    const struct lds_level *level = lds_density_level(floor->density, frequency_hz);
    const double *reference = floor->reference[level - floor->density->level];
    double centre = frequency_hz / level->bin_hz, reach = spread_hz / level->bin_hz + 4.0;
    int from = lowest_bin(centre - reach), to = highest_bin(level, centre + reach);
    double sum = 0.0, share = 0.0;
    for (int k = from; k <= to; k++) {
        if (barred && barred[k])
            continue;
        double w = lds_window_transform(&lds_window_analysis, k - centre);
        sum += level->power[k] - reference[clamp_bin(level, k)];
        share += w * w;
    }
    if (barred && share < LEAST_SHARE * level->enbw_bins)
        return NAN;
    /* By Parseval the squares of the transform at whole bins add up to the noise bandwidth; a line that wanders spreads
     * its power over the bins used and loses nothing. */
    return spread_hz > 0.5 * level->bin_hz ? sum * level->bin_hz : sum * level->bin_hz * level->enbw_bins / share;
}

/* Least squares of P1 W1^2 + P2 W2^2 over the bins of both lobes; the beat between the two averages out over frames. */
double lds_floor_line_power_beside(const struct lds_floor *floor, double frequency_hz, double other_hz, bool *fits)
{
    const struct lds_level *level = lds_density_level(floor->density, frequency_hz);
    const double *reference = floor->reference[level - floor->density->level];
    double one = frequency_hz / level->bin_hz, two = other_hz / level->bin_hz;
    *fits = fabs(one - two) >= 2.0;
    if (!*fits)
        return NAN;
    double a11 = 0.0, a12 = 0.0, a22 = 0.0, b1 = 0.0, b2 = 0.0;
    int from = lowest_bin(fmin(one, two) - 4.0), to = highest_bin(level, fmax(one, two) + 4.0);
    for (int k = from; k <= to; k++) {
        double w1 = pow(lds_window_transform(&lds_window_analysis, k - one), 2.0);
        double w2 = pow(lds_window_transform(&lds_window_analysis, k - two), 2.0);
        double p = level->power[k] - reference[clamp_bin(level, k)];
        a11 += w1 * w1;
        a12 += w1 * w2;
        a22 += w2 * w2;
        b1 += w1 * p;
        b2 += w2 * p;
    }
    return (b1 * a22 - b2 * a12) / (a11 * a22 - a12 * a12) * level->enbw_bins * level->bin_hz;
}

/* Half-width in bins of a line whose top is `ratio` times the floor. */
static double half_width(const struct marker *marker, double ratio)
{
    if (!(ratio >= LINE_SHARE))
        return -1.0;
    int step = 0;
    while (step < HALF_STEPS && marker->lobe[step] * ratio >= LINE_SHARE)
        step++;
    return 0.5 * step;
}

/* The comb may miss the centre of a mains order or its power, and another line may be in a line's lobe. So wherever the
 * power falls from the line's bins and is far above the floor, it is counted as theirs. The same holds at a stretch
 * that is taken whole (infinite power). */
static void follow_skirts(const struct lds_floor *floor, int i, int range[2])
{
    const struct lds_level *level = &floor->density->level[i];
    int first = range[0] - LDS_LOBE_BINS, last = range[1] + LDS_LOBE_BINS;
    double high = SKIRT * floor->reference[i][clamp_bin(level, 0.5 * (range[0] + range[1]))];
    while (range[0] > first && range[0] > 1 && level->power[range[0] - 1] > high &&
           level->power[range[0] - 1] < level->power[range[0]])
        range[0]--;
    while (range[1] < last && range[1] < level->n / 2 && level->power[range[1] + 1] > high &&
           level->power[range[1] + 1] < level->power[range[1]])
        range[1]++;
}

/* Marks the line's bins on level i; [from, to] is empty where the line is elsewhere or below the floor. */
static void mark(const struct marker *marker, int i, const struct lds_known_line *line, unsigned char as, int range[2])
{
    range[0] = 0;
    range[1] = -1;
    const struct lds_level *level = &marker->floor->density->level[i];
    double centre = line->frequency_hz / level->bin_hz;
    if (centre < level->first - LDS_REFERENCE_MARGIN - LDS_LOBE_BINS || centre > level->last + LDS_LOBE_BINS)
        return;
    int near = clamp_bin(level, as == LDS_TAKEN_MEAN ? LDS_LOBE_BINS + 1 : centre);
    double top = line->power / (level->enbw_bins * level->bin_hz);
    double half = half_width(marker, top / marker->floor->reference[i][near]);
    if (half < 0.0)
        return;
    half += line->spread_hz / level->bin_hz;
    range[0] = lowest_bin(centre - half);
    range[1] = highest_bin(level, centre + half);
    if (as != LDS_TAKEN_MEAN && (line->kind != LDS_LINE_TONE || isinf(line->power)))
        follow_skirts(marker->floor, i, range);
    for (int k = range[0]; k <= range[1]; k++) {
        unsigned char *taken = &marker->floor->taken[i][k];
        if (*taken == 0 || *taken > as)
            *taken = as;
    }
}

/* Does anything stand out where the line is suspected? */
static bool stands_out(const struct lds_floor *floor, const struct lds_known_line *line)
{
    const struct lds_level *level = lds_density_level(floor->density, line->frequency_hz);
    double reference =
        floor->reference[level - floor->density->level][clamp_bin(level, line->frequency_hz / level->bin_hz)];
    double centre = line->frequency_hz / level->bin_hz, reach = line->spread_hz / level->bin_hz + 0.5;
    int from = lowest_bin(centre - reach), to = highest_bin(level, centre + reach);
    double highest = 0.0;
    for (int k = from; k <= to; k++)
        highest = fmax(highest, level->power[k]);
    double once = SUSPECT_FALSE_ALARM / (to - from + 1);
    return highest > reference * lds_chi_square_quantile(1.0 - once, level->bin_dof);
}

static void mark_mean(const struct marker *marker)
{
    const struct lds_density *density = marker->floor->density;
    for (int i = 0; i < density->levels; i++) {
        const struct lds_level *level = &density->level[i];
        struct lds_known_line mean = {.power = level->power[0] * level->enbw_bins * level->bin_hz};
        int range[2];
        mark(marker, i, &mean, LDS_TAKEN_MEAN, range);
    }
}

static int clamp(int x, int low, int high)
{
    return x < low ? low : x > high ? high : x;
}

/* Bins that two lines claim go to the nearer one; of a weak line in the lobe of a strong one, the bins beyond the weak
 * line go to it. */
static void share(const struct lds_level *level, struct lds_floor_line *lower, struct lds_floor_line *upper, int lowest)
{
    if (lower->to < upper->from)
        return;
    int middle = highest_bin(level, 0.5 * (lower->frequency_hz + upper->frequency_hz) / level->bin_hz);
    int border = clamp(middle, upper->from - 1, lower->to);
    if (upper->from < lower->from)
        lower->from = upper->from > lowest ? upper->from : lowest;
    if (lower->to > upper->to)
        upper->to = lower->to;
    lower->to = border;
    upper->from = border + 1;
}

static void believe(struct lds_floor *floor, const struct lds_known_line *line, int level, const int range[2])
{
    struct lds_floor_line *now = &floor->line[floor->lines++];
    *now = (struct lds_floor_line){line->kind, line->frequency_hz, line->power, level, range[0], range[1]};
    if (floor->lines < 2 || now[-1].level != level)
        return;
    bool third = floor->lines > 2 && now[-2].level == level;
    share(&floor->density->level[level], &now[-1], now, third ? now[-2].to + 1 : 0);
}

static void mark_all(const struct marker *marker, const struct lds_lines *known)
{
    const struct lds_density *density = marker->floor->density;
    marker->floor->lines = 0;
    for (int i = 0; i < density->levels; i++)
        memset(marker->floor->taken[i], 0, (size_t)density->level[i].n / 2 + 1);
    mark_mean(marker);
    for (size_t l = 0; known && l < known->count; l++) {
        struct lds_known_line line = known->line[l];
        if (!(line.frequency_hz > 0.0))
            continue;
        if (isnan(line.power)) {
            if (line.frequency_hz > density->end_hz || !stands_out(marker->floor, &line))
                continue;
            line.power = fmax(lds_floor_line_power(marker->floor, line.frequency_hz, line.spread_hz, NULL), 0.0);
        }
        int home = (int)(lds_density_level(density, line.frequency_hz) - density->level);
        for (int i = 0; i < density->levels; i++) {
            int range[2];
            mark(marker, i, &line, (unsigned char)(1 + line.kind), range);
            if (i == home && range[0] <= range[1])
                believe(marker->floor, &line, i, range);
        }
    }
}

static bool make_arrays(struct lds_floor *floor, const struct lds_density *density)
{
    memset(floor, 0, sizeof *floor);
    floor->density = density;
    bool made = true;
    for (int i = 0; i < density->levels; i++) {
        size_t bins = (size_t)density->level[i].n / 2 + 1;
        floor->reference[i] = malloc(bins * sizeof(double));
        floor->filled[i] = malloc(bins * sizeof(double));
        floor->taken[i] = calloc(bins, 1);
        made = made && lds_reference_past_make(&floor->past[i], &density->level[i]) && floor->reference[i] &&
               floor->filled[i] && floor->taken[i];
    }
    return made;
}

/* How wide a line is depends on its height above the floor, and the floor depends on the lines: a rough floor that
 * includes everything gives a first width, and two better floors the final one. */
bool lds_floor_find_again(struct lds_floor *floor, const struct lds_lines *known)
{
    const struct lds_density *density = floor->density;
    struct lds_floor_line *line = realloc(floor->line, ((known ? known->count : 0) + 1) * sizeof *line);
    if (!line)
        return false;
    floor->line = line;
    struct marker marker = {.floor = floor};
    for (int step = 0; step <= HALF_STEPS; step++)
        marker.lobe[step] = pow(lds_window_transform(&lds_window_analysis, 0.5 * step), 2.0);
    for (int i = 0; i < density->levels; i++)
        lds_reference_rough(&floor->past[i], &density->level[i], floor->reference[i]);
    for (int round = 0; round < 2; round++) {
        mark_all(&marker, known);
        for (int i = 0; i < density->levels; i++)
            lds_reference_find(&floor->past[i], &density->level[i], floor->taken[i], floor->reference[i]);
    }
    return lds_floor_fill(floor);
}

bool lds_floor_find(struct lds_floor *floor, const struct lds_density *density, const struct lds_lines *known)
{
    return make_arrays(floor, density) && lds_floor_find_again(floor, known);
}

void lds_floor_free(struct lds_floor *floor)
{
    for (int i = 0; i < LDS_LEVELS_MAX; i++) {
        free(floor->reference[i]);
        free(floor->filled[i]);
        free(floor->taken[i]);
        free(floor->gap[i]);
        lds_reference_past_free(&floor->past[i]);
    }
    free(floor->line);
    memset(floor, 0, sizeof *floor);
}
