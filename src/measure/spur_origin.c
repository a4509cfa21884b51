/* Where a spur comes from. Hints, not proofs: each is a coincidence of frequencies within what they are known to, and a
 * test that chance would pass more than once in ten is not made. */
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "measure/spurs.h"

enum { LIKELY_ORDERS = 100, SIDEBANDS = 4, TONE_ORDERS = 100, PRODUCT_ORDERS = 3, PARENTS = 12 };
static const double CHANCE = 0.1; /* most of the spacing that a tolerance may cover */
static const double RASTER_HZ = 1000.0;
static const double FINE_RASTER_HZ = 8000.0;
static const double CHECK_FROM_HZ = 20e3;

struct question {
    const struct lds_spur_request *request;
    const struct lds_spur_list *found;
    const struct lds_spur *spur;
    double tolerance_hz;
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
    if (!multiple_of(q->spur->frequency_hz, mains, q->tolerance_hz + orders * q->request->mains_spread_hz, &order) ||
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
    double tolerance = q->tolerance_hz + (double)order * q->request->mains_spread_hz;
    if (order < 1 || order > SIDEBANDS || fabs(fabs(distance) - (double)order * mains) > tolerance)
        return false;
    snprintf(q->origin, 64, "sideband of the tone at %+ld fm", distance < 0.0 ? -order : order);
    return true;
}

static bool is_tone_order(const struct question *q)
{
    long order;
    if (!(q->request->tone_hz > 0.0) ||
        !multiple_of(q->spur->frequency_hz, q->request->tone_hz, q->tolerance_hz, &order) || order > TONE_ORDERS)
        return false;
    snprintf(q->origin, 64, "harmonic %ld of the tone", order);
    return true;
}

/* Common practice, no source: USB hands audio over in frames of 1 ms and 125 us, by a clock that is not the
 * converter's. */
static bool is_on_raster(const struct question *q)
{
    double tolerance = q->tolerance_hz + q->spur->frequency_hz * q->request->clock_ppm * 1e-6;
    long order;
    bool fine = multiple_of(q->spur->frequency_hz, FINE_RASTER_HZ, tolerance, &order);
    if (!fine && !multiple_of(q->spur->frequency_hz, RASTER_HZ, tolerance, &order))
        return false;
    snprintf(q->origin, 64, "1 kHz or 8 kHz raster: the capture chain");
    return true;
}

/* Parents of a difference product: the tone, and spurs stronger than this one. */
static int parents(const struct question *q, double parent[PARENTS])
{
    int count = 0;
    if (q->request->tone_hz > 0.0)
        parent[count++] = q->request->tone_hz;
    for (size_t i = 0; i < q->found->count && count < PARENTS; i++)
        if (q->found->spur[i].level > q->spur->level)
            parent[count++] = q->found->spur[i].frequency_hz;
    return count;
}

static bool is_product(const struct question *q)
{
    double parent[PARENTS];
    int count = parents(q, parent);
    for (int sum = 2; sum <= PRODUCT_ORDERS; sum++)
        for (int a = 1; a < sum; a++)
            for (int i = 0; i < count; i++)
                for (int j = 0; j < count; j++) {
                    double tolerance = 2.0 * q->tolerance_hz;
                    double product = a * parent[i] - (sum - a) * parent[j];
                    if (i == j || fabs(product - q->spur->frequency_hz) > tolerance)
                        continue;
                    char first[8] = "", second[8] = "";
                    if (a > 1)
                        snprintf(first, sizeof first, "%d x ", a);
                    if (sum - a > 1)
                        snprintf(second, sizeof second, "%d x ", sum - a);
                    snprintf(q->origin, 64, "difference product %s%.7g - %s%.7g Hz", first, parent[i], second,
                             parent[j]);
                    return true;
                }
    return false;
}

void lds_spur_origin(const struct lds_spur_request *request, const struct lds_spur_list *found, size_t which,
                     double tolerance_hz, char origin[64])
{
    struct question q = {request, found, &found->spur[which], tolerance_hz, origin};
    if (is_sideband(&q)) {
        /* A tone on a mains order has its sidebands on others: no telling which. */
        size_t length = strlen(origin);
        char order[64];
        struct question mains = q;
        mains.origin = order;
        if (is_mains_order(&mains, LIKELY_ORDERS) && length + strlen(order) + 5 <= 64)
            snprintf(origin + length, 64 - length, " or %s", order);
        return;
    }
    if (is_mains_order(&q, LIKELY_ORDERS) || is_tone_order(&q) || is_on_raster(&q) || is_mains_order(&q, LONG_MAX) ||
        is_product(&q))
        return;
    snprintf(origin, 64, "%s",
             q.spur->frequency_hz > CHECK_FROM_HZ ? "unexplained: check for oscillation" : "unexplained");
}
