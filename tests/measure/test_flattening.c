/* Peaks that an amplifier flattens, compared with curves that only bend, and with a recording that clips. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "measure/tone/flattening.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { POINTS = 4096 };

struct curve {
    double high, low; /* limits, 0: none */
    double knee;      /* how sharp; 0: at once */
    double square, cube;
};

static double limited(double u, double at, double knee)
{
    if (at == 0.0)
        return u;
    return knee == 0.0 ? fmin(u, at) : u / pow(1.0 + pow(u / at, knee), 1.0 / knee);
}

static double curve_at(const struct curve *c, double u)
{
    double v = u + c->square * u * u + c->cube * u * u * u;
    return v > 0.0 ? limited(v, c->high, c->knee) : -limited(-v, c->low, c->knee);
}

/* z[k] of the curve driven by a cosine; returns the smaller peak relative to that of the fundamental. */
static double harmonics(const struct curve *curve, double complex *z)
{
    double c[LDS_FLATTENING_ORDERS + 1];
    for (int k = 1; k <= LDS_FLATTENING_ORDERS; k++) {
        c[k] = 0.0;
        for (int i = 0; i < POINTS; i++) {
            double angle = M_PI * (i + 0.5) / POINTS;
            c[k] += 2.0 / POINTS * curve_at(curve, cos(angle)) * cos(k * angle);
        }
    }
    for (int k = 2; k <= LDS_FLATTENING_ORDERS; k++)
        z[k] = c[k] / c[1];
    return fmin(curve_at(curve, 1.0), -curve_at(curve, -1.0)) / c[1];
}

static const struct curve clips[] = {
    {.high = 0.97, .low = 0.97},                  /* 0.8 to 1.1 % */
    {.high = 0.9, .low = 0.9},                    /* 4 % */
    {.high = 0.5, .low = 0.5},                    /* 23 % */
    {.high = 0.97},                               /* one side */
    {.low = 0.93},                                /* the other */
    {.high = 0.8, .low = 0.95},                   /* both, different */
    {.high = 1.2, .low = 1.2, .knee = 8.0},       /* rounded, 0.9 % */
    {.high = 0.9, .low = 0.9, .knee = 8.0},       /* 5 % */
    {.high = 1.5, .low = 1.5, .knee = 2.0},       /* soft */
    {.high = 0.95, .low = 0.95, .knee = 20.0},    /* hard, not quite */
    {.high = 0.96, .low = 0.96, .square = 0.002}, /* on top of a bend */
    {.high = 0.95, .low = 0.95, .cube = -0.01},
};
static const struct curve bends[] = {
    {.cube = -0.004}, /* -60 dB */
    {.cube = -0.015}, /* 0.4 % */
    {.cube = 0.05},   /* expands */
    {.square = 0.02}, /* 1 % */
    {.square = 0.05}, {.square = 0.02, .cube = -0.01},
};

static void test_curves(void **state)
{
    (void)state;
    struct lds_flattening result;
    double complex z[LDS_FLATTENING_ORDERS + 1];
    const int orders[] = {5, 7, 20};
    for (size_t o = 0; o < 3; o++) {
        for (size_t i = 0; i < sizeof clips / sizeof clips[0]; i++) {
            double ceiling = harmonics(&clips[i], z);
            lds_flattening_fit(z, orders[o], 0.0, &result);
            if (!result.found || !(fabs(result.ceiling / ceiling - 1.0) < 0.01))
                fail_msg("curve %zu, %d orders, THD %g: found %d, explained %g, slope %g, ceiling %g of %g", i,
                         orders[o], result.thd, result.found, result.explained, result.gain, result.ceiling, ceiling);
        }
        for (size_t i = 0; i < sizeof bends / sizeof bends[0]; i++) {
            harmonics(&bends[i], z);
            lds_flattening_fit(z, orders[o], 0.0, &result);
            if (result.found)
                fail_msg("bend %zu, %d orders: explained %g, slope %g", i, orders[o], result.explained, result.gain);
        }
    }
}

/* Harmonics of arbitrary phase are not those of a limit; nor are those of crossover or of a curve with too much
 * noise. */
static void test_others(void **state)
{
    (void)state;
    const uint64_t seed = 17;
    struct sim_random random;
    sim_random_seed(&random, seed);
    struct lds_flattening result;
    double complex z[LDS_FLATTENING_ORDERS + 1] = {0};
    for (int turn = 0; turn < 100; turn++) {
        for (int k = 2; k <= LDS_FLATTENING_ORDERS; k++)
            z[k] = 0.02 / k * cexp(I * sim_random_between(&random, -M_PI, M_PI));
        lds_flattening_fit(z, LDS_FLATTENING_ORDERS, 0.0, &result);
        if (result.found)
            fail_msg("turn %d, seed %d: explained %g", turn, (int)seed, result.explained);
    }
    for (int k = 2; k <= LDS_FLATTENING_ORDERS; k++) /* a dead zone: subtracts a small square wave */
        z[k] = k % 2 ? (k % 4 == 3 ? 0.03 : -0.03) / k : 0.0;
    lds_flattening_fit(z, LDS_FLATTENING_ORDERS, 0.0, &result);
    assert_false(result.found);
    harmonics(&clips[0], z);
    lds_flattening_fit(z, LDS_FLATTENING_ORDERS, 1e-5, &result);
    assert_false(result.found);
    lds_flattening_fit(z, 4, 0.0, &result);
    assert_false(result.found);
}

/* A tone over a curve, as an amplifier's output is captured: noise comes after. */
static void capture(const struct curve *curve, double rate_hz, double frequency_hz, double ceiling, uint64_t seed,
                    struct lds_measurement *m)
{
    const size_t n = (size_t)rate_hz;
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = sim_samples(n);
    double phase = sim_random_between(&random, -M_PI, M_PI);
    for (size_t i = 0; i < n; i++)
        x[i] = 0.8 * curve_at(curve, cos(2.0 * M_PI * fmod(frequency_hz / rate_hz * (double)i, 1.0) + phase));
    sim_add_white(x, n, rate_hz, 1e-7, &random);
    for (size_t i = 0; i < n; i++)
        x[i] = fmin(fmax(x[i], -ceiling), ceiling);
    sim_measure(x, n, rate_hz, NULL, m);
    free(x);
}

static void test_captures(void **state)
{
    (void)state;
    static const struct {
        double rate_hz, frequency_hz;
    } cases[] = {{48e3, 997.3}, {48e3, 4211.0}, {96e3, 61.7}, {192e3, 17123.0}};
    const uint64_t seed = 19;
    struct lds_measurement m;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        for (size_t k = 0; k < 4; k++) {
            capture(&clips[2 * k + 1], cases[i].rate_hz, cases[i].frequency_hz, 1.0, seed + k, &m);
            const struct lds_problem *p = lds_channel_problem(&m.channel[0], LDS_PROBLEM_AMPLIFIER_CLIPS);
            double truth = 0.8 * fmin(curve_at(&clips[2 * k + 1], 1.0), -curve_at(&clips[2 * k + 1], -1.0));
            if (!p || sim_value(&m, "capture.clipped") != 0.0 || !(fabs(p->ceiling / truth - 1.0) < 0.01) ||
                p->at_s != 0.0)
                fail_msg("%g Hz, curve %zu: %s, %g V at %g s, clipped %g, seed %d", cases[i].frequency_hz, 2 * k + 1,
                         p ? p->kind : "nothing", p ? p->ceiling : NAN, p ? p->at_s : NAN,
                         sim_value(&m, "capture.clipped"), (int)(seed + k));
            lds_measurement_free(&m);
        }
    const struct curve straight = {0};
    capture(&straight, 48e3, 997.3, 0.76, seed, &m); /* the recorder's own limit */
    assert_null(lds_channel_problem(&m.channel[0], LDS_PROBLEM_AMPLIFIER_CLIPS));
    assert_true(sim_value(&m, "capture.clipped") > 1900.0);
    lds_measurement_free(&m);
    capture(&bends[0], 48e3, 997.3, 1.0, seed, &m);
    assert_int_equal(m.channel[0].problems, 0);
    lds_measurement_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_curves), cmocka_unit_test(test_others),
                                       cmocka_unit_test(test_captures)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
