#include "measure/spurs/spurs.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "measure/noise/reference.h"
#include "measure/statistics/interval.h"
#include "record/series.h"
#include "spectrum/tail.h"
#include "spectrum/window.h"

const double LDS_SPURS_FALSE_ALARM = 1e-3;

enum { LOBE = LDS_LOBE_BINS, LOWEST_BIN = 8, SIDE_FEW = 3, CANDIDATES_MAX = 4096 };
static const double LOWEST_HZ = 10.0;
/* Every bin counts as a separate test, though neighbours are correlated; the floor's error is not quite normal, and the
 * floor bends. In simulation the false alarms come to 0.7 of the stated probability without this reserve; with it they
 * stay well below on any shape. */
static const double RESERVE = 3.0;
static const double FREQUENCY_BINS = 0.15; /* how precisely interpolation gives a frequency */
static const double STEEPEST = 30.0;       /* most by which a floor may rise from beside a peak to beneath it */
static const double SHAPE_SHARE = 0.05;    /* of a peak's height, by which its two sides may still be falling */

/* What makes a line plain: how far its top is above the floor, and how far it falls within this many bins, or how close
 * to the floor. */
enum { PLAIN_BINS = 5 };
static const double PLAIN_TOP = 30.0, PLAIN_FLOOR = 3.0, FAR_OUT = 1000.0;
/* Another line begins where the power is this many times the lobe of a line, or the lowest bin since its top, if it is
 * at least this many bins away. */
static const double ANOTHER = 10.0, NEAREST = 3.0;
static const double SHAPE_RATIO = 1.26; /* 1 dB */

/* Bins beside a peak, counted from it: outside the lobe of a line. */
struct reach {
    int from, to;
};
static const struct reach NEAR = {LOBE + 1, LOBE + 5};
static const struct reach AWAY = {LOBE + 10, LOBE + 17};
static const struct reach FLANK = {LOBE + 1, LOBE + 17};

struct candidate {
    int level, bin;
    double ratio;
};

struct search {
    const struct lds_floor *floor;
    const struct lds_spur_request *request;
    double once; /* for one bin */
    struct lds_tail tail[LDS_LEVELS_MAX];
    double typical_sd[LDS_LEVELS_MAX];
    double threshold[LDS_LEVELS_MAX];       /* for that false alarm */
    unsigned char *claimed[LDS_LEVELS_MAX]; /* taken by known lines or spurs found so far */
    unsigned char *lobe[LDS_LEVELS_MAX];    /* not 0 within the lobe of a plain line of any kind */
    struct candidate candidate[CANDIDATES_MAX];
    int candidates;
};

static int first_bin(const struct lds_level *level)
{
    int lowest = (int)fmax(LOWEST_BIN, ceil(LOWEST_HZ / level->bin_hz));
    return level->first > lowest ? level->first : lowest;
}

static int end_bin(const struct search *search, const struct lds_level *level)
{
    int end = (int)fmin(floor(search->floor->density->end_hz / level->bin_hz), level->n / 2 - 1);
    return level->last < end ? level->last : end;
}

/* The bins that a spur takes on every level that shows it: its lobe, without bins far above it, where another line
 * shows. */
static void claim(struct search *search, double frequency_hz, double spread_hz, double square)
{
    for (int i = 0; i < search->floor->density->levels; i++) {
        const struct lds_level *level = &search->floor->density->level[i];
        double centre = frequency_hz / level->bin_hz, spread = spread_hz / level->bin_hz, half = spread + LOBE + 0.5;
        double top = square / (level->enbw_bins * level->bin_hz);
        int from = (int)fmax(ceil(centre - half), 0.0), to = (int)fmin(floor(centre + half), level->n / 2);
        for (int k = from; k <= to; k++) {
            double away = fabs(k - centre) - spread;
            double lobe = away < NEAREST ? INFINITY : top * pow(lds_window_transform(&lds_window_analysis, away), 2.0);
            bool another = level->power[k] > ANOTHER * (lobe + search->floor->reference[i][k]);
            if (!search->claimed[i][k] && !another)
                search->claimed[i][k] = 1 + LDS_LINE_SPUR;
        }
    }
}

/* Bins that the request bars count as taken. */
static void bar(struct search *search, int i)
{
    const struct lds_level *level = &search->floor->density->level[i];
    const double *barred = search->request->barred_hz;
    int from = (int)fmax(ceil(barred[0] / level->bin_hz), 0.0), to = (int)fmin(barred[1] / level->bin_hz, level->n / 2);
    for (int k = from; barred[1] > 0.0 && k <= to; k++)
        if (!search->claimed[i][k])
            search->claimed[i][k] = 1 + LDS_LINE_TONE;
}

/* The floor knows lines found by other means and takes their whole lobes; another line may show there. */
static void claim_others(struct search *search)
{
    const struct lds_spur_list *others = search->request->others;
    for (int i = 0; others && others->count > 0 && i < search->floor->density->levels; i++) {
        const struct lds_level *level = &search->floor->density->level[i];
        for (int k = 0; k <= level->n / 2; k++)
            if (search->claimed[i][k] == 1 + LDS_LINE_SPUR)
                search->claimed[i][k] = 0;
    }
    for (size_t s = 0; others && s < others->count; s++)
        claim(search, others->spur[s].frequency_hz, others->spur[s].spread_hz, pow(others->spur[s].level, 2.0));
}

static bool prepare(struct search *search)
{
    const struct lds_density *density = search->floor->density;
    double bins = 0.0;
    for (int i = 0; i < density->levels; i++) {
        const struct lds_level *level = &density->level[i];
        size_t size = (size_t)level->n / 2 + 1;
        search->claimed[i] = malloc(size);
        search->lobe[i] = calloc(size, 1);
        if (!search->claimed[i] || !search->lobe[i])
            return false;
        memcpy(search->claimed[i], search->floor->taken[i], size);
        bar(search, i);
        bins += fmax(end_bin(search, level) - first_bin(level), 0.0);
    }
    claim_others(search);
    search->once = search->request->false_alarm / RESERVE / fmax(bins, 1.0);
    for (int i = 0; i < density->levels; i++) {
        const struct lds_level *level = &density->level[i];
        if (!lds_tail_init(&search->tail[i], level->frames, (double)level->hop / level->n))
            return false;
        int middle = (first_bin(level) + end_bin(search, level)) / 2;
        search->typical_sd[i] = lds_reference_sd(level, search->floor->taken[i], middle);
        search->threshold[i] = lds_tail_threshold(&search->tail[i], search->once, search->typical_sd[i]);
    }
    return true;
}

static int by_ratio(const void *a, const void *b)
{
    const struct candidate *left = a, *right = b;
    if (left->ratio != right->ratio)
        return left->ratio < right->ratio ? 1 : -1;
    return left->level != right->level ? left->level - right->level : left->bin - right->bin;
}

static void collect(struct search *search)
{
    for (int i = 0; i < search->floor->density->levels; i++) {
        const struct lds_level *level = &search->floor->density->level[i];
        for (int k = first_bin(level), end = end_bin(search, level); k < end; k++) {
            double reference = search->floor->reference[i][k];
            if (search->claimed[i][k] || !(level->power[k] > search->threshold[i] * reference))
                continue;
            if (search->candidates < CANDIDATES_MAX)
                search->candidate[search->candidates++] =
                    (struct candidate){i, k, level->power[k] / fmax(reference, 1e-300)};
        }
    }
    qsort(search->candidate, (size_t)search->candidates, sizeof search->candidate[0], by_ratio);
}

static bool is_top(const struct lds_level *level, int bin)
{
    return level->power[bin] >= level->power[bin - 1] && level->power[bin] >= level->power[bin + 1];
}

/* The offset from bin k of a line with these powers in bins k - 1 and k + 1. Their ratio is |W(1 - d)|^2 / |W(1 +
 * d)|^2, which rises with d. */
static double offset_bins(double below, double above)
{
    double low = -1.0, high = 1.0;
    for (int round = 0; round < 40; round++) {
        double d = 0.5 * (low + high);
        double up = lds_window_transform(&lds_window_analysis, 1.0 - d);
        double down = lds_window_transform(&lds_window_analysis, 1.0 + d);
        if (up * up * below < down * down * above)
            low = d;
        else
            high = d;
    }
    return 0.5 * (low + high);
}

static bool falls(const struct search *search, int i, int bin, int reach, double to)
{
    const struct lds_level *level = &search->floor->density->level[i];
    for (int direction = -1; direction <= 1; direction += 2) {
        int k = bin, end = bin + direction * reach;
        while (k != end && k > 0 && k < level->n / 2 && level->power[k] > to && !search->claimed[i][k])
            k += direction;
        if (level->power[k] > to && !search->claimed[i][k])
            return false;
    }
    return true;
}

/* Whether the two bins next to a peak's neighbours match the window's lobe. */
static bool has_shape(const struct lds_level *level, int bin)
{
    double d = offset_bins(level->power[bin - 1], level->power[bin + 1]);
    double top = level->power[bin] / pow(lds_window_transform(&lds_window_analysis, d), 2.0);
    for (int side = -2; side <= 2; side += 4) {
        double shape = top * pow(lds_window_transform(&lds_window_analysis, side - d), 2.0);
        double ratio = level->power[bin + side] / shape;
        if (ratio > SHAPE_RATIO || ratio < 1.0 / SHAPE_RATIO)
            return false;
    }
    return true;
}

/* A plain line falls by 30 dB, or to the floor, within five bins on both sides, which no filter edge and no resonance
 * does; or it stands far out and has the window's shape, where another line is too near for that test. */
static bool is_plain(const struct search *search, int i, int bin)
{
    const struct lds_level *level = &search->floor->density->level[i];
    double reference = search->floor->reference[i][bin], top = level->power[bin];
    if (!(top > PLAIN_TOP * reference) || !is_top(level, bin) || bin < 2 || bin > level->n / 2 - 2)
        return false;
    return falls(search, i, bin, PLAIN_BINS, fmax(1e-3 * top, PLAIN_FLOOR * reference)) ||
           (top > FAR_OUT * reference && falls(search, i, bin, PLAIN_BINS, 0.1 * top) && has_shape(level, bin));
}

static void mark_lobe(struct search *search, int i, double from, double to)
{
    int last = (int)fmin(floor(to), search->floor->density->level[i].n / 2);
    for (int k = (int)fmax(ceil(from), 0.0); k <= last; k++)
        search->lobe[i][k] = 1;
}

/* Without these marks, each of two lines near each other would count as the floor beside the other. */
static void mark_lobes(struct search *search)
{
    for (int c = 0; c < search->candidates; c++) {
        const struct candidate *at = &search->candidate[c];
        if (is_plain(search, at->level, at->bin))
            mark_lobe(search, at->level, at->bin - LOBE, at->bin + LOBE);
    }
    const struct lds_spur_list *others = search->request->others;
    for (size_t s = 0; others && s < others->count; s++)
        for (int i = 0; i < search->floor->density->levels; i++) {
            double bin_hz = search->floor->density->level[i].bin_hz;
            double half = others->spur[s].spread_hz / bin_hz + LOBE, centre = others->spur[s].frequency_hz / bin_hz;
            mark_lobe(search, i, centre - half, centre + half);
        }
}

/* Floor on one side of a peak, or NAN with too few free bins. For the flank a low quantile is used, so that another
 * line there does not raise it. */
static double side(const struct search *search, int i, int bin, int direction, struct reach reach, double quantile)
{
    const struct lds_level *level = &search->floor->density->level[i];
    double value[LOBE + 17];
    size_t count = 0;
    for (int d = reach.from; d <= reach.to; d++) {
        int k = bin + direction * d;
        if (k >= 2 && k < level->last && k < level->n / 2 && !search->claimed[i][k] && !search->lobe[i][k])
            value[count++] = level->power[k];
    }
    if (count < SIDE_FEW)
        return NAN;
    gsl_sort(value, 1, count);
    return gsl_stats_quantile_from_sorted_data(value, 1, count, quantile) /
           lds_chi_square_quantile(quantile, level->bin_dof);
}

/* Whether a peak is on the skirt of something taken already: going uphill leads to it. */
static bool on_a_skirt(const struct search *search, int i, int bin)
{
    const struct lds_level *level = &search->floor->density->level[i];
    for (int direction = -1; direction <= 1; direction += 2) {
        int k = bin;
        while (k + direction >= 0 && k + direction <= level->n / 2 && !search->claimed[i][k] &&
               level->power[k + direction] > level->power[k])
            k += direction;
        if (search->claimed[i][k])
            return true;
    }
    return false;
}

/* The floor beside a peak: [0] below it, [1] above it. */
struct beside {
    double near[2], away[2], flank[2];
};

static void look_beside(const struct search *search, int i, int bin, struct beside *beside)
{
    for (int s = 0; s < 2; s++) {
        beside->near[s] = side(search, i, bin, 2 * s - 1, NEAR, 0.5);
        beside->away[s] = side(search, i, bin, 2 * s - 1, AWAY, 0.5);
        beside->flank[s] = side(search, i, bin, 2 * s - 1, FLANK, 1.0 / 3.0);
    }
}

/* Outside its lobe a line has fallen to the floor; a resonance wider than the lobe is still falling on both sides. */
static bool still_falling(const struct beside *beside, double power, double bin_dof)
{
    /* Medians of 5 and 8 bins, of which every third is independent. */
    double scatter = sqrt(M_PI_2 * 2.0 / bin_dof * (3.0 / 5.0 + 3.0 / 8.0));
    int falling = 0;
    for (int s = 0; s < 2; s++) {
        double fall = beside->near[s] - beside->away[s];
        falling += fall > SHAPE_SHARE * (power - beside->near[s]) && fall > 1.5 * scatter * beside->away[s];
    }
    return falling == 2;
}

static double mean_of_known(double a, double b)
{
    return isnan(a) ? b : isnan(b) ? a : 0.5 * (a + b);
}

/* Level that the peak must exceed, or NAN when its shape is not that of a line. The floor beneath may be higher than
 * the running median: on a filter's edge one flank has the peak's own level; in a resonance both sides nearly have,
 * and more when they are extrapolated to the middle (from 20 over 10 bins to none: a parabola rises by a third of
 * the step in ln S, a straight slope by all of it, a resonance by something between; anything steeper is another
 * line's lobe). */
static double threshold_at(const struct search *search, int i, int bin)
{
    const struct lds_level *level = &search->floor->density->level[i];
    double sd = lds_reference_sd(level, search->floor->taken[i], bin), threshold = search->threshold[i];
    if (fabs(sd - search->typical_sd[i]) > 0.1 * search->typical_sd[i])
        threshold = fmax(threshold, lds_tail_threshold(&search->tail[i], search->once, sd));
    struct beside beside;
    look_beside(search, i, bin, &beside);
    if (still_falling(&beside, level->power[bin], level->bin_dof))
        return NAN;
    double near = mean_of_known(beside.near[0], beside.near[1]), away = mean_of_known(beside.away[0], beside.away[1]);
    if (near > away && away > 0.0)
        near *= fmin(pow(near / away, 2.0 / 3.0), STEEPEST);
    double beneath = fmax(near, fmax(beside.flank[0], beside.flank[1])); /* fmax ignores NAN */
    return threshold * fmax(search->floor->reference[i][bin], beneath);
}

static double interpolate(const struct search *search, int i, int bin)
{
    const struct lds_level *level = &search->floor->density->level[i];
    double reference = search->floor->reference[i][bin], least = 1e-6 * level->power[bin];
    double below = fmax(level->power[bin - 1] - reference, least);
    double above = fmax(level->power[bin + 1] - reference, least);
    return (bin + offset_bins(below, above)) * level->bin_hz;
}

/* The last bin of a line on one side: above the limit, and before another line rises. */
static int last_bin(const struct search *search, int i, int bin, int direction, double limit)
{
    const struct lds_level *level = &search->floor->density->level[i];
    int lowest = bin, k = bin;
    while (k + direction > 0 && k + direction < level->n / 2 && !search->claimed[i][k + direction] &&
           level->power[k + direction] > limit) {
        k += direction;
        if (level->power[k] > ANOTHER * level->power[lowest])
            return lowest;
        if (level->power[k] < level->power[lowest])
            lowest = k;
    }
    return k;
}

/* How much farther the line reaches than a steady one would, because it wanders. */
static double spread_of(const struct search *search, int i, int bin)
{
    const struct lds_level *level = &search->floor->density->level[i];
    double limit = search->threshold[i] * search->floor->reference[i][bin];
    int below = bin - last_bin(search, i, bin, -1, limit), above = last_bin(search, i, bin, 1, limit) - bin;
    int reach = below > above ? below : above, lobe = 0;
    while (lobe < LOBE && pow(lds_window_transform(&lds_window_analysis, lobe + 0.5), 2.0) * level->power[bin] > limit)
        lobe++;
    return reach > lobe ? (reach - lobe) * level->bin_hz : 0.0;
}

static void judge(struct search *search, struct lds_spur_list *found)
{
    for (int c = 0; c < search->candidates && found->count < LDS_SPURS_MAX; c++) {
        const struct candidate *at = &search->candidate[c];
        const struct lds_level *level = &search->floor->density->level[at->level];
        if (search->claimed[at->level][at->bin] || !is_top(level, at->bin) || on_a_skirt(search, at->level, at->bin))
            continue;
        double limit = threshold_at(search, at->level, at->bin), power = level->power[at->bin];
        if (!(power > limit))
            continue;
        double frequency = interpolate(search, at->level, at->bin), spread = spread_of(search, at->level, at->bin);
        double square = lds_floor_line_power(search->floor, frequency, spread, search->claimed[at->level]);
        if (!(square > 0.0))
            continue; /* or NAN: too much of it is in the lobe of something stronger */
        found->spur[found->count++] = (struct lds_spur){.frequency_hz = frequency,
                                                        .level = sqrt(square),
                                                        .margin_db = 10.0 * log10(power / fmax(limit, 1e-300)),
                                                        .spread_hz = spread,
                                                        .tolerance_hz = FREQUENCY_BINS * level->bin_hz + spread};
        claim(search, frequency, spread, square);
    }
}

static int by_frequency(const void *a, const void *b)
{
    double one = ((const struct lds_spur *)a)->frequency_hz, other = ((const struct lds_spur *)b)->frequency_hz;
    return (one > other) - (one < other);
}

static void sort_found(struct lds_spur_list *found)
{
    qsort(found->spur, found->count, sizeof *found->spur, by_frequency);
}

bool lds_spurs_find(const struct lds_floor *floor, const struct lds_spur_request *request, struct lds_spur_list *found)
{
    struct search *search = calloc(1, sizeof *search);
    *found = (struct lds_spur_list){.spur = malloc(LDS_SPURS_MAX * sizeof *found->spur)};
    bool made = found->spur && search;
    if (made) {
        search->floor = floor;
        search->request = request;
        made = prepare(search);
    }
    if (made) {
        collect(search);
        mark_lobes(search);
        judge(search, found);
        sort_found(found);
        lds_spurs_name(found, request);
    }
    for (int i = 0; search && i < LDS_LEVELS_MAX; i++) {
        free(search->claimed[i]);
        free(search->lobe[i]);
    }
    free(search);
    return made;
}

bool lds_spurs_merge(struct lds_spur_list *found, const struct lds_spur_list *more)
{
    if (!lds_resize(&found->spur, found->count + more->count + 1, sizeof *found->spur))
        return false;
    for (size_t i = 0; i < more->count; i++)
        found->spur[found->count++] = more->spur[i];
    sort_found(found);
    return true;
}

void lds_spurs_name(struct lds_spur_list *found, const struct lds_spur_request *request)
{
    for (size_t i = 0; i < found->count; i++)
        lds_spur_origin(request, found, i, found->spur[i].origin);
}

void lds_spur_list_free(struct lds_spur_list *found)
{
    free(found->spur);
    *found = (struct lds_spur_list){0};
}

bool lds_spurs_append(const struct lds_spur_list *found, struct lds_lines *lines)
{
    for (size_t i = 0; i < found->count; i++) {
        bool tone = strcmp(found->spur[i].origin, LDS_SPUR_SECOND_TONE) == 0; /* which is neither noise nor a spur */
        struct lds_known_line line = {.kind = tone ? LDS_LINE_TONE : LDS_LINE_SPUR,
                                      .frequency_hz = found->spur[i].frequency_hz,
                                      .spread_hz = found->spur[i].spread_hz,
                                      .power = found->spur[i].level * found->spur[i].level};
        if (!lds_lines_add(lines, &line))
            return false;
    }
    return true;
}

bool lds_spurs_record(struct lds_channel *channel, const struct lds_spur_list *found,
                      const struct lds_noise_scale *scale)
{
    struct lds_series *spurs = lds_channel_add_series(channel, "spurs");
    bool done = spurs != NULL;
    for (size_t i = 0; done && i < found->count; i++) {
        const struct lds_spur *spur = &found->spur[i];
        double gain = scale->bench ? lds_bench_gain(scale->bench, spur->frequency_hz) : 1.0;
        const double value[] = {spur->frequency_hz, spur->level * (scale->per_unit / gain), spur->margin_db};
        done = lds_series_add_row(spurs, value);
        if (done)
            memcpy(spurs->text[i], spur->origin, sizeof spur->origin);
    }
    return done;
}
