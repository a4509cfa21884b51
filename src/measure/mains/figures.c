/* Figures of the mains comb. */
#include <math.h>
#include <stdlib.h>

#include "constants.h"
#include "measure/analyser.h"
#include "measure/spurs/known.h"
#include "measure/statistics/noncentral.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

enum { BUZZ_ABOVE = 10, SIDEBAND_ORDERS = 2, SIDEBAND_REACH = 6 };
static const double ON_TOP = 10.0;         /* power of a sideband over that of the hum under it */
static const double OUT_OF_STEP_HZ = 2e-3; /* a tone and a mains order farther apart than this are unrelated */
static const char VEILED[] =
    "the tone, its harmonics or sidebands are too close to the orders of the mains: use a longer "
    "capture, or a tone farther from the multiples of the mains, such as 997 Hz";
static const double NOMINAL_HZ = 50.0; /* the bench's response is read here for the upper limit of a comb not found */

static bool is_all(int order)
{
    return order >= 1;
}

static bool is_odd(int order)
{
    return order % 2 == 1;
}

static bool is_even(int order)
{
    return order % 2 == 0;
}

static bool is_buzz(int order)
{
    return order > BUZZ_ABOVE;
}

/* Order k at the load, with the power gains of the bench divided out. */
static double order_gain2(const struct lds_findings *findings, int order)
{
    double fm = findings->mains.found ? findings->mains.frequency_hz : NOMINAL_HZ;
    double gain = lds_bench_gain(findings->bench, order * fm);
    return findings->scale * findings->scale / (gain * gain);
}

/* Sum of the orders for which belongs() is true. */
struct hum_sum {
    double power, variance;
    double less2, more2; /* squares of what sidebands may have added to shared orders, or hidden in them */
    double hidden;       /* upper limit of the hum on orders that the tone hides */
    int components, last;
    bool near;
};

/* Power of a tone that may as well be hum: it and its harmonics then count as mains orders. */
static double tone_as_hum(const struct lds_findings *findings, bool (*belongs)(int order))
{
    double sum = 0.0;
    const int order = findings->scout.hum_order;
    for (size_t i = 0; findings->has_tone && order > 0 && i < findings->harmonics; i++) {
        const struct lds_harmonic *h = &findings->harmonic[i];
        if (h->order * order <= LDS_MAINS_ORDERS && belongs(h->order * order))
            sum += pow(findings->scale * (cabs(h->phasor) + 2.0 * sqrt(h->noise_power)), 2.0);
    }
    return sum;
}

static void sum_orders(const struct lds_findings *findings, bool (*belongs)(int order), struct hum_sum *sum)
{
    *sum = (struct hum_sum){.hidden = tone_as_hum(findings, belongs)};
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        const struct lds_mains_order *order = &findings->mains.order[k];
        if (!belongs(k) || !(order->usable || order->near_tone))
            continue;
        double unit2 = order_gain2(findings, k), n = unit2 * order->noise_power, p = unit2 * order->power;
        sum->last = k;
        if (!order->usable) {
            struct lds_mains_expected expected;
            lds_mains_expect(&findings->mains, k, &expected);
            sum->hidden += unit2 * expected.high;
            continue;
        }
        sum->power += p;
        sum->variance += 2.0 * fmax(0.0, p) * n + n * n;
        sum->components++;
        if (order->shared) {
            double less = unit2 * (order->power - order->low), more = unit2 * (order->high - order->power);
            sum->less2 += less * less;
            sum->more2 += more * more;
            sum->near = true;
        }
    }
    sum->near = sum->near || sum->hidden > 0.0;
}

static bool add_sum(struct lds_channel *channel, const struct lds_findings *findings, const char *key,
                    bool (*belongs)(int order))
{
    struct hum_sum sum;
    sum_orders(findings, belongs, &sum);
    if (sum.components == 0)
        return lds_channel_add_absent(channel, key, "no order of it can be told from the tone in this capture");
    struct lds_figure *figure = lds_channel_add(channel, key);
    double p = fmax(0.0, sum.power), even = (sqrt(p * p + sum.components * sum.variance) - p) / sum.components;
    double low = p, high = p;
    if (even > 0.0)
        lds_noncentral_limits(sum.power + sum.components * even, even, sum.components, &low, &high);
    bool floor = !findings->mains.found || low <= 0.0 || sum.power <= 0.0;
    low = fmax(0.0, p - hypot(p - low, sqrt(sum.less2)));
    high = p + hypot(high - p, sqrt(sum.more2)) + sum.hidden;
    double value = sqrt(p), u_power = sqrt(sum.variance + 0.25 * fmax(sum.less2, sum.more2));
    lds_figure_set_level(figure, findings->calibrated, value, sqrt(low), sqrt(high),
                         value > 0.0 ? 0.5 * u_power / value : NAN);
    figure->dof = INFINITY;
    figure->flags |= sum.near ? LDS_FLAG_NEAR_LINE : 0u;
    if (floor) {
        figure->value = figure->low = figure->u_a = NAN;
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
    }
    double relative = findings->calibrated ? lds_bench_level_u(findings->bench) : 0.0;
    lds_figure_add_bench(figure, relative * (floor ? figure->high : value));
    figure->orders[0] = belongs == is_buzz ? BUZZ_ABOVE + 1 : belongs == is_even ? 2 : 1;
    figure->orders[1] = sum.last;
    return true;
}

static bool add_frequency_and_wander(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_mains_result *mains = &findings->mains;
    struct lds_figure *figure = lds_channel_add(channel, "mains.frequency");
    lds_figure_set_normal(figure, mains->frequency_hz, mains->u_frequency_hz, INFINITY);
    lds_figure_add_bench(figure, mains->frequency_hz * findings->bench->clock_ppm * 1e-6 / sqrt(3.0));
    if (isnan(mains->total_wander_db))
        return lds_channel_add_absent(channel, "mains.wander", "the capture holds %.3g s; wander needs 4 s",
                                      findings->seconds);
    figure = lds_channel_add(channel, "mains.wander");
    lds_figure_set_normal(figure, mains->total_wander_db, mains->total_wander_u_db, INFINITY);
    figure->low = fmax(0.0, figure->low);
    return true;
}

struct sideband {
    double power, variance;
    bool usable, beside_order;
};

/* Hum to expect at an order that a sideband covers: the strongest order nearby that no sideband can fall on. */
static double hum_about(const struct lds_findings *findings, int order)
{
    double fm = findings->mains.frequency_hz, tone = findings->track.frequency_hz / fm, power = 0.0;
    for (int k = order - SIDEBAND_REACH; k <= order + SIDEBAND_REACH; k++) {
        if (k < 1 || k > LDS_MAINS_ORDERS || fabs(k - tone) < SIDEBAND_ORDERS + 0.5 || !findings->mains.order[k].usable)
            continue;
        power = fmax(power, findings->mains.order[k].power);
    }
    return power;
}

/* The sideband at f1 + k fm. Close to a mains order both are fitted together; on top of one it counts only when far
 * stronger than the hum there. */
static void measure_sideband(const struct lds_findings *findings, int k, struct sideband *s)
{
    double fm = findings->mains.frequency_hz, f = findings->track.frequency_hz + k * fm;
    const struct lds_level *level = lds_density_level(&findings->density, f);
    double n = lds_known_noise_power(findings, f), order = round(f / fm), off_hz = fabs(f - order * fm);
    /* The lobe's bins hold enbw times the noise of a coherent estimate, and it scatters by itself. */
    double noise = 2.0 * n * sqrt(findings->seconds * level->bin_hz);
    *s = (struct sideband){
        .usable = true, .power = lds_floor_line_power(&findings->floor, f, abs(k) * findings->mains.wander_hz, NULL)};
    s->beside_order = order >= 1.0 && order <= LDS_MAINS_ORDERS && off_hz < 2 * LDS_LOBE_BINS * level->bin_hz;
    s->variance = noise * noise;
    if (s->beside_order) {
        double hum = hum_about(findings, (int)order);
        bool fits;
        double power = lds_floor_line_power_beside(&findings->floor, f, order * fm, &fits);
        if (fits) {
            /* what is left of the beat between the two lines after averaging over the capture */
            double beat = 2.0 * sqrt(fmax(0.0, power) * hum) / (M_PI * off_hz * findings->seconds);
            s->power = power;
            s->variance += beat * beat;
        } else {
            s->usable = s->power > ON_TOP * hum;
            s->variance += hum * hum;
        }
    }
    s->variance += 2.0 * fmax(0.0, s->power) * n;
}

/* Sidebands of the tone at +-fm and +-2 fm, their power sum relative to the tone. They are separate lines in the
 * spectrum. */
static bool add_modulation(struct lds_channel *channel, const struct lds_findings *findings)
{
    const char *key = "mains.modulation";
    if (!findings->has_tone)
        return lds_channel_add_absent(channel, key, "%s",
                                      findings->track.usable || findings->driven->undriven ? findings->scout.why
                                                                                           : "there is no tone");
    double f1 = findings->track.frequency_hz, fm = findings->mains.frequency_hz, tone = findings->track.level;
    const struct lds_level *level = lds_density_level(&findings->density, f1);
    if (fm < 2.0 * LDS_LOBE_BINS * level->bin_hz || f1 <= 2.0 * fm + LDS_LOBE_BINS * level->bin_hz)
        return lds_channel_add_absent(channel, key, "sidebands %.4g Hz from the tone cannot be told from it", fm);
    double power = 0.0, variance = 0.0;
    int usable = 0;
    bool beside = false;
    for (int k = -2; k <= 2; k++) {
        struct sideband s;
        if (k == 0)
            continue;
        measure_sideband(findings, k, &s);
        beside = beside || s.beside_order;
        if (!s.usable)
            continue;
        usable++;
        power += s.power;
        variance += s.variance;
    }
    if (usable == 0)
        return lds_channel_add_absent(
            channel, key, "the sidebands fall on mains orders: use a tone that is not a multiple of the mains");
    struct lds_figure *figure = lds_channel_add(channel, key);
    double u = sqrt(variance), high = fmax(0.0, power) + LDS_COVERAGE * u, reference = tone * tone;
    figure->high = lds_power_db(high / reference);
    figure->u_b = 0.0;
    figure->dof = INFINITY;
    figure->flags |= beside ? LDS_FLAG_NEAR_LINE : 0u;
    if (power < 3.3 * u) {
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
        return true;
    }
    figure->value = lds_power_db(power / reference);
    figure->low = lds_power_db((power - LDS_COVERAGE * u) / reference);
    figure->u_a = 10.0 / M_LN10 * u / power;
    return true;
}

static bool add_lines(struct lds_channel *channel, const struct lds_findings *findings)
{
    struct lds_series *lines = lds_channel_add_series(channel, "mains");
    bool done = lines != NULL;
    for (int k = 1; done && k <= LDS_MAINS_ORDERS; k++) {
        const struct lds_mains_order *order = &findings->mains.order[k];
        if (!order->usable && !order->near_tone)
            continue;
        double unit2 = order_gain2(findings, k);
        bool seen = order->detected && !order->near_tone;
        done = lds_series_add_row(lines, (const double[]){k, k * findings->mains.frequency_hz,
                                                          seen ? sqrt(unit2 * fmax(0.0, order->power)) : NAN});
        if (!done)
            break;
        size_t row = lines->rows - 1;
        if (order->near_tone) {
            lines->flag[row] = LDS_FLAG_NEAR_LINE;
            continue;
        }
        lds_series_set_limits(lines, row, LDS_LINE_LEVEL, sqrt(unit2 * order->low), sqrt(unit2 * order->high));
        lines->flag[row] = (seen ? 0u : LDS_FLAG_BELOW_FLOOR) | (order->shared ? LDS_FLAG_NEAR_LINE : 0u);
    }
    return done;
}

static bool keep_waveform(struct lds_channel *channel, const struct lds_findings *findings)
{
    enum { POINTS = sizeof findings->mains.waveform / sizeof findings->mains.waveform[0] };
    struct lds_series *curve = lds_channel_add_series(channel, "mains_waveform");
    bool done = curve != NULL;
    double period_ms = 1000.0 / findings->mains.frequency_hz;
    for (int i = 0; done && i < POINTS; i++)
        done = lds_series_add_row(
            curve, (const double[]){period_ms * i / POINTS, findings->scale * findings->mains.waveform[i]});
    return done;
}

static bool add_sums(struct lds_channel *channel, const struct lds_findings *findings)
{
    return add_sum(channel, findings, "mains.total", is_all) && add_sum(channel, findings, "mains.odd", is_odd) &&
           add_sum(channel, findings, "mains.even", is_even) && add_sum(channel, findings, "mains.buzz", is_buzz);
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    if (findings->unsteady[0])
        return lds_channel_all_absent(channel, findings->unsteady, "mains.frequency", "mains.wander",
                                      "mains.modulation", "mains.total", "mains.odd", "mains.even", "mains.buzz");
    if (findings->mains.veiled && findings->scout.hum_order == 0) /* else the limits include the tone, as hum */
        return lds_channel_all_absent(channel, VEILED, "mains.frequency", "mains.wander", "mains.modulation",
                                      "mains.total", "mains.odd", "mains.even", "mains.buzz");
    if (!findings->mains.found)
        return lds_channel_all_absent(channel, "no mains comb between 45 and 65 Hz stands above the noise",
                                      "mains.frequency", "mains.wander", "mains.modulation") &&
               add_sums(channel, findings);
    return add_frequency_and_wander(channel, findings) && add_sums(channel, findings) &&
           add_modulation(channel, findings) && add_lines(channel, findings) &&
           (!findings->options->curves || keep_waveform(channel, findings));
}

static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_pass_shape *shape = start->shape;
    struct lds_mains *mains =
        lds_mains_new(shape->plan->slow_rate_hz, shape->mains_hz, lds_findings_line_hz(start), start->seconds);
    if (mains && !isnan(start->scout.second_hz))
        lds_mains_second_tone(mains, start->scout.second_hz);
    *state = mains;
    return mains != NULL;
}

/* A tone that might have been hum is not hum if it is out of step with the mains seen in other orders. */
static void settle_hum(struct lds_findings *findings)
{
    const struct lds_mains_result *mains = &findings->mains;
    int order = findings->scout.hum_order;
    if (order == 0 || !mains->found || !findings->track.usable)
        return;
    double off_hz = fabs(findings->track.frequency_hz / order - mains->frequency_hz);
    if (off_hz < OUT_OF_STEP_HZ + 4.0 * mains->u_frequency_hz)
        return;
    findings->scout.hum_order = 0;
    if (isnan(findings->from_s))
        findings->signal.words[0] = '\0';
}

static bool finish(void *state, struct lds_findings *findings)
{
    if (!lds_mains_finish(state, &findings->density, &findings->mains))
        return false;
    settle_hum(findings);
    return true;
}

const struct lds_analyser lds_analyse_mains = {
    .still = true, .make = make, .slow = lds_mains_push, .finish = finish, .figures = figures, .free = lds_mains_free};
