#include "measure/mains/mains.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <fftw3.h>

#include "measure/mains/lines.h"
#include "measure/mains/segment.h"
#include "measure/statistics/noncentral.h"

static const double SEGMENT_S = 64.0, SHORTEST_S = 0.15, CHANCE = 1e-3;
static const double LITTLE = 3e-8; /* of the rms: -150 dB, less than 24 bits can leave beside a tone near full scale */
static const double EXACT = 1e-7;  /* of a level: the least uncertainty reported, since samples of a computed signal are
                                    * rounded too */
enum { WAVEFORM_POINTS = 512 };

/* Sums over the segments, weighted by their lengths. */
struct sums {
    int segments;
    double seconds, frequency, u2_frequency, low_hz, high_hz; /* of those that could be followed */
    int count[LDS_MAINS_ORDERS + 1], near_tone[LDS_MAINS_ORDERS + 1], shared[LDS_MAINS_ORDERS + 1];
    double weight[LDS_MAINS_ORDERS + 1], power[LDS_MAINS_ORDERS + 1], noise[LDS_MAINS_ORDERS + 1];
    double complex amplitude[LDS_MAINS_ORDERS + 1]; /* aligned to the first segment's phase */
    double eighth_weight[LDS_BLOCKS][LDS_MAINS_ORDERS + 1];
    double eighth_power[LDS_BLOCKS][LDS_MAINS_ORDERS + 1], eighth_noise[LDS_BLOCKS][LDS_MAINS_ORDERS + 1];
};

struct lds_mains {
    double rate_hz, nominal_hz, tone_hz, second_hz, seconds;
    double *x;
    size_t held, segment, capacity;
    size_t done;                  /* samples of the segments already analysed and dropped */
    int closed, planned, blind;   /* segments; blind: in which the tone hides most of the low orders */
    double known_hz;              /* a comb found in an earlier segment, or NAN */
    double log_mean, log_product; /* of the segments' e-values */
    struct sums proved, doubtful; /* by whether the segment's frequency is known */
};

struct lds_mains *lds_mains_new(double rate_hz, double nominal_hz, double tone_hz, double seconds)
{
    struct lds_mains *m = calloc(1, sizeof *m);
    if (!m)
        return NULL;
    m->rate_hz = rate_hz;
    m->nominal_hz = nominal_hz;
    m->tone_hz = tone_hz;
    m->second_hz = NAN;
    m->seconds = seconds;
    m->known_hz = NAN;
    m->log_mean = -INFINITY;
    m->planned = seconds > SEGMENT_S ? (int)ceil(seconds / SEGMENT_S) : 1;
    m->segment = (size_t)floor(seconds * rate_hz / m->planned);
    m->capacity = m->segment + (size_t)(1.0 + 0.1 * rate_hz);
    m->x = fftw_alloc_real(lds_mains_spectrum_room(m->capacity, rate_hz));
    if (!m->x) {
        free(m);
        return NULL;
    }
    return m;
}

void lds_mains_second_tone(struct lds_mains *mains, double second_hz)
{
    mains->second_hz = second_hz;
}

void lds_mains_free(void *state)
{
    struct lds_mains *m = state;
    if (m)
        fftw_free(m->x);
    free(m);
}

/* Turns the segment's phase so that its orders line up with those so far: in each segment the zero of psi is
 * arbitrary. */
static double alignment(const struct sums *sums, const struct lds_mains_line *line)
{
    enum { STEPS = 4096 };
    double best = 0.0, at = 0.0;
    for (int s = 0; s < STEPS; s++) {
        const double angle = 2.0 * M_PI * s / STEPS;
        const double complex base = cexp(-I * angle);
        double complex turn = 1.0;
        double sum = 0.0;
        for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
            turn *= base;
            if (line[k].usable && line[k].power > 4.0 * line[k].noise)
                sum += creal(line[k].amplitude * turn * conj(sums->amplitude[k])) / line[k].noise;
        }
        if (sum > best) {
            best = sum;
            at = angle;
        }
    }
    return at;
}

static void add_lines(struct sums *sums, const struct lds_mains_line *line, double seconds)
{
    const double angle = sums->segments ? alignment(sums, line) : 0.0;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        sums->near_tone[k] += line[k].near_tone;
        if (!line[k].usable)
            continue;
        sums->count[k]++;
        sums->shared[k] += line[k].shared;
        sums->weight[k] += seconds;
        sums->power[k] += seconds * line[k].power;
        sums->noise[k] += seconds * line[k].noise;
        sums->amplitude[k] += seconds * line[k].amplitude * cexp(-I * (k * angle));
    }
}

/* An order's power by eighths of the capture, each from stretches of the segment averaged coherently. */
struct eighths {
    const struct lds_mains *mains;
    const struct lds_mains_bands *bands;
    struct sums *sums;
};

static int eighth_at(const struct eighths *e, size_t point)
{
    const double t = (double)e->mains->done / e->mains->rate_hz + (double)point / e->bands->rate_hz;
    const int eighth = (int)(LDS_BLOCKS * t / e->mains->seconds);
    return eighth < LDS_BLOCKS ? eighth : LDS_BLOCKS - 1;
}

static void add_eighths(void *context, int order, const double complex *z, double density)
{
    const struct eighths *e = context;
    const struct lds_mains_bands *bands = e->bands;
    for (size_t m = 0; m < bands->inside;) {
        const int eighth = eighth_at(e, m);
        const size_t first = m;
        double sum = 0.0, sum2 = 0.0;
        double complex c = 0.0;
        for (; m < bands->inside && eighth_at(e, m) == eighth; m++) {
            sum += bands->taper[m];
            sum2 += bands->taper[m] * bands->taper[m];
            c += z[m];
        }
        if (sum < 0.25 * (double)(m - first))
            continue;
        c /= sum;
        const double weight = sum / bands->rate_hz, noise = density * bands->rate_hz * sum2 / (sum * sum);
        e->sums->eighth_weight[eighth][order] += weight;
        e->sums->eighth_power[eighth][order] += weight * (2.0 * (creal(c) * creal(c) + cimag(c) * cimag(c)) - noise);
        e->sums->eighth_noise[eighth][order] += weight * noise;
    }
}

static double log_add(double a, double b)
{
    const double high = fmax(a, b), low = fmin(a, b);
    return low == -INFINITY ? high : high + log1p(exp(low - high));
}

static void add_segment(struct sums *sums, const struct lds_mains_track *track, const struct lds_mains_line *line,
                        double seconds)
{
    add_lines(sums, line, seconds);
    sums->segments++;
    if (!track->steered)
        return;
    sums->low_hz = sums->seconds > 0.0 ? fmin(sums->low_hz, track->low_hz) : track->low_hz;
    sums->high_hz = sums->seconds > 0.0 ? fmax(sums->high_hz, track->high_hz) : track->high_hz;
    sums->seconds += seconds;
    sums->frequency += seconds * track->frequency_hz;
    sums->u2_frequency += seconds * seconds * track->u_frequency_hz * track->u_frequency_hz;
}

/* Demodulates, tracks and measures the orders. */
static bool follow(struct lds_mains *m, const struct lds_mains_spectrum *spectrum, struct lds_mains_tones *tones,
                   const struct lds_comb *comb, struct sums *sums)
{
    struct lds_mains_bands bands = {0};
    struct lds_mains_track track = {0};
    struct lds_mains_line line[LDS_MAINS_ORDERS + 1];
    struct eighths eighths = {m, &bands, sums};
    lds_mains_sidebands_find(spectrum, comb, comb->frequency_hz, comb->step_hz, tones);
    bool memory = lds_mains_bands_make(&bands, spectrum, comb->frequency_hz) &&
                  lds_mains_track_make(&track, &bands, comb, tones, spectrum->taper_s);
    if (memory) {
        const double wander_hz = 0.5 * (track.high_hz - track.low_hz);
        lds_mains_sidebands_find(spectrum, comb, track.frequency_hz, wander_hz, tones);
        memory = lds_mains_lines_measure(line, &bands, &track, tones, spectrum, add_eighths, &eighths);
    }
    if (memory) {
        add_segment(sums, &track, line, spectrum->seconds);
        if (sums == &m->proved)
            m->known_hz = track.frequency_hz;
    }
    lds_mains_track_free(&track);
    lds_mains_bands_free(&bands);
    return memory;
}

/* A computed signal may hold no noise at all; beside its lines there are then only their own skirts, which say nothing
 * about noise. So a little noise is added, far below that of any converter, and always the same. */
static void add_a_little_noise(double *x, size_t n)
{
    double sum = 0.0, square = 0.0;
    for (size_t i = 0; i < n; i++) {
        sum += x[i];
        square += x[i] * x[i];
    }
    const double variance = square / (double)n - sum / (double)n * (sum / (double)n);
    const double step = LITTLE * sqrt(12.0 * fmax(0.0, variance)) * 0x1p-32;
    uint32_t state = 1;
    for (size_t i = 0; i < n; i++) {
        state = state * 1664525u + 1013904223u; /* Knuth and Lewis, from memory */
        x[i] += step * ((double)state - 0x1p31);
    }
}

static bool is_blind(const struct lds_comb *comb)
{
    enum { LOW_ORDERS = 6 };
    int hidden = 0;
    for (int k = 1; k <= LOW_ORDERS; k++)
        hidden += isnan(comb->density[k]);
    return 2 * hidden > LOW_ORDERS;
}

static bool close_segment(struct lds_mains *m)
{
    struct lds_mains_spectrum spectrum;
    struct lds_mains_tones tones;
    struct lds_comb comb;
    add_a_little_noise(m->x, m->held);
    bool memory = lds_mains_spectrum_make(&spectrum, m->x, m->held, m->rate_hz);
    if (memory) {
        lds_mains_tones_find(&spectrum, m->tone_hz, m->second_hz, &tones);
        memory = lds_comb_find(&comb, &spectrum, &tones, m->nominal_hz, m->known_hz);
    }
    if (memory) {
        m->log_mean = log_add(m->log_mean, comb.log_evidence);
        m->log_product += comb.log_evidence;
        m->blind += is_blind(&comb);
        const bool proved = comb.log_evidence > -log(CHANCE / m->planned) || isfinite(m->known_hz);
        memory = follow(m, &spectrum, &tones, &comb, proved ? &m->proved : &m->doubtful);
    }
    m->done += m->held;
    m->held = 0;
    m->closed++;
    return memory;
}

bool lds_mains_push(void *state, const double *x, size_t n)
{
    struct lds_mains *m = state;
    while (n > 0) {
        /* The last segment also takes the remainder. */
        const size_t full = m->closed + 1 < m->planned ? m->segment : m->capacity;
        const size_t some = n < full - m->held ? n : full - m->held;
        memcpy(m->x + m->held, x, some * sizeof *x);
        m->held += some;
        x += some;
        n -= some;
        if (m->held == full && !close_segment(m))
            return false;
    }
    return true;
}

/* Where no comb was found, the tone may have hidden it: does an order of public (or the stated) mains fall on the tone
 * or a harmonic, within 2 Hz and half a percent? */
static bool hidden_by_tone(const struct lds_mains *m, int k)
{
    const double mains_hz[2] = {isfinite(m->nominal_hz) ? m->nominal_hz : 50.0,
                                isfinite(m->nominal_hz) ? m->nominal_hz : 60.0};
    if (!(m->tone_hz > 0.0))
        return false;
    for (int i = 0; i < 2; i++) {
        const double f = k * mains_hz[i], harmonic = fmax(1.0, round(f / m->tone_hz));
        if (fabs(f - harmonic * m->tone_hz) < 2.0 + 0.005 * f)
            return true;
    }
    return false;
}

static void order_result(const struct lds_mains *m, const struct sums *sums, int k, bool found,
                         struct lds_mains_order *order)
{
    *order = (struct lds_mains_order){.power = NAN, .noise_power = NAN, .low = NAN, .high = NAN};
    order->near_tone = 2 * sums->near_tone[k] > sums->segments || (!found && hidden_by_tone(m, k));
    order->usable = !order->near_tone && 2 * sums->count[k] > sums->segments;
    if (!order->usable)
        return;
    const double raw = sums->power[k] / sums->weight[k];
    const double noise = fmax(sums->noise[k] / sums->weight[k], EXACT * EXACT * raw);
    const int n = sums->count[k];
    order->power = raw - noise;
    order->noise_power = noise / n;
    order->detected = found && lds_noncentral_chance(n * raw, noise, n) < CHANCE;
    lds_noncentral_limits(n * raw, noise, n, &order->low, &order->high);
    order->low = found ? order->low / n : 0.0;
    order->high /= n;
    order->shared = found && sums->shared[k] > 0;
}

/* A sideband of the tone may add to the hum on a shared order or cancel part of it, so the limits are widened to
 * include the hum expected from the orders around it. */
static void widen_shared(struct lds_mains_result *result)
{
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        struct lds_mains_order *order = &result->order[k];
        if (!order->shared)
            continue;
        struct lds_mains_expected expected;
        lds_mains_expect(result, k, &expected);
        order->low = fmin(order->low, expected.low);
        order->high = fmax(order->high, expected.high);
    }
}

/* Peak to peak of the total of the detected orders over eighths; u from the variance of |C|^2 - n, which is n^2 + 2 n
 * V^2. */
static void total_wander(const struct sums *sums, struct lds_mains_result *result)
{
    double low = INFINITY, high = -INFINITY, u2_low = 0.0, u2_high = 0.0;
    int eighths = 0;
    for (int e = 0; e < LDS_BLOCKS; e++) {
        double total = 0.0, variance = 0.0;
        for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
            const double weight = sums->eighth_weight[e][k];
            if (!result->order[k].detected || !(weight > 0.0))
                continue;
            const double power = sums->eighth_power[e][k] / weight, noise = sums->eighth_noise[e][k] / weight;
            total += power;
            variance += noise * noise + 2.0 * noise * fmax(0.0, power);
        }
        if (!(total > 0.0))
            continue;
        eighths++;
        const double db = 10.0 * log10(total), u2 = variance * pow(10.0 / M_LN10 / total, 2.0);
        if (db < low) {
            low = db;
            u2_low = u2;
        }
        if (db > high) {
            high = db;
            u2_high = u2;
        }
    }
    if (eighths < LDS_BLOCKS / 2)
        return;
    result->total_wander_db = high - low;
    result->total_wander_u_db = sqrt(u2_low + u2_high);
}

/* One period, starting where the lowest detected order rises through zero. */
static void waveform(const struct sums *sums, struct lds_mains_result *result)
{
    double zero = 0.0;
    int lowest = 0;
    for (int k = 1; k <= LDS_MAINS_ORDERS && !lowest; k++)
        lowest = result->order[k].detected ? k : 0;
    if (lowest)
        zero = (carg(sums->amplitude[lowest]) + 0.5 * M_PI) / lowest;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        if (!result->order[k].detected || !(result->order[k].power > 0.0))
            continue;
        const double peak = sqrt(2.0 * result->order[k].power), phase = carg(sums->amplitude[k]) - k * zero;
        for (int i = 0; i < WAVEFORM_POINTS; i++)
            result->waveform[i] += peak * cos(2.0 * M_PI * k * i / WAVEFORM_POINTS + phase);
    }
}

bool lds_mains_finish(struct lds_mains *m, const struct lds_density *density, struct lds_mains_result *result)
{
    (void)density; /* the noise around each order is taken from the demodulated stream, where neighbours 50 Hz away and
                    * the tone do not disturb it */
    const double left = (double)m->held / m->rate_hz;
    if (left >= SHORTEST_S && (!m->closed || m->held > m->segment / 2) && !close_segment(m))
        return false;
    memset(result, 0, sizeof *result);
    result->frequency_hz = result->u_frequency_hz = result->wander_hz = NAN;
    result->total_wander_db = result->total_wander_u_db = NAN;
    /* The mean and the product of independent e-values are e-values, and so is the mean of those two. */
    const double log_mean = m->log_mean - log(fmax(1.0, m->closed));
    const double evidence = m->closed > 1 ? log_add(log_mean, m->log_product) - M_LN2 : m->log_product;
    const struct sums *sums = m->proved.segments ? &m->proved : &m->doubtful;
    const bool comb = m->closed > 0 && evidence > -log(CHANCE);
    result->found = comb && sums->seconds > 0.0;
    result->veiled = !result->found && (comb || 2 * m->blind > m->closed);
    for (int k = 0; k <= LDS_MAINS_ORDERS; k++)
        order_result(m, sums, k, result->found, &result->order[k]);
    if (!result->found)
        return true;
    widen_shared(result);
    result->frequency_hz = sums->frequency / sums->seconds;
    result->u_frequency_hz = sqrt(sums->u2_frequency) / sums->seconds;
    result->wander_hz = 0.5 * (sums->high_hz - sums->low_hz);
    if (m->seconds >= 4.0)
        total_wander(sums, result);
    waveform(sums, result);
    return true;
}
