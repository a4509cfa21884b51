#include "measure/known/orders.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/known/response.h"
#include "measure/statistics/line_sum.h"
#include "measure/statistics/uncertainty.h"
#include "record/series.h"

enum { POINTS = 12 }; /* an octave */
/* Turns, (f - from) L, beyond which the beginning of the sweep does not show, from simulations. */
static const double START_TURNS = 18.0;

struct place;

struct work {
    const struct lds_orders *of;
    size_t places;
    struct place *place;
};

/* Power of the fundamental, with the chain's own response divided out. */
static double fundamental_at(const struct work *w, double hz)
{
    struct lds_transfer_point point;
    lds_transfer_at(w->of->of[1], hz, LDS_RESPONSE_POINTS, &point);
    return creal(point.gain * conj(point.gain)) / pow(lds_bench_gain(w->of->bench, hz), 2.0);
}

/* The harmonic that the method itself shows for a fundamental alone, as an amplitude relative to it: an envelope over
 * linear chains in simulations without noise, of sweeps that begin at 2 to 50 Hz and take 3 to 20 s, with L from 0.4 to
 * 2.4 s. It is largest for the second harmonic next to the beginning of the sweep. There is another part where the
 * inverse changes from the sweep as it was played to the endless one. */
static double own_share(const struct work *w, int order, double hz)
{
    const double *ends_hz = w->of->spec->frequency_hz, length_s = w->of->length_s;
    const double turns = (hz - ends_hz[0]) * length_s, first = fmin(ends_hz[0] * length_s, 20.0);
    const double begin_db = (order == 2 ? -72.0 : -97.0) - 3.5 * first - 0.65 * (turns - START_TURNS);
    const double middle_hz = sqrt(ends_hz[0] * ends_hz[1]), over = order * hz / middle_hz;
    const double middle_db = over > 0.5 && over < 1.6 ? -108.0 - 0.04 * fmin(middle_hz * length_s, 1000.0) : -200.0;
    return hypot(pow(10.0, begin_db / 20.0), pow(10.0, middle_db / 20.0));
}

/* fundamental: its power. */
static struct lds_line_ratio ratio_at(const struct work *w, int order, double hz, double fundamental, bool *near_line)
{
    struct lds_transfer_point harmonic;
    lds_transfer_at(w->of->of[order], order * hz, LDS_RESPONSE_POINTS, &harmonic);
    *near_line = harmonic.near_line;
    const double one = fundamental * pow(lds_bench_gain(w->of->bench, order * hz), 2.0);
    const double own = own_share(w, order, hz); /* of unknown phase */
    return (struct lds_line_ratio){creal(harmonic.gain * conj(harmonic.gain)) / one,
                                   2.0 * harmonic.u * harmonic.u / one + own * own, harmonic.dof};
}

/* The orders whose harmonic of this fundamental was captured. */
static int orders_at(const struct work *w, double hz)
{
    int last = 1;
    while (last < LDS_ORDERS_LAST && (last + 1) * hz <= w->of->usable_hz)
        last++;
    return last;
}

/* The lowest fundamental: closer to the beginning of the sweep, that beginning shows in the harmonics. */
static double lowest_hz(const struct work *w)
{
    return w->of->spec->frequency_hz[0] + START_TURNS / w->of->length_s;
}

/* The method's own uncertainty, from simulations without noise: largest where the series begins. */
static double own_u_db(const struct work *w, double hz)
{
    return 0.003 + 0.08 * exp2(-12.0 * (hz / lowest_hz(w) - 1.0));
}

/* All harmonics of one fundamental that were captured. */
struct place {
    double hz;
    int last;
    struct lds_line_ratio ratio[LDS_ORDERS_LAST + 1]; /* by order, from 2 */
    bool near_line[LDS_ORDERS_LAST + 1];
};

static struct place place_at(const struct work *w, double hz)
{
    struct place place = {.hz = hz, .last = orders_at(w, hz)};
    const double fundamental = fundamental_at(w, hz);
    for (int k = 2; k <= place.last; k++)
        place.ratio[k] = ratio_at(w, k, hz, fundamental, &place.near_line[k]);
    return place;
}

static struct lds_line_level level_at(const struct work *w, const struct place *place, int first, int last)
{
    struct lds_line_level level = lds_line_sum(&place->ratio[first], last - first + 1);
    const double own = lds_coverage(INFINITY) * own_u_db(w, place->hz);
    if (!isnan(level.value)) {
        level.low = level.value - hypot(level.value - level.low, own);
        level.high = level.value + hypot(level.high - level.value, own);
        level.u = hypot(level.u, own_u_db(w, place->hz));
    }
    return level;
}

static unsigned flags_of(const struct place *place, const struct lds_line_level *level, int first, int last)
{
    unsigned flags = isnan(level->value) ? LDS_FLAG_BELOW_FLOOR : 0u;
    for (int k = first; k <= last; k++)
        flags |= place->near_line[k] ? LDS_FLAG_NEAR_LINE : 0u;
    return flags;
}

static double highest_hz(const struct work *w)
{
    return 0.985 * w->of->spec->frequency_hz[1]; /* the fit there reaches to the end of the sweep */
}

static bool add_level(struct lds_series *series, double hz, const struct lds_line_level *level, unsigned flags)
{
    const double row[] = {hz, level->value};
    if (!lds_series_add_row(series, row))
        return false;
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, level->low, level->high);
    series->flag[series->rows - 1] |= flags;
    return true;
}

/* order: 2 and up, or 0 for the sum of all. */
static bool add_series(const struct work *w, struct lds_channel *channel, int order)
{
    char key[64];
    if (order > 0)
        snprintf(key, sizeof key, "distortion.by_frequency.order%d", order);
    else
        snprintf(key, sizeof key, "distortion.by_frequency.thd");
    struct lds_series *series = lds_channel_add_series(channel, key);
    bool memory = series;
    for (size_t i = 0; memory && i < w->places; i++) {
        const struct place *place = &w->place[i];
        const int first = order > 0 ? order : 2, last = order > 0 ? order : place->last;
        if (place->last < first)
            break;
        const struct lds_line_level level = level_at(w, place, first, last);
        memory = add_level(series, place->hz, &level, flags_of(place, &level, first, last));
    }
    return memory;
}

/* The fundamentals of the series. */
static bool find_places(struct work *w)
{
    const double low = ceil(POINTS * log2(lowest_hz(w) / 1000.0)), high = floor(POINTS * log2(highest_hz(w) / 1000.0));
    w->place = malloc((size_t)fmax(high - low + 1.0, 1.0) * sizeof *w->place);
    for (double i = low; w->place && i <= high; i++)
        w->place[w->places++] = place_at(w, 1000.0 * exp2(i / POINTS));
    return w->place;
}

static bool add_at(const struct work *w, struct lds_channel *channel, double hz, const char *name)
{
    char key[32];
    const int last = orders_at(w, hz);
    snprintf(key, sizeof key, "thd.at.%s", name);
    if (hz < lowest_hz(w) || hz > highest_hz(w) || last < 2)
        return lds_channel_add_absent(
            channel, key, "fundamentals from %.4g Hz to %.4g Hz, and harmonics up to %.4g Hz, were captured",
            lowest_hz(w), highest_hz(w), w->of->usable_hz);
    const struct place place = place_at(w, hz);
    const struct lds_line_level level = level_at(w, &place, 2, last);
    struct lds_figure *figure = lds_channel_add(channel, key);
    lds_figure_set(figure, level.value, level.low, level.high, level.u, level.dof);
    figure->orders[0] = 2;
    figure->orders[1] = last;
    figure->flags |= flags_of(&place, &level, 2, last);
    return true;
}

bool lds_orders_figures(const struct lds_orders *orders, struct lds_channel *channel)
{
    struct work w = {.of = orders};
    bool memory = find_places(&w) && add_series(&w, channel, 0);
    for (int k = 2; memory && k <= LDS_ORDERS_LAST; k++)
        memory = add_series(&w, channel, k);
    memory = memory && add_at(&w, channel, 100.0, "100") && add_at(&w, channel, 1000.0, "1k") &&
             add_at(&w, channel, 10e3, "10k");
    free(w.place);
    return memory;
}
