/* Tones besides the first: lines of comparable size that are not its harmonics, its sidebands or hum. The thresholds
 * are common practice, no source. */
#include "measure/signal/scout_look.h"

#include <math.h>

static const double LEAST = 0.0063;     /* of the first one's power: 22 dB, a little more than ten to one in level */
static const double MIRROR = 4.0;       /* of power: an upper and a lower sideband rarely differ by more */
static const double LEAST_DBFS = -50.0; /* of the first: weaker ones are lines of an idle output */
static const double LEAST_V = 0.01;
static const double FLUTTER = 0.05; /* of the tone: no real flutter is larger */
/* Of power, relative to the true harmonics: a line this strong is not one of them. */
static const double DOMINANT = 10.0;
enum {
    LINES = 24,
    PRODUCTS = 5,
    FAR_ORDER = 8,
    FAR_ORDERS = 12,
    LOW_ORDERS = 6,
    HUM_ORDERS = 20,
    FOLDED_ORDERS = 15,
    APART_BINS = 2 * LDS_SCOUT_LOBE
};

struct around {
    const struct lds_stretch *look;
    const struct lds_scout_line *first;
    double bin_hz, mains_hz;
    int count;
    struct lds_scout_line line[LINES];
};

static bool same(const struct around *a, double x_hz, double y_hz, double bins)
{
    return fabs(x_hz - y_hz) < bins * a->bin_hz;
}

static double power_at(const struct around *a, double frequency_hz)
{
    double power = 0.0;
    for (int i = 0; i < a->count; i++)
        if (same(a, a->line[i].frequency_hz, frequency_hz, 2.0))
            power = fmax(power, a->line[i].power);
    return power;
}

/* Whether high is a harmonic of low. A match with a high order is taken for chance if no other harmonic is nearly as
 * strong. */
static bool is_harmonic(const struct around *a, double low_hz, double high_hz, double weaker)
{
    double order = round(high_hz / low_hz);
    if (order < 2.0 || !same(a, high_hz, order * low_hz, 2.0 + 0.01 * order))
        return false;
    if (order < FAR_ORDER)
        return true;
    for (int k = 2; k <= FAR_ORDERS; k++)
        if (k != (int)order && power_at(a, k * low_hz) * DOMINANT > weaker)
            return true;
    return power_at(a, high_hz + low_hz) * DOMINANT > weaker && power_at(a, high_hz - low_hz) * DOMINANT > weaker;
}

static bool is_sideband(const struct around *a, const struct lds_scout_line *line)
{
    struct lds_scout_line mirror;
    double noise;
    lds_scout_at(a->look, 2.0 * a->first->frequency_hz - line->frequency_hz, &mirror, &noise);
    return mirror.power > line->power / MIRROR && mirror.power < line->power * MIRROR;
}

static double folded(double frequency_hz, double rate_hz)
{
    double f = fmod(frequency_hz, rate_hz);
    return fmin(f, rate_hz - f);
}

/* Whether a line is a harmonic folded back from above half the rate, as in a computed signal; then a lower harmonic is
 * as strong. */
static bool is_folded(const struct around *a, const struct lds_scout_line *line)
{
    double rate_hz = a->look->request->rate_hz, lower = 0.0;
    for (int k = 2; k <= FOLDED_ORDERS; k++) {
        double f = folded(k * a->first->frequency_hz, rate_hz);
        if (same(a, f, line->frequency_hz, 2.0 + 0.01 * k))
            return lower >= line->power;
        lower = fmax(lower, power_at(a, f));
    }
    return false;
}

/* How many of the lines are low orders of this mains. */
static int in_company(const struct around *a, double mains_hz)
{
    int count = 0;
    for (int i = 0; i < a->count; i++) {
        double order = round(a->line[i].frequency_hz / mains_hz);
        count += order >= 1.0 && order <= HUM_ORDERS &&
                 same(a, a->line[i].frequency_hz, order * mains_hz, 1.0 + 0.1 * order);
    }
    return count;
}

static bool is_hum(const struct around *a, const struct lds_scout_line *line)
{
    static const double nominal_hz[] = {50.0, 60.0};
    double order = a->mains_hz > 0.0 ? round(line->frequency_hz / a->mains_hz) : 0.0;
    if (order >= 1.0 && same(a, line->frequency_hz, order * a->mains_hz, 2.0 + 0.02 * order))
        return true;
    for (int i = 0; i < 2; i++) {
        int k = (int)round(line->frequency_hz / nominal_hz[i]);
        if (k < 1 || k > HUM_ORDERS || fabs(line->frequency_hz / (k * nominal_hz[i]) - 1.0) > 0.01)
            continue;
        if (k <= LOW_ORDERS || in_company(a, line->frequency_hz / k) > 2)
            return true;
    }
    return false;
}

/* A product of two tones, or a harmonic of the second. */
static bool is_product(const struct around *a, double second_hz, double frequency_hz)
{
    for (int p = -PRODUCTS; p <= PRODUCTS; p++)
        for (int q = -PRODUCTS; q <= PRODUCTS; q++)
            if (q != 0 && same(a, fabs(p * a->first->frequency_hz + q * second_hz), frequency_hz, 2.0) &&
                (p || q > 1 || q < -1))
                return true;
    return false;
}

static bool is_tone(const struct around *a, const struct lds_scout_line *line)
{
    double f1 = a->first->frequency_hz, f = line->frequency_hz;
    return line->power >= LEAST * a->first->power && !is_harmonic(a, f1, f, line->power) &&
           !is_harmonic(a, f, f1, line->power) && !is_folded(a, line) && lds_scout_is_line(a->look, line) &&
           !is_sideband(a, line) && !is_hum(a, line);
}

/* Flutter with a large modulation index leaves three or more lines close around the tone, and the strongest need not be
 * the middle one; returns their centre. NAN: it is not flutter. */
static double flutter_hz(const struct around *a)
{
    double f1 = a->first->frequency_hz, power = a->first->power, balance = power * f1;
    int lines = 0;
    for (int i = 0; i < a->count; i++) {
        const struct lds_scout_line *line = &a->line[i];
        if (line->power < LEAST * a->first->power || is_harmonic(a, f1, line->frequency_hz, line->power))
            continue;
        if (!(fabs(line->frequency_hz - f1) < FLUTTER * f1))
            return NAN;
        power += line->power;
        balance += line->power * line->frequency_hz;
        lines++;
    }
    return lines >= 2 ? balance / power : (double)NAN;
}

void lds_scout_second(struct lds_stretch *look, const struct lds_scout_line *first, double mains_hz,
                      struct lds_scout *scout)
{
    struct around a = {.look = look, .first = first, .bin_hz = look->bin_hz, .mains_hz = mains_hz};
    if (!lds_scout_reaches(look, first->power, LEAST_V, LEAST_DBFS))
        return;
    struct lds_scout_line line = *first;
    lds_scout_remove(look, &line);
    while (a.count < LINES && lds_scout_strongest(look, LDS_SCOUT_LOWEST, look->bins - LDS_SCOUT_LOWEST - 1, &line)) {
        lds_scout_remove(look, &line);
        if (line.power < 0.1 * LEAST * first->power)
            break;
        if (fabs((double)line.bin - (double)first->bin) > APART_BINS)
            a.line[a.count++] = line;
    }
    double middle_hz = flutter_hz(&a);
    if (!isnan(middle_hz)) {
        scout->tone_hz = middle_hz;
        return;
    }
    for (int i = 0; i < a.count; i++) {
        if (!is_tone(&a, &a.line[i]))
            continue;
        if (scout->tones == 1)
            scout->second_hz = a.line[i].frequency_hz;
        else if (is_product(&a, scout->second_hz, a.line[i].frequency_hz))
            continue;
        scout->tones++;
    }
    if (scout->tones > 2)
        scout->second_hz = NAN;
}
