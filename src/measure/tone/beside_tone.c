#include "measure/tone/beside_tone.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/noise/reference.h"

/* Half of the false alarms that the search on the levels is allowed; that search stays far below its own limit. */
#define FALSE_ALARM (0.5 * LDS_SPURS_FALSE_ALARM)
enum {
    CLEAR_BINS = 16, /* of a level, to each side of the tone; farther out a line's lobe is clear of the tone's */
    MARGIN_BINS = 2, /* of a level; lines are still looked for this far beyond the stretch */
    FEW_BINS = 16,   /* with fewer free bins the noise is not estimated */
    EDGE_BINS = LDS_LOBE_BINS + 1,
    CARRIER_BINS = 2 /* what is left of the tone may be this far from it */
};
static const double LEAST_REACH_HZ = 24.0; /* so that it includes the density 5 to 20 Hz away */
static const double NEAR_HZ = 5.0, FAR_HZ = 20.0;
/* The powers differ when they are this many standard deviations apart, and their logarithms at least this much. */
static const double DIFFERS = 4.0, DIFFERS_LEAST = 0.02;

/* ---- the stretch ---- */

/* The stretch reaches as far as any level that shows the tone hides what is beside it, but not down to 0 Hz, where the
 * lobe of the mean is. Returns the bin width of the coarsest such level. */
static double choose_stretch(const struct lds_zoom_spectrum *spectrum, const struct lds_density *density,
                             double tone_hz, struct lds_floor_zoom *zoom)
{
    double coarsest = 0.0, bin_hz = spectrum->density.level[0].bin_hz;
    for (int i = 0; i < density->levels; i++) {
        double clear = CLEAR_BINS * density->level[i].bin_hz;
        if (tone_hz > lds_floor_edge(density, i) - clear && tone_hz < lds_floor_edge(density, i + 1) + clear)
            coarsest = fmax(coarsest, density->level[i].bin_hz);
    }
    double most = spectrum->reach_hz - 2 * EDGE_BINS * bin_hz - MARGIN_BINS * coarsest;
    double reach = fmin(fmax(LEAST_REACH_HZ, CLEAR_BINS * coarsest), most);
    zoom->origin_hz = tone_hz - spectrum->centre * bin_hz;
    zoom->low_hz = fmax(tone_hz - reach, EDGE_BINS * bin_hz);
    zoom->high_hz = fmin(tone_hz + reach, density->end_hz);
    return coarsest;
}

/* The bins that are searched: a few more than the stretch, so that a line beyond it is recognised, but none near 0
 * Hz. */
static void frame_level(struct lds_level *level, const struct lds_floor_zoom *zoom, double margin_hz)
{
    int margin = (int)(margin_hz / level->bin_hz) + EDGE_BINS;
    int low = (int)ceil((zoom->low_hz - zoom->origin_hz) / level->bin_hz) - margin;
    int zero = (int)ceil(-zoom->origin_hz / level->bin_hz) + EDGE_BINS;
    level->first = low > zero ? low : zero;
    level->last = (int)floor((zoom->high_hz - zoom->origin_hz) / level->bin_hz) + margin;
}

/* ---- lines ---- */

/* Marks the bins below the first as taken where they come near 0 Hz: they hold the mean and the tone's image, not
 * noise. */
static bool add_image(const struct lds_floor_zoom *zoom, const struct lds_level *level, struct lds_lines *lines)
{
    double half = 0.5 * LDS_REFERENCE_MARGIN;
    if ((level->first - LDS_REFERENCE_MARGIN) * level->bin_hz + zoom->origin_hz > EDGE_BINS * level->bin_hz)
        return true;
    struct lds_known_line line = {.kind = LDS_LINE_TONE,
                                  .frequency_hz = (level->first - 0.5 - half) * level->bin_hz,
                                  .power = INFINITY,
                                  .spread_hz = (half - LDS_LOBE_BINS) * level->bin_hz};
    return lds_lines_add(lines, &line);
}

/* Whether there is a line where the mains comb would have one, rather than the lobe of another line beside it. */
static bool has_top(const struct lds_level *level, double bin, double spread)
{
    int from = (int)fmax(floor(bin - spread - 1.0), 1.0);
    int to = (int)fmin(ceil(bin + spread + 1.0), level->n / 2 - 1), best = from;
    for (int k = from; k <= to; k++)
        if (level->power[k] > level->power[best])
            best = k;
    return from <= to && level->power[best] >= level->power[best - 1] && level->power[best] >= level->power[best + 1];
}

/* The known lines in the stretch, counted from its origin; the tone with everything that belongs to it. */
static bool shift_lines(const struct lds_floor_zoom *zoom, const struct lds_level *level, const struct lds_lines *known,
                        double own_hz, struct lds_lines *lines)
{
    if (!add_image(zoom, level, lines))
        return false;
    for (size_t l = 0; l < known->count; l++) {
        struct lds_known_line line = known->line[l];
        line.frequency_hz -= zoom->origin_hz;
        double bin = line.frequency_hz / level->bin_hz;
        if (line.kind == LDS_LINE_TONE) {
            line.power = INFINITY; /* so that its whole lobe is taken */
            line.spread_hz = own_hz - LDS_LOBE_BINS * level->bin_hz;
        } else if (bin < level->first - EDGE_BINS || bin > level->last + EDGE_BINS) {
            continue;
        } else if (line.kind == LDS_LINE_MAINS) {
            if (!has_top(level, bin, line.spread_hz / level->bin_hz))
                continue;
            line.power = NAN; /* only suspected: here it is seen better than beside the tone's lobe */
        }
        if (!lds_lines_add(lines, &line))
            return false;
    }
    return true;
}

/* A line within own_hz of the tone belongs to the tone, but its lobe may reach farther. */
static bool append_found(const struct lds_spur_list *found, double tone_hz, double own_hz, struct lds_lines *lines)
{
    for (size_t i = 0; i < found->count; i++) {
        const struct lds_spur *spur = &found->spur[i];
        bool own = fabs(spur->frequency_hz - tone_hz) <= own_hz;
        struct lds_known_line line = {.kind = own ? LDS_LINE_TONE : LDS_LINE_SPUR,
                                      .frequency_hz = spur->frequency_hz,
                                      .spread_hz = spur->spread_hz,
                                      .power = spur->level * spur->level};
        if (!lds_lines_add(lines, &line))
            return false;
    }
    return true;
}

/* A line up to two bins of a level beyond the stretch still belongs to it: the search on the level starts a bin beyond
 * and may miss its top. */
static void keep_spurs(struct lds_floor_zoom *zoom, double tone_hz, double own_hz, double margin_hz,
                       struct lds_spur_list *found)
{
    const double low_hz = zoom->low_hz - margin_hz, high_hz = zoom->high_hz + margin_hz;
    const double edge_hz = EDGE_BINS * zoom->floor.density->level[0].bin_hz;
    size_t kept = 0;
    for (size_t i = 0; i < found->count; i++) {
        double at_hz = found->spur[i].frequency_hz + zoom->origin_hz;
        if (at_hz < low_hz || at_hz > high_hz || fabs(at_hz - tone_hz) <= own_hz)
            continue;
        zoom->low_hz = fmin(zoom->low_hz, at_hz - edge_hz);
        zoom->high_hz = fmax(zoom->high_hz, at_hz + edge_hz);
        found->spur[kept] = found->spur[i];
        found->spur[kept++].frequency_hz = at_hz;
    }
    found->count = kept;
}

/* ---- the noise under the tone ---- */

struct side {
    int bins;
    double at, power; /* mean position and density */
};

/* The free bins between `near` and `far` from the tone on one side. */
static struct side look(const struct lds_floor *floor, int centre, int direction, double near, double far)
{
    const struct lds_level *level = &floor->density->level[0];
    struct side side = {0};
    for (int d = (int)ceil(near); d <= far; d++) {
        int k = centre + direction * d;
        if (k < level->first || k >= level->last || floor->taken[0][k])
            continue;
        side.bins++;
        side.at += k;
        side.power += level->power[k];
    }
    if (side.bins > 0) {
        side.at /= side.bins;
        side.power /= side.bins;
    }
    return side;
}

/* The fundamental's bins are filled with the density 5 to 20 Hz away, farther away in a short capture. */
static void fill_tone(const struct lds_floor *floor, int centre, double own_hz)
{
    const struct lds_level *level = &floor->density->level[0];
    double near = fmax(NEAR_HZ, own_hz) / level->bin_hz, far = fmax(FAR_HZ, 4.0 * own_hz) / level->bin_hz;
    struct side low = look(floor, centre, -1, near, far), high = look(floor, centre, 1, near, far);
    if (low.bins + high.bins < FEW_BINS)
        return;
    low = low.bins ? low : high;
    high = high.bins ? high : low;
    double slope = 0.0;
    if (high.at > low.at && low.power > 0.0 && high.power > 0.0)
        slope = log(high.power / low.power) / (high.at - low.at);
    for (int g = 0; g < floor->gaps[0]; g++) {
        struct lds_gap *gap = &floor->gap[0][g];
        if (gap->first > centre || gap->last < centre)
            continue;
        for (int k = gap->first; k <= gap->last; k++)
            floor->filled[0][k] = low.power * exp(slope * (k - low.at));
        gap->spread = 2.0 + (double)(gap->last - gap->first + 1) / (low.bins + high.bins);
    }
}

/* ---- all of it ---- */

static bool search(const struct lds_zoom_spectrum *spectrum, const struct lds_lines *known, double own_hz,
                   double margin_hz, struct lds_beside_tone *beside)
{
    const struct lds_level *level = &spectrum->density.level[0];
    struct lds_floor_zoom *zoom = &beside->zoom;
    double tone_hz = spectrum->centre * level->bin_hz, carrier_hz = fmin(own_hz, CARRIER_BINS * level->bin_hz);
    struct lds_lines first = {0}, lines = {0};
    const struct lds_spur_request request = {.tone_hz = NAN, .mains_hz = NAN, .false_alarm = FALSE_ALARM};
    bool made = shift_lines(zoom, level, known, carrier_hz, &first) &&
                shift_lines(zoom, level, known, own_hz, &lines) &&
                lds_floor_find(&zoom->floor, &spectrum->density, &first) &&
                lds_spurs_find(&zoom->floor, &request, &beside->spurs) &&
                append_found(&beside->spurs, tone_hz, own_hz, &lines) && lds_floor_find_again(&zoom->floor, &lines);
    if (made) {
        fill_tone(&zoom->floor, spectrum->centre, own_hz);
        keep_spurs(zoom, zoom->origin_hz + tone_hz, own_hz, margin_hz, &beside->spurs);
    }
    free(first.line);
    free(lines.line);
    return made;
}

bool lds_beside_tone_find(struct lds_zoom_spectrum *spectrum, const struct lds_density *density, double tone_hz,
                          double own_hz, const struct lds_lines *known, struct lds_beside_tone *beside)
{
    memset(beside, 0, sizeof *beside);
    if (spectrum->density.levels == 0)
        return true;
    struct lds_level *level = &spectrum->density.level[0];
    struct lds_floor_zoom *zoom = &beside->zoom;
    double coarsest = choose_stretch(spectrum, density, tone_hz, zoom);
    double free_hz = fmax(tone_hz - own_hz - zoom->low_hz, 0.0) + fmax(zoom->high_hz - tone_hz - own_hz, 0.0);
    if (free_hz < FEW_BINS * level->bin_hz || own_hz < 2.5 * level->bin_hz)
        return true;
    beside->usable = true;
    beside->searched_hz[0] = zoom->low_hz - coarsest;
    beside->searched_hz[1] = zoom->high_hz + coarsest;
    frame_level(level, zoom, MARGIN_BINS * coarsest);
    return search(spectrum, known, own_hz, MARGIN_BINS * coarsest, beside);
}

void lds_beside_tone_free(struct lds_beside_tone *beside)
{
    lds_floor_free(&beside->zoom.floor);
    lds_spur_list_free(&beside->spurs);
    memset(beside, 0, sizeof *beside);
}

/* Whether the power in the stretch differs from what the levels show. Lines of the kinds in `keep` are included. */
static bool differs(const struct lds_floor_zoom *zoom, const struct lds_floor *floor, unsigned keep)
{
    struct lds_band_power seen, told;
    lds_floor_band(&zoom->floor, zoom->low_hz - zoom->origin_hz, zoom->high_hz - zoom->origin_hz, keep, NULL, NULL,
                   &seen);
    lds_floor_band(floor, zoom->low_hz, zoom->high_hz, keep, NULL, NULL, &told);
    if (!(seen.power > 0.0) || !(told.power > 0.0))
        return false;
    double scatter = sqrt(seen.variance / (seen.power * seen.power) + told.variance / (told.power * told.power));
    return fabs(log(seen.power / told.power)) > fmax(DIFFERS * scatter, DIFFERS_LEAST);
}

bool lds_beside_tone_matters(const struct lds_beside_tone *beside, const struct lds_floor *floor)
{
    const unsigned lines = 1u << LDS_LINE_HARMONIC | 1u << LDS_LINE_MAINS | 1u << LDS_LINE_SPUR;
    return beside->usable &&
           (beside->spurs.count > 0 || differs(&beside->zoom, floor, 0) || differs(&beside->zoom, floor, lines));
}
