/* Jumps of the tone's phase in whole captures: found, placed, counted and flagged; and none where there are none. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "measure/tone/jump_fit.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

static const double RATE_HZ = 48e3;
enum { N = 96000, JUMPS_MAX = 3 };

struct jump {
    double at_s, degrees;
};

/* The surroundings of the tone. */
struct scene {
    double frequency_hz, density, second; /* rms of the second harmonic re the tone */
    double hum;                           /* rms of 50 Hz */
};

static double *make(const struct scene *scene, const struct jump *jump, size_t jumps, struct sim_random *random)
{
    double *x = sim_samples(N), phase = sim_random_between(random, -M_PI, M_PI);
    for (size_t i = 0; i < N; i++) {
        double t = (double)i / RATE_HZ, turned = phase + 2.0 * M_PI * fmod(scene->frequency_hz * t, 1.0);
        for (size_t j = 0; j < jumps; j++)
            turned += t >= jump[j].at_s ? jump[j].degrees * M_PI / 180.0 : 0.0;
        x[i] = M_SQRT2 * 0.4 * (cos(turned) + scene->second * cos(2.0 * turned));
    }
    if (scene->hum > 0.0)
        sim_add_mains(x, N, RATE_HZ, &(struct sim_mains){.frequency_hz = 50.01, .orders = 1, .level = {0, scene->hum}});
    sim_add_white(x, N, RATE_HZ, scene->density, random);
    return x;
}

static size_t gaps(const struct lds_measurement *m, double *at_s)
{
    size_t count = 0;
    for (size_t i = 0; i < m->channel[0].problems; i++)
        if (strcmp(m->channel[0].problem[i].kind, "gap") == 0 && count < 8)
            at_s[count++] = m->channel[0].problem[i].at_s;
    return count;
}

static void check(const struct scene *scene, const struct jump *jump, size_t jumps, uint64_t seed)
{
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = make(scene, jump, jumps, &random), at_s[8];
    struct lds_measurement m;
    sim_measure(x, N, RATE_HZ, NULL, &m);
    free(x);
    size_t found = gaps(&m, at_s);
    bool placed = found == jumps;
    for (size_t j = 0; placed && j < jumps; j++)
        placed = fabs(at_s[j] - jump[j].at_s) < 0.002;
    if (!placed)
        fail_msg("%g Hz, %zu jumps from %g s by %g degrees: %zu found, the first at %g s, seed %d", scene->frequency_hz,
                 jumps, jump[0].at_s, jump[0].degrees, found, found ? at_s[0] : NAN, (int)seed);
    const struct lds_figure *count = sim_figure(&m, "capture.gaps");
    assert_true(count && count->value == (double)jumps && count->low == count->value && count->high == count->value);
    static const char *const touched[] = {"thd_n", "noise.a", "noise.band.20-20k", "tone.level"};
    for (size_t i = 0; i < sizeof touched / sizeof touched[0]; i++)
        assert_true(!(sim_figure(&m, touched[i])->flags & LDS_FLAG_GAP) == (jumps == 0));
    double wander = sim_value(&m, "tone.wander");
    if (!(isnan(wander) || wander < 20.0))
        fail_msg("%g Hz, %zu jumps: wander %g ppm, seed %d", scene->frequency_hz, jumps, wander, (int)seed);
    lds_measurement_free(&m);
}

static const double degrees[] = {0.4, -0.8, 1.6, -3.0, 30.0, 90.0};

/* Noise 83 dB below the tone, where a jump of 0.4 degrees makes up nearly all of the residual. */
static void test_one(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 31);
    for (uint64_t seed = 0; seed < 12; seed++) {
        struct scene scene = {.frequency_hz = 20.0 * pow(700.0, sim_random_uniform(&random)),
                              .density = 0.4e-4 / sqrt(2e4),
                              .second = seed % 3 ? 1e-4 : 1e-2,
                              .hum = seed % 2 ? 1e-4 : 0.0};
        double margin = fmax(0.1, 8.0 / scene.frequency_hz);
        check(&scene, &(struct jump){sim_random_between(&random, margin, 2.0 - margin), degrees[seed % 6]}, 1,
              100 + seed);
    }
}

static void test_two_close(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 37);
    for (uint64_t seed = 0; seed < 6; seed++) {
        struct scene scene = {.frequency_hz = 100.0 * pow(100.0, sim_random_uniform(&random)),
                              .density = 0.4e-4 / sqrt(2e4),
                              .second = 1e-3};
        double first = sim_random_between(&random, 0.3, 1.7), by = sim_random_between(&random, 0.005, 0.02);
        struct jump jump[2] = {{first, degrees[seed % 3]}, {first + by, (seed % 2 ? -1.0 : 1.0) * degrees[seed % 3]}};
        check(&scene, jump, 2, 200 + seed);
    }
}

/* A phase that jumps all the time, as from a recorder that loses samples with every buffer. */
static void test_dense(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 2; seed++) {
        struct sim_random random;
        sim_random_seed(&random, 61 + seed);
        const struct scene scene = {.frequency_hz = 997.3, .density = 1e-7};
        const double every_s = seed ? 0.1 : 0.037;
        struct jump jump[64];
        size_t jumps = 0;
        while ((double)(jumps + 1) * every_s < 2.0) {
            jump[jumps] = (struct jump){(double)(jumps + 1) * every_s, 2.0};
            jumps++;
        }
        double *x = make(&scene, jump, jumps, &random);
        struct lds_measurement m;
        sim_measure(x, N, RATE_HZ, NULL, &m);
        free(x);
        double count = sim_value(&m, "capture.gaps");
        if (!(fabs(count - (double)jumps) < 2.0))
            fail_msg("%g of %zu jumps, seed %d", count, jumps, (int)(61 + seed));
        lds_measurement_free(&m);
    }
}

static void test_none(void **state)
{
    (void)state;
    const struct jump none = {0};
    struct sim_random random;
    sim_random_seed(&random, 41);
    for (uint64_t seed = 0; seed < 8; seed++) {
        struct scene scene = {.frequency_hz = 20.0 * pow(700.0, sim_random_uniform(&random)),
                              .density = pow(10.0, sim_random_between(&random, -9.0, -4.0)),
                              .second = 1e-3,
                              .hum = pow(10.0, sim_random_between(&random, -5.0, -2.0))};
        check(&scene, &none, 0, 300 + seed);
    }
}

/* Nothing else that moves the phase is a jump: clicks, a second tone, tremolo, a tone that is switched. */
static void test_others(void **state)
{
    (void)state;
    for (int kind = 0; kind < 5; kind++) {
        struct sim_random random;
        sim_random_seed(&random, 43 + (uint64_t)kind);
        const struct scene scene = {.frequency_hz = 1234.5, .density = 1e-7};
        double *x = make(&scene, NULL, 0, &random), at_s[8];
        for (size_t i = 0; i < N; i++) {
            double t = (double)i / RATE_HZ, since_s = fmod(t, 0.37);
            if (kind == 0)
                x[i] += 0.3 * exp(-since_s / 0.001) * cos(2.0 * M_PI * 900.0 * since_s);
            if (kind == 1)
                x[i] += 0.3 * cos(2.0 * M_PI * 1244.7 * t);
            if (kind == 2)
                x[i] *= 1.0 + 0.3 * cos(2.0 * M_PI * 7.3 * t);
            if (kind == 3)
                x[i] *= since_s < 0.2 ? 1.0 : 0.01;
            if (kind == 4)
                x[i] *= pow(10.0, -floor(t / 0.25) / 5.0);
        }
        struct lds_measurement m;
        sim_measure(x, N, RATE_HZ, NULL, &m);
        free(x);
        if (gaps(&m, at_s) != 0)
            fail_msg("kind %d: a jump at %g s", kind, at_s[0]);
        lds_measurement_free(&m);
    }
}

/* Lost or repeated samples in a file: counted, as far as the phase shows. */
static void test_samples(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 47);
    const struct scene scene = {.frequency_hz = 997.3, .density = 1e-7};
    for (int lost = -9; lost <= 9; lost += 6) {
        double *x = make(&scene, NULL, 0, &random);
        const size_t at = 40000;
        if (lost > 0)
            memmove(x + at, x + at + lost, (N - at - (size_t)lost) * sizeof *x);
        else
            memmove(x + at - lost, x + at, (N - at - (size_t)-lost) * sizeof *x);
        struct lds_measurement m;
        sim_measure(x, N - 20, RATE_HZ, NULL, &m);
        free(x);
        assert_int_equal(m.channel[0].problems, 1);
        assert_true(fabs(m.channel[0].problem[0].at_s - (double)at / RATE_HZ) < 0.001);
        double period = RATE_HZ / scene.frequency_hz, samples = m.channel[0].problem[0].samples;
        if (!(fabs(samples - (lost > 0 ? lost : period + lost)) < 0.6))
            fail_msg("%d samples lost: %g", lost, samples);
        lds_measurement_free(&m);
    }
}

/* The fit's own uncertainty is right, and it determines how small a jump is found. */
static void test_uncertainty(void **state)
{
    (void)state;
    enum { LENGTH = 3600, TRIALS = 60 };
    const uint64_t seed = 53;
    struct sim_random random;
    sim_random_seed(&random, seed);
    double x[LENGTH], squares = 0.0;
    int found = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        const double rate_hz = 12e3, deviation = 1e-3, size = 8.5e-4;
        double phase = sim_random_between(&random, -M_PI, M_PI);
        for (size_t i = 0; i < LENGTH; i++)
            x[i] = cos(2.0 * M_PI * 997.0 * (double)i / rate_hz + phase + (i >= LENGTH / 2 ? size : 0.0)) +
                   deviation * sim_random_gaussian(&random);
        struct lds_stretch stretch = {.x = x, .n = LENGTH, .rate_hz = rate_hz, .tone_hz = 997.01};
        struct lds_jump_fit fit[LDS_JUMP_FITS];
        size_t jumps;
        assert_true(lds_jump_fit(&stretch, fit, &jumps));
        assert_true(jumps <= 1);
        if (jumps == 0)
            continue;
        found++;
        squares += pow((fit[0].phase_rad - size) / fit[0].u_rad, 2.0);
    }
    /* 8.5e-4 rad is ten times the standard uncertainty: two tones of LENGTH/2 samples, at half the capture of a common
     * frequency: sqrt(2 (1/n + 1/n) 4) deviation. */
    double spread = sqrt(squares / found);
    if (found < TRIALS - 3 || !(spread > 0.7 && spread < 1.6))
        fail_msg("%d of %d found, error %g of its uncertainty, seed %d", found, TRIALS, spread, (int)seed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_one),        cmocka_unit_test(test_two_close),
                                       cmocka_unit_test(test_dense),      cmocka_unit_test(test_none),
                                       cmocka_unit_test(test_others),     cmocka_unit_test(test_samples),
                                       cmocka_unit_test(test_uncertainty)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
