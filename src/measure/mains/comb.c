/* Which comb explains a segment: one test over all frequencies, all orders and several widths of wander.  For a
 * candidate f with wander w the k-th order lies within k(f - w)..k(f + w). In noise, the power there over the local
 * noise is about Gamma distributed. Its tail probability p turns into an e-value, kappa p^(kappa - 1), whose mean in
 * noise is at most 1 (V. Vovk and R. Wang, "E-values: calibration, combination and applications", Ann. Statist. 49
 * (2021) 1736-1754). An order may be missing: (1 - pi) + pi e. Orders are 50 Hz apart and independent, so their product
 * is an e-value again, and so is any weighted mean over candidates and widths. By Markov's inequality noise exceeds
 * 1/alpha with probability alpha at most, however many candidates there are. */
#include "measure/mains/segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "measure/statistics/median.h"

static const double KAPPA = 0.1, PRESENT = 0.2;
static const double ABSENT = -0.19845093872383832;         /* ln(1 - PRESENT + PRESENT KAPPA) */
static const double LOG_PUBLIC = 0.6, PUBLIC_FALL = 400.0; /* exp(0.6 - 4) of the weight is left 1 % away, and the
                                                            * integrals over 50 Hz and 60 Hz add up to 1 */
static const double LOWEST_SIDEBAND_HZ = 10.0, SIDEBAND_CAP = 13.0; /* so a pair outweighs any order that a line may
                                                                     * fall on by chance */
enum { KNOTS_MAX = 160, SAMPLE_MAX = 601 };

struct search {
    const struct lds_mains_spectrum *spectrum;
    const struct lds_mains_tones *tones;
    double tone_reach_hz;
    double *cumulative; /* of power over noise, bins + 1 */
    size_t bins;
    double log_knot[KNOTS_MAX], log_level[KNOTS_MAX];
    int knots;
    double dof_bins; /* independent bins behind a knot */
    double top_hz;
};

static double bin_power(const struct lds_mains_spectrum *spectrum, size_t i)
{
    const double re = creal(spectrum->bin[i]), im = cimag(spectrum->bin[i]);
    return 2.0 * (re * re + im * im);
}

/* Slope of ln power over ln frequency, with every octave counting alike: short segments need blocks so wide that 1/f
 * noise is not flat in them. */
static double slope(const struct lds_mains_spectrum *spectrum, double low_hz, double high_hz)
{
    double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
    for (size_t i = (size_t)ceil(low_hz / spectrum->bin_hz); (double)i * spectrum->bin_hz < high_hz; i++) {
        const double x = log((double)i), y = log(fmax(1e-300, bin_power(spectrum, i))), w = 1.0 / (double)i;
        n += w;
        sx += w * x;
        sy += w * y;
        sxx += w * x * x;
        sxy += w * x * y;
    }
    return (n * sxy - sx * sy) / (n * sxx - sx * sx);
}

/* The noise is a quantile (the p-quantile of exponential values is -ln(1 - p) means) over blocks so wide that lines are
 * the smaller part of them: the median, or a lower one in a short segment, where the lobes of the orders nearly meet.
 * Its variance is p/((1 - p) n) in units of the mean, against ln(1 - p)^2; this gives the number of bins whose mean
 * would be as good. */
static bool find_noise(struct search *s)
{
    const struct lds_mains_spectrum *spectrum = s->spectrum;
    const double start = fmax(20.0, 7.0 / spectrum->seconds);
    const double end = fmin(s->top_hz + 30.0, LDS_USABLE_SHARE * spectrum->rate_hz);
    const bool brief = spectrum->seconds < 1.0;
    const double p = brief ? 0.15 : 0.5, worth = (1.0 - p) / p * pow(log1p(-p), 2.0);
    double *sample = malloc(SAMPLE_MAX * sizeof *sample);
    if (!sample)
        return false;
    s->knots = 0;
    s->dof_bins = INFINITY;
    const double width = fmin(fmax(60.0, (brief ? 80.0 : 30.0) / spectrum->seconds), end - start);
    const double steep = brief ? slope(spectrum, start, end) : 0.0;
    for (double low = start; low + width < end + 1.0 && s->knots < KNOTS_MAX; low += 0.5 * width) {
        const size_t first = (size_t)(low / spectrum->bin_hz), last = (size_t)((low + width) / spectrum->bin_hz);
        const size_t stride = 1 + (last - first) / (SAMPLE_MAX - 1);
        const double middle = sqrt((double)first * (double)last);
        size_t count = 0;
        for (size_t i = first; i <= last && i < spectrum->bins && count < SAMPLE_MAX; i += stride)
            sample[count++] = bin_power(spectrum, i) * pow((double)i / middle, -steep);
        const double quantile = lds_smallest(sample, count, (size_t)(p * (double)count));
        s->log_knot[s->knots] = log(sqrt(low * (low + width)));
        s->log_level[s->knots++] = log(fmax(1e-300, quantile / -log1p(-p)));
        s->dof_bins = fmin(s->dof_bins, worth * fmin((double)count, width / spectrum->enbw_hz));
    }
    free(sample);
    return true;
}

static double noise_at(const struct search *s, double frequency_hz)
{
    const double x = log(frequency_hz);
    int i = 0;
    while (i < s->knots - 2 && x > s->log_knot[i + 1])
        i++;
    if (s->knots < 2)
        return exp(s->log_level[0]);
    const double u = fmin(2.0, fmax(-2.0, (x - s->log_knot[i]) / (s->log_knot[i + 1] - s->log_knot[i])));
    return exp(s->log_level[i] + u * (s->log_level[i + 1] - s->log_level[i]));
}

static bool accumulate(struct search *s)
{
    const struct lds_mains_spectrum *spectrum = s->spectrum;
    s->bins = (size_t)fmin((double)spectrum->bins, (s->top_hz + 5.0) / spectrum->bin_hz);
    s->cumulative = malloc((s->bins + 1) * sizeof *s->cumulative);
    if (!s->cumulative)
        return false;
    const size_t block = 1 + (size_t)(2.0 / spectrum->bin_hz); /* the noise is evaluated every 2 Hz */
    double noise = 1.0;
    s->cumulative[0] = 0.0;
    for (size_t i = 0; i < s->bins; i++) {
        if (i % block == 0)
            noise = 1.0 / noise_at(s, fmax(10.0, ((double)i + 0.5 * (double)block) * spectrum->bin_hz));
        s->cumulative[i + 1] = s->cumulative[i] + bin_power(spectrum, i) * noise;
    }
    return true;
}

/* Power over noise in f - w..f + w, summed in independent bins, and the number of those. */
static double box(const struct search *s, double f, double w, double *independent)
{
    const double scale = 1.0 / s->spectrum->bin_hz;
    const double low = fmin(fmax(0.0, floor((f - w) * scale + 0.5)), (double)s->bins - 1.0),
                 high = fmax(low + 1.0, ceil((f + w) * scale + 0.5));
    const size_t a = (size_t)low, b = high < (double)s->bins ? (size_t)high : s->bins;
    const double bins = (double)(b - a);
    *independent = fmax(1.0, bins * s->spectrum->bin_hz / s->spectrum->enbw_hz);
    return (s->cumulative[b] - s->cumulative[a]) / bins * *independent;
}

/* ln of the e-value of one line, at most about `cap`. The Gamma tail by Chernoff's bound, -ln p >= q - m - m ln(q/m);
 * the noise is known from only dof_bins bins, which turns exp(-c) into (1 + c/M)^-M. */
static double evidence(const struct search *s, double q, double m, double cap)
{
    if (q <= m)
        return ABSENT;
    double c = m > 1.0 ? q - m - m * log(q / m) : q;
    c = s->dof_bins * log1p(c / s->dof_bins);
    const double e = fmin(cap, log(KAPPA) + (1.0 - KAPPA) * c);
    return log(1.0 - PRESENT + PRESENT * exp(e));
}

static double log_add(double a, double b)
{
    if (a == b) /* most often: there is no line at either place */
        return a + M_LN2;
    const double high = fmax(a, b), low = fmin(a, b);
    return low == -INFINITY ? high : high + log1p(exp(low - high));
}

/* Whether a line there cannot be seen: beyond the last order, or too close to the tone or a harmonic. */
static bool hidden(const struct search *s, double frequency_hz)
{
    return frequency_hz > s->top_hz || lds_mains_tones_distance(s->tones, frequency_hz) < s->tone_reach_hz;
}

/* What a candidate finds where one of its lines would be: the evidence, and the power over noise. */
struct seen {
    double evidence, energy;
};

static struct seen line_at(const struct search *s, double frequency_hz, double w, double cap)
{
    double bins;
    const double energy = box(s, frequency_hz, w, &bins);
    return (struct seen){evidence(s, energy, bins, cap), energy};
}

static void add(struct seen *sum, struct seen line)
{
    sum->evidence += line.evidence;
    sum->energy += line.energy;
}

/* A single order may decide alone only if it is a low one. */
static double order_cap(int k)
{
    return k <= 6 ? 26.0 - 0.5 * k : 7.0;
}

/* An order, and the sideband of the tone that would stand close to it. A line at either is evidence for this candidate;
 * the mean of two e-values is an e-value. */
static struct seen order_at(const struct search *s, double f, double w, int k)
{
    struct seen order = line_at(s, k * f, k * w, order_cap(k));
    int turns;
    const double beside_hz = lds_mains_sideband_near(s->tones, f, k * f, &turns);
    if (fabs(beside_hz - k * f) >= s->tone_reach_hz)
        return order;
    const struct seen beside = line_at(s, beside_hz, turns * w, order_cap(k));
    return (struct seen){log_add(order.evidence, beside.evidence) - M_LN2, order.energy};
}

static double sideband_hz(const struct search *s, double f, int turns)
{
    return fabs(s->tones->frequency_hz[0] + turns * f);
}

/* Whether the tone's sideband can be seen, and not one before it at the same place. */
static bool counts(const struct search *s, double f, int turns)
{
    const double at_hz = sideband_hz(s, f, turns);
    if (turns == 0 || at_hz < LOWEST_SIDEBAND_HZ || hidden(s, at_hz))
        return false;
    for (int before = -LDS_MAINS_SIDEBANDS; before < turns; before++)
        if (fabs(at_hz - sideband_hz(s, f, before)) < s->tone_reach_hz)
            return false;
    return true;
}

/* ln of a candidate's e-value, the mean of two: that of its orders, and that of the tone's sidebands, which show the
 * mains as well where there is no hum. other_hz: count only what the tone hides neither here nor for a
 * mains of that frequency; or NAN. *energy: power over noise of all orders, or of all sidebands where that is more. The
 * caps on the evidence give a strong comb a plateau of equal evidence, on which the highest power decides. */
static double candidate(const struct search *s, double f, double w, double other_hz, double *energy)
{
    struct seen orders = {0}, sidebands = {0};
    for (int k = 1; k <= LDS_MAINS_ORDERS && k * f <= s->top_hz; k++)
        if (!hidden(s, k * f) && !(other_hz > 0.0 && hidden(s, k * other_hz)))
            add(&orders, order_at(s, f, w, k));
    *energy = orders.energy;
    if (s->tones->harmonics == 0)
        return orders.evidence;
    for (int turns = -LDS_MAINS_SIDEBANDS; turns <= LDS_MAINS_SIDEBANDS; turns++)
        if (counts(s, f, turns) && !(other_hz > 0.0 && hidden(s, sideband_hz(s, other_hz, turns))))
            add(&sidebands, line_at(s, sideband_hz(s, f, turns), abs(turns) * w, SIDEBAND_CAP));
    *energy = fmax(orders.energy, sidebands.energy);
    return log_add(orders.evidence, sidebands.evidence) - M_LN2;
}

/* Prior weight of a candidate, per Hz: public mains is within 1 % of 50 or 60 Hz, and mostly much closer (common
 * practice, no source); at other frequencies (a generator) one line is not enough. */
static double log_prior(double f, double nominal_hz)
{
    if (isfinite(nominal_hz))
        return log(1.0 / (0.04 * nominal_hz));
    const double off = fmin(fabs(f - 50.0) / 50.0, fabs(f - 60.0) / 60.0);
    return off < 0.01 ? LOG_PUBLIC - PUBLIC_FALL * off : log(1e-6);
}

struct best {
    double score, log_weight, frequency_hz, w;
};

/* All candidates of one width; outside public mains only the widest is used. */
static double scan(const struct search *s, double low, double high, double w, bool widest, double nominal_hz,
                   double near_hz, struct best *best)
{
    double total = -INFINITY;
    for (double f = low; f <= high; f += w) {
        if (log_prior(f, nominal_hz) < -10.0 && !widest)
            continue;
        double power;
        const double log_weight = log_prior(f, nominal_hz) + log(w) + candidate(s, f, w, NAN, &power);
        total = log_add(total, log_weight);
        if (isfinite(near_hz) && fabs(f - near_hz) > 0.3)
            continue;
        /* The score is for the choice, not for the evidence: of a strong hum, the comb that holds more power is better.
         * Wider boxes have the same weight on average, so they are compared per candidate. */
        const double score = log_weight - log(w) + 2.0 * log(power);
        if (score > best->score)
            *best = (struct best){score, log_weight - log(w), f, w};
    }
    return total;
}

/* Whether there is far less evidence for f than for `start`: by what is hidden for neither; or by all, since what f
 * hides must not be most of it. */
static bool falls(const struct search *s, double f, double start, double w, double nominal_hz)
{
    double power;
    return candidate(s, f, w, start, &power) + log_prior(f, nominal_hz) <
               candidate(s, start, w, f, &power) + log_prior(start, nominal_hz) - 20.0 ||
           candidate(s, f, w, NAN, &power) < 0.5 * candidate(s, start, w, NAN, &power);
}

/* Moves to the comb with the most energy near the best one. Which orders the tone hides changes from one frequency to
 * the next, and a few more orders, reached by the skirts of strong lines, must not outweigh the lines themselves. So
 * two combs are compared by the orders that are hidden in neither. */
static void climb(const struct search *s, struct best *best, double w, double low, double high, double nominal_hz)
{
    const double reach = fmin(3.0, fmax(0.5, 8.0 / s->spectrum->taper_s)), start = best->frequency_hz;
    double at = start;
    for (int side = -1; side <= 1; side += 2)
        for (double f = start + side * w; fabs(f - start) < reach; f += side * w) {
            if (f < low || f > high || falls(s, f, start, best->w, nominal_hz))
                break;
            double here, there;
            candidate(s, f, w, at, &here);
            candidate(s, at, w, f, &there);
            if (here > there)
                at = f;
        }
    best->frequency_hz = at;
}

static bool is_beside_sideband(const struct search *s, double f, int k)
{
    int turns;
    return fabs(lds_mains_sideband_near(s->tones, f, k * f, &turns) - k * f) < s->tone_reach_hz;
}

static void describe(struct lds_comb *comb, const struct search *s, double w)
{
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        comb->density[k] = comb->floor[k] = NAN;
        comb->energy[k] = comb->scatter[k] = 0.0;
        if (k * comb->frequency_hz <= s->top_hz)
            comb->floor[k] = noise_at(s, k * comb->frequency_hz) / s->spectrum->enbw_hz;
        if (hidden(s, k * comb->frequency_hz))
            continue;
        double m;
        const double q = box(s, k * comb->frequency_hz, k * w, &m);
        comb->density[k] = comb->floor[k];
        comb->energy[k] = q - m;
        comb->scatter[k] = sqrt(m);
        comb->beside[k] = is_beside_sideband(s, comb->frequency_hz, k);
    }
}

bool lds_comb_find(struct lds_comb *comb, const struct lds_mains_spectrum *spectrum,
                   const struct lds_mains_tones *tones, double nominal_hz, double near_hz)
{
    static const double WIDTHS[] = {0.004, 0.016, 0.05};
    struct search s = {.spectrum = spectrum, .tones = tones, .tone_reach_hz = fmax(2.0, 7.0 / spectrum->taper_s)};
    s.top_hz = fmin(LDS_MAINS_TOP_HZ, 0.4 * spectrum->rate_hz);
    memset(comb, 0, sizeof *comb);
    if (!find_noise(&s) || s.knots == 0 || !accumulate(&s))
        return false;
    const bool wide = !isfinite(nominal_hz);
    const double low = wide ? 45.0 : 0.98 * nominal_hz, high = wide ? 65.0 : 1.02 * nominal_hz;
    const double least = 1.0 / (2.0 * LDS_MAINS_ORDERS * spectrum->seconds);
    struct best best = {-INFINITY, -INFINITY, 0.5 * (low + high), least};
    double total = -INFINITY, first = 0.0;
    int widths = 0;
    for (size_t i = 0; i < sizeof WIDTHS / sizeof *WIDTHS; i++) {
        const double w = fmax(WIDTHS[i], least);
        if (widths && w <= first)
            continue;
        first = widths ? first : w;
        widths++;
        total = log_add(total, scan(&s, low, high, w, i + 1 == sizeof WIDTHS / sizeof *WIDTHS || w == least, nominal_hz,
                                    near_hz, &best));
    }
    if (best.log_weight > -INFINITY)
        climb(&s, &best, first, low, high, nominal_hz);
    comb->log_evidence = total - log(widths);
    comb->frequency_hz = best.frequency_hz;
    comb->step_hz = fmax(first, best.w);
    describe(comb, &s, fmax(0.05, least));
    free(s.cumulative);
    return true;
}
