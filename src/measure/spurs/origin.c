/* Where a spur comes from. Hints, not proofs: each is a coincidence of frequencies within their uncertainties. A test
 * that chance would pass more than once in ten times is not made. */
#include <limits.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "measure/spurs/spurs.h"

enum { LIKELY_ORDERS = 100, SIDEBANDS = 4, TONE_ORDERS = 100, PRODUCT_ORDERS = 5, COMB_ORDERS = 10 };
static const double CHANCE = 0.1; /* largest share of the spacing that a tolerance may cover */
static const double RASTER_HZ = 1000.0;
static const double FINE_RASTER_HZ = 8000.0;
static const double CHECK_FROM_HZ = 20e3;
static const double PAIR_POWER = 10.0; /* largest power ratio of two sidebands of one modulation */
/* From the tone: two lines this close and equally far on both sides are not a coincidence. */
static const double CLOSE_HZ = 40.0;

struct question {
    const struct lds_spur_request *request;
    const struct lds_spur_list *found;
    const struct lds_spur *spur;
    char *origin;
};

static bool multiple_of(double frequency_hz, double base_hz, double tolerance_hz, long *order)
{
    *order = lround(frequency_hz / base_hz);
    return *order >= 1 && tolerance_hz < 0.5 * CHANCE * base_hz &&
           fabs(frequency_hz - (double)*order * base_hz) <= tolerance_hz;
}

static bool is_mains_order(const struct question *q, long highest)
{
    double mains = q->request->mains_hz;
    if (!(mains > 0.0))
        return false;
    double orders = q->spur->frequency_hz / mains;
    long order;
    if (!multiple_of(q->spur->frequency_hz, mains, q->spur->tolerance_hz + orders * q->request->mains_spread_hz,
                     &order) ||
        order > highest)
        return false;
    snprintf(q->origin, 64, "mains order %ld", order);
    return true;
}

static bool is_sideband(const struct question *q)
{
    double tone = q->request->tone_hz, mains = q->request->mains_hz;
    if (!(tone > 0.0) || !(mains > 0.0))
        return false;
    double distance = q->spur->frequency_hz - tone;
    long order = lround(fabs(distance) / mains);
    double tolerance = q->spur->tolerance_hz + (double)order * q->request->mains_spread_hz;
    if (order < 1 || order > SIDEBANDS || fabs(fabs(distance) - (double)order * mains) > tolerance)
        return false;
    snprintf(q->origin, 64, "sideband of the tone at %+ld fm", distance < 0.0 ? -order : order);
    return true;
}

/* A modulation has a sideband on both sides of the tone, equally far and similar; a chance line has no twin. */
static bool is_one_of_two(const struct question *q)
{
    double tone = q->request->tone_hz, distance = q->spur->frequency_hz - tone;
    if (!(tone > 0.0) || fabs(distance) >= 0.5 * tone)
        return false;
    for (size_t i = 0; i < q->found->count; i++) {
        const struct lds_spur *other = &q->found->spur[i];
        double ratio = pow(other->level / q->spur->level, 2.0);
        if (fabs(other->frequency_hz - (tone - distance)) > q->spur->tolerance_hz + other->tolerance_hz ||
            ratio > PAIR_POWER || ratio < 1.0 / PAIR_POWER)
            continue;
        snprintf(q->origin, 64, "sideband of the tone at %+.4g Hz", distance);
        return true;
    }
    return false;
}

static bool is_tone_order(const struct question *q)
{
    long order;
    if (!(q->request->tone_hz > 0.0) ||
        !multiple_of(q->spur->frequency_hz, q->request->tone_hz, q->spur->tolerance_hz, &order) || order > TONE_ORDERS)
        return false;
    snprintf(q->origin, 64, "harmonic %ld of the tone", order);
    return true;
}

/* Common practice, no source: USB transfers audio in frames of 1 ms and 125 us, with a clock that is not the
 * converter's. */
static bool is_on_raster(const struct question *q)
{
    double tolerance = q->spur->tolerance_hz + q->spur->frequency_hz * q->request->clock_ppm * 1e-6;
    long order;
    bool fine = multiple_of(q->spur->frequency_hz, FINE_RASTER_HZ, tolerance, &order);
    if (!fine && !multiple_of(q->spur->frequency_hz, RASTER_HZ, tolerance, &order))
        return false;
    snprintf(q->origin, 64, "1 kHz or 8 kHz raster: the capture chain");
    return true;
}

static void write_term(char term[48], int order, double frequency_hz)
{
    if (order > 1)
        snprintf(term, 48, "%d x %.7g", order, frequency_hz);
    else
        snprintf(term, 48, "%.7g", frequency_hz);
}

/* Sums and differences of two tones; among spurs alone, none could be told from chance. */
static bool is_product(const struct question *q)
{
    double f1 = q->request->tone_hz, f2 = q->request->second_hz;
    if (!(f1 > 0.0) || !(f2 > 0.0))
        return false;
    for (int sum = 2; sum <= PRODUCT_ORDERS; sum++)
        for (int a = sum - 1; a >= 1; a--)
            for (int sign = -1; sign <= 1; sign += 2) {
                double product = a * f1 + sign * (sum - a) * f2;
                if (fabs(fabs(product) - q->spur->frequency_hz) > sum * q->spur->tolerance_hz)
                    continue;
                char first[48], second[48];
                write_term(first, a, f1);
                write_term(second, sum - a, f2);
                if (sign > 0)
                    snprintf(q->origin, 64, "sum product %.18s + %.18s Hz", first, second);
                else
                    snprintf(q->origin, 64, "difference product %.18s - %.18s Hz", product > 0.0 ? first : second,
                             product > 0.0 ? second : first);
                return true;
            }
    return false;
}

static bool is_second_tone(const struct question *q)
{
    double f2 = q->request->second_hz;
    long order;
    if (!(f2 > 0.0))
        return false;
    if (fabs(q->spur->frequency_hz - f2) <= 2.0 * q->spur->tolerance_hz)
        snprintf(q->origin, 64, LDS_SPUR_SECOND_TONE);
    else if (multiple_of(q->spur->frequency_hz, f2, 2.0 * q->spur->tolerance_hz, &order) && order <= PRODUCT_ORDERS)
        snprintf(q->origin, 64, "harmonic %ld of the second tone", order);
    else
        return false;
    return true;
}

/* How many of the other spurs are low orders of a mains of this frequency, known within tolerance_hz. */
static int orders_of(const struct question *q, double mains_hz, double tolerance_hz)
{
    int count = 0;
    for (size_t i = 0; i < q->found->count; i++) {
        double f = q->found->spur[i].frequency_hz, order = round(f / mains_hz);
        count += &q->found->spur[i] != q->spur && order >= 1.0 && order <= COMB_ORDERS &&
                 fabs(f - order * mains_hz) <= q->spur->tolerance_hz + order * tolerance_hz;
    }
    return count;
}

/* A comb of another mains than the measured one, if this spur and another are orders of it. */
static bool is_second_comb(const struct question *q)
{
    static const double nominal_hz[] = {50.0, 60.0};
    int most = 0;
    for (size_t i = 0; i < q->found->count; i++)
        for (int n = 0; n < 2; n++) {
            double f = q->found->spur[i].frequency_hz, k = round(f / nominal_hz[n]), mains_hz = f / k;
            if (k < 1.0 || k > COMB_ORDERS || fabs(mains_hz / nominal_hz[n] - 1.0) > 0.01)
                continue;
            double own = round(q->spur->frequency_hz / mains_hz), tolerance_hz = q->spur->tolerance_hz / k;
            if (own < 1.0 || own > LIKELY_ORDERS ||
                fabs(q->spur->frequency_hz - own * mains_hz) > q->spur->tolerance_hz + own * tolerance_hz)
                continue;
            int count = orders_of(q, mains_hz, tolerance_hz);
            if (count <= most)
                continue;
            most = count;
            snprintf(q->origin, 64, "order %.0f of a second mains comb at %.4f Hz", own, mains_hz);
        }
    return most > 0;
}

void lds_spur_origin(const struct lds_spur_request *request, const struct lds_spur_list *found, size_t which,
                     char origin[64])
{
    struct question q = {request, found, &found->spur[which], origin};
    if (is_second_tone(&q) || is_product(&q))
        return;
    if (is_sideband(&q)) {
        /* The sidebands of a tone on a mains order are on other orders; they cannot be told apart. */
        size_t length = strlen(origin);
        char order[64];
        struct question mains = q;
        mains.origin = order;
        if (is_mains_order(&mains, LIKELY_ORDERS) && length + strlen(order) + 5 <= 64)
            snprintf(origin + length, 64 - length, " or %s", order);
        return;
    }
    bool close = fabs(q.spur->frequency_hz - request->tone_hz) < CLOSE_HZ;
    if ((close && is_one_of_two(&q)) || is_mains_order(&q, LIKELY_ORDERS) || is_tone_order(&q) || is_second_comb(&q) ||
        is_on_raster(&q) || is_mains_order(&q, LONG_MAX) || is_one_of_two(&q))
        return;
    if (close) {
        snprintf(origin, 64, "unexplained: on one side of the tone, %+.4g Hz", q.spur->frequency_hz - request->tone_hz);
        return;
    }
    snprintf(origin, 64, "%s",
             q.spur->frequency_hz > CHECK_FROM_HZ ? "unexplained: check for oscillation" : "unexplained");
}
