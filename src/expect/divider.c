/* A divider between the load and an input: two resistors of the E24 series (IEC 60063). */
#include <math.h>

#include "expect/kinds.h"
#include "fail.h"

const int lds_e24[LDS_E24] = {10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                              33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91};

/* The divider may draw this share of the load's current: its resistance is at least 1000 times the load's (common
 * practice, no source). */
static const double LOADING = 1e-3;
/* Only pairs are considered whose sum is less than this many times the smallest possible one: a lower resistance has
 * less noise and more bandwidth (common practice, no source). */
static const double SUMS = 3.0;
enum { LOWEST_DECADE = -1, DECADES = 8 }; /* from 1 ohm */

static double parallel(double a, double b)
{
    return isnan(b) ? a : a * b / (a + b);
}

static double share(const struct lds_expect_spec *spec, enum lds_expect_value value)
{
    const double percent = spec->tolerance_percent[value];
    return isnan(percent) ? 0.0 : percent / 100.0;
}

static double peak_of(double power_w, double load_ohm)
{
    return sqrt(2.0 * power_w * load_ohm);
}

struct lds_divider lds_divider_of(const struct lds_expect_spec *spec)
{
    struct lds_divider d = {.top_ohm = spec->value[LDS_EXPECT_R][0], .bottom_ohm = spec->value[LDS_EXPECT_R][1]};
    d.below_ohm = parallel(d.bottom_ohm, lds_expect_one(spec, LDS_EXPECT_INPUT_RESISTANCE));
    d.source_ohm = parallel(d.top_ohm, d.below_ohm);
    d.total_ohm = d.top_ohm + d.below_ohm;
    d.ratio = d.total_ohm / d.below_ohm;
    d.load_peak_v = peak_of(lds_expect_one(spec, LDS_EXPECT_POWER), lds_expect_one(spec, LDS_EXPECT_LOAD));
    d.input_peak_v = d.load_peak_v / d.ratio;
    return d;
}

/* The bounds that a pair of resistors must keep. */
struct bounds {
    double ratio;               /* at least, with every tolerance at its worse end */
    double up, down, input_ohm; /* the ends of the resistors' tolerance; the input's resistance at its upper end */
    double least_ohm;           /* of the sum, for the loading */
    double square_v2;           /* mean square at the load */
    double most_w;
};

static struct bounds bounds_of(const struct lds_expect_spec *spec)
{
    const double power_w = lds_expect_one(spec, LDS_EXPECT_POWER), load_ohm = lds_expect_one(spec, LDS_EXPECT_LOAD);
    const double worst_v =
        peak_of(power_w * (1.0 + share(spec, LDS_EXPECT_POWER)), load_ohm * (1.0 + share(spec, LDS_EXPECT_LOAD)));
    const double least_v = lds_expect_one(spec, LDS_EXPECT_INPUT) * (1.0 - share(spec, LDS_EXPECT_INPUT));
    return (struct bounds){.ratio = worst_v / least_v,
                           .up = 1.0 + share(spec, LDS_EXPECT_R),
                           .down = 1.0 - share(spec, LDS_EXPECT_R),
                           .input_ohm = lds_expect_one(spec, LDS_EXPECT_INPUT_RESISTANCE) *
                                        (1.0 + share(spec, LDS_EXPECT_INPUT_RESISTANCE)),
                           .least_ohm = load_ohm / LOADING,
                           .square_v2 = power_w * load_ohm,
                           .most_w = lds_expect_one(spec, LDS_EXPECT_DISSIPATION)};
}

static double series(int place)
{
    return lds_e24[place % LDS_E24] * pow(10.0, place / LDS_E24 + LOWEST_DECADE);
}

/* The smallest top resistor of the series that divides far enough with this bottom one; NAN: none. */
static double top_for(double bottom_ohm, const struct bounds *bounds)
{
    const double below_ohm = parallel(bottom_ohm * bounds->up, bounds->input_ohm);
    const double least_ohm = (bounds->ratio - 1.0) * below_ohm / bounds->down;
    for (int place = 0; place < DECADES * LDS_E24; place++)
        if (series(place) >= least_ohm * (1.0 - 1e-12)) /* rounding must not exclude a pair that fits exactly */
            return series(place);
    return NAN;
}

/* One pair, with the quantities by which it is judged. */
struct pair {
    double top_ohm, bottom_ohm, sum_ohm, ratio;
};

/* Completes a pair from its bottom resistor. Returns whether it keeps the bounds of loading and dissipation. */
static bool make_pair(struct pair *pair, int place, const struct lds_expect_spec *spec, const struct bounds *bounds)
{
    const double bottom_ohm = series(place), top_ohm = top_for(bottom_ohm, bounds);
    const double below_ohm = parallel(bottom_ohm, lds_expect_one(spec, LDS_EXPECT_INPUT_RESISTANCE));
    const double sum_ohm = top_ohm + below_ohm, square_a2 = bounds->square_v2 / (sum_ohm * sum_ohm);
    const double bottom_w = square_a2 * below_ohm * below_ohm / bottom_ohm;
    *pair = (struct pair){top_ohm, bottom_ohm, sum_ohm, sum_ohm / below_ohm};
    return sum_ohm >= bounds->least_ohm && square_a2 * top_ohm <= bounds->most_w && bottom_w <= bounds->most_w;
}

enum lds_status lds_expect_divider_choose(struct lds_expect_spec *spec, struct lds_error *error)
{
    const struct bounds bounds = bounds_of(spec);
    struct pair pair, best = {.ratio = INFINITY};
    double least_ohm = INFINITY;
    if (bounds.ratio <= 1.0)
        return lds_fail(
            error, LDS_BAD_USE,
            "a peak of %.4g V found, and the input takes %.4g V: no divider is needed; state more power, or "
            "an input that takes less",
            sqrt(2.0 * bounds.square_v2), lds_expect_one(spec, LDS_EXPECT_INPUT));
    for (int place = 0; place < DECADES * LDS_E24; place++)
        if (make_pair(&pair, place, spec, &bounds))
            least_ohm = fmin(least_ohm, pair.sum_ohm);
    for (int place = 0; place < DECADES * LDS_E24; place++) /* of equal ratios the first one, with the lowest sum */
        if (make_pair(&pair, place, spec, &bounds) && pair.sum_ohm < SUMS * least_ohm &&
            pair.ratio < best.ratio * (1.0 - 1e-9))
            best = pair;
    if (!isfinite(best.ratio))
        return lds_fail(error, LDS_BAD_USE,
                        "no two resistors of the E24 series from 1 ohm to 91 Mohm divide by %.4g within %.4g W each; "
                        "raise --dissipation, or lower --power",
                        bounds.ratio, bounds.most_w);
    spec->value[LDS_EXPECT_R][0] = best.top_ohm;
    spec->value[LDS_EXPECT_R][1] = best.bottom_ohm;
    spec->count[LDS_EXPECT_R] = 2;
    return LDS_OK;
}
