/* Intermodulation of two tones: the products, and the ratios that IEC 60268-3 makes of them. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hz_words.h"
#include "measure/analyser.h"
#include "measure/intermodulation/bank.h"
#include "measure/intermodulation/suspected.h"
#include "measure/spurs/known.h"
#include "measure/statistics/noncentral.h"
#include "measure/statistics/uncertainty.h"
#include "measure/tone/distortion.h"
#include "measure/tone/power_sum.h"
#include "record/record.h"
#include "record/series.h"

/* Common practice, no source: how far the ratio of the tones' levels may be from 4 and from 1. */
static const double MODULATION[2] = {2.5, 6.4}, DIFFERENCE[2] = {0.7, 1.43};
static const double SAME_HZ = 0.01; /* a longer capture does not help */
static const double APART = 4.0; /* of two tones 4:1: the higher is at least this many times the lower in frequency */
static const double TOGETHER = 2.0; /* of two equal tones: it is less than this many times the lower */

struct intermodulation {
    struct lds_product_bank bank;
    bool measured;
    double tone_hz[2];                          /* the lower first */
    double level[2];                            /* of the tones at the load, rms in full-scale units */
    struct lds_harmonic line[LDS_PRODUCTS_MAX]; /* as the products of the bank */
};

/* A ratio to compute. The levels of the products of one order, two at the most, are added; the orders add as powers. */
struct ratio {
    const char *key;
    bool modulation; /* over the higher tone alone; else over the sum of both */
    size_t count;
    struct lds_product product[4];
};
enum { PER_ORDER = 2, RATIOS = 3, FEWEST_FRAMES = 4 };
static const struct ratio ratios[RATIOS] = {
    {"imd.modulation", true, 4, {{{-1, 1}}, {{1, 1}}, {{-2, 1}}, {{2, 1}}}},
    {"imd.difference.2", false, 1, {{{-1, 1}}}},
    {"imd.difference.3", false, 2, {{{2, -1}}, {{-1, 2}}}},
};

/* ---- the pass ---- */

static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_plan *plan = start->shape->plan;
    double a = start->scout.tone_hz, b = start->scout.second_hz;
    if (isnan(b))
        return true;
    struct intermodulation *m = *state = calloc(1, sizeof *m);
    if (!m)
        return false;
    lds_product_bank_init(&m->bank, &plan->level[plan->audio], (const double[]){fmin(a, b), fmax(a, b)});
    return true;
}

static bool push(void *state, const struct lds_frame *frame)
{
    struct intermodulation *m = state;
    lds_product_bank_frame(&m->bank, frame);
    return true;
}

/* Only now is the second tone's frequency known. The first tone's level comes from the bank too, since the tracker's
 * frames may hold both tones, or an edge of the tone. false: no memory. */
static bool take_tones(const struct intermodulation *m, struct lds_findings *findings)
{
    int first = findings->scout.second_hz < findings->scout.tone_hz ? 1 : 0;
    findings->scout.second_hz = findings->signal.frequency_hz[1] = m->tone_hz[1 - first];
    findings->track.level = m->bank.sum.level[first];
    if (m->bank.used < m->bank.frames)
        findings->track.frequency_hz = findings->signal.frequency_hz[0] = m->tone_hz[first];
    return lds_suspect_products(findings, m->tone_hz, first, 0.5 * findings->track.slow_hz / m->tone_hz[first]);
}

static bool finish(void *state, struct lds_findings *findings)
{
    struct intermodulation *m = state;
    lds_product_bank_finish(&m->bank);
    m->measured = findings->has_tone && findings->signal.kind == LDS_SIGNAL_TWO_TONE && m->bank.used >= FEWEST_FRAMES;
    if (!m->measured)
        return true;
    memcpy(m->tone_hz, m->bank.sum.hz, sizeof m->tone_hz);
    for (int t = 0; t < 2; t++)
        m->level[t] = m->bank.sum.level[t] / lds_bench_gain(findings->bench, m->tone_hz[t]);
    for (size_t i = 0; i < m->bank.products; i++) {
        struct lds_harmonic *line = &m->line[i];
        line->order = lds_product_order(&m->bank.product[i]);
        line->frequency_hz = lds_product_hz(&m->bank.product[i], m->tone_hz);
        line->phasor = m->bank.sum.product[i] / lds_bench_gain(findings->bench, line->frequency_hz);
    }
    return take_tones(m, findings);
}

/* ---- what can be measured ---- */

static double top_hz(const struct lds_findings *findings)
{
    return fmin(findings->end_hz, findings->shape->plan->level[findings->audio].high_hz);
}

/* Lines closer than this cannot be told apart. */
static double clear_hz(const struct lds_findings *findings)
{
    const struct lds_plan_level *level = &findings->shape->plan->level[findings->audio];
    return LDS_LOBE_BINS * level->rate_hz / level->n;
}

/* Whether a product can be measured; if not, why. */
static bool can_measure(const struct intermodulation *m, const struct lds_findings *findings,
                        const struct lds_product *product, char why[192])
{
    char name[24], other[24], hz[24], end[24];
    if (m->tone_hz[1] > findings->bench->usable_to_hz) {
        lds_hz_words(findings->bench->usable_to_hz, end, sizeof end);
        snprintf(why, 192, "the higher tone is above %s, to which the bench says that the input can be trusted", end);
        return false;
    }
    struct lds_product nearest;
    double at_hz = lds_product_hz(product, m->tone_hz), top = top_hz(findings);
    double apart = lds_product_nearest(product, m->tone_hz, &nearest);
    lds_product_name(product, name, sizeof name);
    lds_hz_words(at_hz, hz, sizeof hz);
    lds_hz_words(top, end, sizeof end);
    if (at_hz > top) {
        snprintf(why, 192, "%s is at %s, and this capture reaches to %s: record at a higher rate, or play lower tones",
                 name, hz, end);
        return false;
    }
    if (apart >= clear_hz(findings))
        return true;
    if (lds_product_order(&nearest) > 0)
        lds_product_name(&nearest, other, sizeof other);
    else
        snprintf(other, sizeof other, "0 Hz");
    if (apart < SAME_HZ)
        snprintf(why, 192, "%s falls on %s, and cannot be told from it: play other tones", name, other);
    else
        snprintf(why, 192, "%s is %.3g Hz from %s, and cannot be told from it: record longer, or play other tones",
                 name, apart, other);
    return false;
}

/* ---- figures ---- */

/* The measured lines of a ratio, and what they are related to. */
struct terms {
    size_t count;
    struct lds_harmonic line[4];
    double level[4], low[4], high[4]; /* rms */
    double reference, u_reference;
};

static const struct lds_harmonic *line_of(const struct intermodulation *m, const struct lds_product *product)
{
    size_t i = 0;
    while (i + 1 < m->bank.products &&
           (m->bank.product[i].of[0] != product->of[0] || m->bank.product[i].of[1] != product->of[1]))
        i++;
    return &m->line[i];
}

static double total(const double *level, size_t count)
{
    double square = 0.0;
    for (size_t i = 0; i < count; i += PER_ORDER) {
        double sum = level[i] + (i + 1 < count ? level[i + 1] : 0.0);
        square += sum * sum;
    }
    return sqrt(square);
}

static double tone_noise(const struct intermodulation *m, const struct lds_findings *findings, int tone)
{
    double gain = lds_bench_gain(findings->bench, m->tone_hz[tone]);
    return lds_known_noise_power(findings, m->tone_hz[tone]) / (gain * gain);
}

static double reference(const struct intermodulation *m, bool modulation)
{
    return modulation ? m->level[1] : m->level[0] + m->level[1];
}

/* Noise of mean power n in a phasor gives its magnitude the variance n/2. */
static void gather(const struct intermodulation *m, const struct lds_findings *findings, const struct ratio *ratio,
                   struct terms *terms)
{
    double noise = (ratio->modulation ? 0.0 : tone_noise(m, findings, 0)) + tone_noise(m, findings, 1);
    terms->reference = reference(m, ratio->modulation);
    terms->u_reference = sqrt(0.5 * noise);
    terms->count = ratio->count;
    for (size_t i = 0; i < ratio->count; i++) {
        const struct lds_harmonic *line = line_of(m, &ratio->product[i]);
        double raw = creal(line->phasor * conj(line->phasor)), low = raw, high = raw;
        if (line->noise_power > 0.0)
            lds_noncentral_limits(raw, line->noise_power, 1, &low, &high);
        terms->line[i] = *line;
        terms->level[i] = sqrt(fmax(0.0, raw - line->noise_power));
        terms->low[i] = low > 0.0 ? sqrt(low) : -sqrt(line->noise_power);
        terms->high[i] = sqrt(high);
    }
}

/* Each term in turn goes to its limits; the shifts add as squares. A level that noise alone explains is too high on
 * average, as it is never below 0, and in a sum with a strong line that counts: its lower limit is as far below 0 as
 * the noise is strong. By simulation the interval then holds 95 % where one of two lines is missing (else 88 to 93 %).
 */
static void set_interval(const struct terms *terms, struct lds_figure *figure)
{
    double value = total(terms->level, terms->count), down = 0.0, up = 0.0, variance = 0.0, moved[4];
    for (size_t i = 0; i < terms->count; i++) {
        for (size_t k = 0; k < terms->count; k++)
            moved[k] = terms->level[k];
        moved[i] = terms->low[i];
        down += pow(value - total(moved, terms->count), 2.0);
        moved[i] = terms->high[i];
        up += pow(total(moved, terms->count) - value, 2.0);
        size_t first = i - i % PER_ORDER;
        double order = total(terms->level + first, first + 1 < terms->count ? PER_ORDER : 1);
        variance += pow(value > 0.0 ? order / value : 1.0, 2.0) * 0.5 * terms->line[i].noise_power;
    }
    double u = terms->u_reference * value / terms->reference, half = lds_coverage(INFINITY) * u;
    double per_cent = 100.0 / terms->reference;
    lds_figure_set(figure, per_cent * value, per_cent * (value - hypot(sqrt(down), half)),
                   per_cent * (value + hypot(sqrt(up), half)), per_cent * sqrt(variance + u * u), INFINITY);
}

/* m levels of a given total power add up to the most when they are equal, to sqrt(m) times its root; the orders, which
 * add as powers, make no difference. */
static bool set_limit(const struct terms *terms, struct lds_figure *figure)
{
    struct lds_power_sum sum = {0};
    double low, high;
    for (size_t i = 0; i < terms->count; i++)
        lds_power_sum_add(&sum, &terms->line[i]);
    lds_power_sum_limits(&sum, &low, &high);
    if (low > 0.0)
        return false;
    double most = terms->count > 1 ? PER_ORDER : 1.0;
    figure->high = 100.0 * sqrt(most * high) / terms->reference;
    figure->dof = INFINITY;
    figure->flags |= LDS_FLAG_BELOW_FLOOR;
    return true;
}

static bool add_ratio(struct lds_channel *channel, const struct intermodulation *m, const struct lds_findings *findings,
                      const struct ratio *ratio)
{
    char why[192];
    for (size_t i = 0; i < ratio->count; i++)
        if (!can_measure(m, findings, &ratio->product[i], why))
            return lds_channel_add_absent(channel, ratio->key, "%s", why);
    struct terms terms;
    gather(m, findings, ratio, &terms);
    struct lds_figure *figure = lds_channel_add(channel, ratio->key);
    if (!set_limit(&terms, figure))
        set_interval(&terms, figure);
    figure->u_b = 0.0;
    if (m->bank.used < m->bank.frames)
        figure->flags &= ~(unsigned)LDS_FLAG_DRIFTING; /* the tones begin or end, and those frames are left out */
    for (size_t i = 0; i < terms.count; i++)
        figure->flags |= terms.line[i].near_mains ? LDS_FLAG_NEAR_LINE : 0u;
    return true;
}

static bool within(double x, const double limit[2])
{
    return x >= limit[0] && x <= limit[1];
}

/* Why a ratio does not suit these tones; false: it does. */
static bool is_unsuited(const struct intermodulation *m, bool modulation, char why[192])
{
    double ratio = m->level[0] / m->level[1], times = m->tone_hz[1] / m->tone_hz[0];
    if (modulation && !within(ratio, MODULATION))
        snprintf(why, 192, "the lower tone is %.3g times the higher one, and this needs about 4 times: %g to %g", ratio,
                 MODULATION[0], MODULATION[1]);
    else if (modulation && times < APART)
        snprintf(why, 192, "the higher tone is %.3g times the lower one in frequency, and this needs %g times or more",
                 times, APART);
    else if (!modulation && !within(ratio, DIFFERENCE))
        snprintf(why, 192, "the lower tone is %.3g times the higher one, and this needs equal tones: %g to %g", ratio,
                 DIFFERENCE[0], DIFFERENCE[1]);
    else if (!modulation && times >= TOGETHER)
        snprintf(why, 192, "the tones are an octave or more apart (%.3g times), and this needs them closer", times);
    else
        return false;
    return true;
}

/* The list begins with the tones, as the list of harmonics begins with the tone. */
static bool add_tone(struct lds_series *rows, const struct intermodulation *m, const struct lds_findings *findings,
                     double over, int tone)
{
    const struct lds_product one = {{tone == 0, tone == 1}};
    const struct lds_harmonic line = {.order = 1,
                                      .frequency_hz = m->tone_hz[tone],
                                      .phasor = m->level[tone],
                                      .noise_power = tone_noise(m, findings, tone),
                                      .detected = true};
    if (!lds_distortion_row(rows, &line, over * over, findings))
        return false;
    lds_product_name(&one, rows->text[rows->rows - 1], LDS_SERIES_TEXT);
    return true;
}

static bool add_products(struct lds_channel *channel, const struct intermodulation *m,
                         const struct lds_findings *findings, bool modulation)
{
    struct lds_series *rows = lds_channel_add_series(channel, "products");
    double over = reference(m, modulation);
    char why[192];
    for (int t = 0; rows && t < 2; t++)
        if (!add_tone(rows, m, findings, over, t))
            return false;
    for (size_t i = 0; rows && i < m->bank.products; i++) {
        if (!can_measure(m, findings, &m->bank.product[i], why))
            continue;
        if (!lds_distortion_row(rows, &m->line[i], over * over, findings))
            return false;
        lds_product_name(&m->bank.product[i], rows->text[rows->rows - 1], LDS_SERIES_TEXT);
    }
    return rows != NULL;
}

/* Tones that begin or end within the capture spread over its spectrum, which then does not show the noise. The scatter
 * of the product over frames in which the tones are steady does. */
static double noise_of(const struct intermodulation *m, const struct lds_findings *findings, size_t product)
{
    const struct lds_level *level = &findings->density.level[findings->audio];
    if (m->bank.used == m->bank.frames)
        return lds_known_noise_power(findings, m->line[product].frequency_hz);
    double per_frame = level->line_noise / (level->enbw_bins * level->bin_hz);
    return m->bank.scatter[product] * per_frame * m->bank.frames / m->bank.used;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    const char *const none = findings->scout.why[0] ? findings->scout.why : "there are no two tones";
    const struct intermodulation *kept = state;
    if (!kept || !kept->measured)
        return lds_channel_all_absent(channel, none, ratios[0].key, ratios[1].key, ratios[2].key);
    struct intermodulation m = *kept;
    for (size_t i = 0; i < m.bank.products; i++)
        lds_known_judge(findings, noise_of(&m, findings, i), &m.line[i]);
    bool modulation = false;
    for (size_t r = 0; r < RATIOS; r++) {
        char why[192];
        bool unsuited = is_unsuited(&m, ratios[r].modulation, why);
        modulation = modulation || (ratios[r].modulation && !unsuited);
        if (!(unsuited ? lds_channel_add_absent(channel, ratios[r].key, "%s", why)
                       : add_ratio(channel, &m, findings, &ratios[r])))
            return false;
    }
    return add_products(channel, &m, findings, modulation);
}

const struct lds_analyser lds_analyse_intermodulation = {.signals = 1u << LDS_SIGNAL_TWO_TONE,
                                                         .tone = LDS_WITH_TONE,
                                                         .make = make,
                                                         .frame = push,
                                                         .finish = finish,
                                                         .figures = figures,
                                                         .free = free};
