/* Gain and coherence from periodic noise, at a recorder with a clock of its own, against the filter that it went
 * through. The truth is synthesised line by line, without any resampling. */
#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "measure/known/periods.h"
#include "simulate/random.h"

enum { PERIOD = 1 << 14, PERIODS = 8 };
static const double RATE = 48000.0, DELAY = 12.3;

struct scene {
    int frames; /* of the capture, for PERIODS periods of the player */
    double low_hz, high_hz, noise;
    uint64_t seed;
};

/* First-order corners, the low one and the high one. */
static double complex filter(const struct scene *scene, double hz)
{
    return 0.3 * (I * hz / (I * hz + scene->low_hz)) / (1.0 + I * hz / scene->high_hz);
}

/* White with random phases: the lines of one period. */
static void make_reference(struct sim_random *random, double complex *line, double *x)
{
    fftw_plan plan = fftw_plan_dft_c2r_1d(PERIOD, (fftw_complex *)line, x, FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
    for (int k = 0; k <= PERIOD / 2; k++)
        line[k] = k == 0 || k == PERIOD / 2 ? 0.0 : 1e-3 * cexp(I * 2.0 * M_PI * sim_random_uniform(random));
    fftw_execute(plan);
    fftw_destroy_plan(plan);
}

/* Line k of the period is line k PERIODS of the whole capture, whatever its length. */
static double *make_capture(const struct scene *scene, struct sim_random *random, const double complex *line)
{
    const int bins = scene->frames / 2 + 1;
    double complex *all = calloc((size_t)bins, sizeof *all);
    double *x = malloc((size_t)scene->frames * sizeof *x);
    fftw_plan plan = fftw_plan_dft_c2r_1d(scene->frames, (fftw_complex *)all, x, FFTW_ESTIMATE);
    for (int k = 1; k < PERIOD / 2 && k * PERIODS < bins; k++) {
        const double hz = RATE * k / PERIOD;
        all[k * PERIODS] = line[k] * filter(scene, hz) * cexp(-I * 2.0 * M_PI * hz * DELAY / RATE);
    }
    fftw_execute(plan);
    fftw_destroy_plan(plan);
    free(all);
    for (int i = 0; i < scene->frames; i++)
        x[i] += scene->noise * sim_random_gaussian(random);
    return x;
}

static void measure(const struct scene *scene, struct lds_transfer *transfer)
{
    struct sim_random random;
    double complex *line = calloc(PERIOD / 2 + 1, sizeof *line);
    double *reference = malloc(PERIOD * sizeof *reference);
    struct lds_periods periods;
    sim_random_seed(&random, scene->seed);
    make_reference(&random, line, reference);
    double *x = make_capture(scene, &random, line);
    const struct lds_periods_request request = {.x = x,
                                                .n = (size_t)scene->frames,
                                                .step = (double)scene->frames / (PERIODS * PERIOD),
                                                .reference = reference,
                                                .period = PERIOD,
                                                .periods = PERIODS - 1};
    assert_true(lds_periods_average(&request, &periods));
    assert_int_equal(periods.averages, PERIODS - 2);
    const struct lds_transfer_bins bins = {.bin_hz = RATE / PERIOD,
                                           .bins = periods.bins,
                                           .in = periods.in,
                                           .out = periods.out,
                                           .noise = periods.noise,
                                           .noise_dof = 2.0 * (PERIODS - 3),
                                           .averages = PERIODS - 2,
                                           .delay_s = DELAY / RATE};
    assert_true(lds_transfer_fit(&bins, 10.0, 0.44 * RATE, 24, transfer));
    lds_periods_free(&periods);
    free(x);
    free(line);
    free(reference);
}

static double decibels(double complex ratio)
{
    return 20.0 * log10(cabs(ratio));
}

static void test_without_noise(void **state)
{
    (void)state;
    const struct scene scene = {PERIODS * PERIOD + 19, 3.0, 60e3, 0.0, 7}; /* 145 ppm */
    struct lds_transfer transfer;
    measure(&scene, &transfer);
    assert_true(transfer.count >= 24 * 11);
    for (size_t i = 0; i < transfer.count; i++) {
        const struct lds_transfer_point *point = &transfer.point[i];
        const double complex error = point->gain / filter(&scene, point->hz) - 1.0;
        const double most = point->hz < 60.0 ? 4e-3 : point->hz < 400.0 ? 2e-4 : 1e-4; /* few bins: interpolated */
        if (cabs(error) > most)
            fail_msg("%.5g Hz: %.3g from the filter (%.5f dB)", point->hz, cabs(error), decibels(1.0 + error));
        assert_true(point->coherence > 0.9999);
    }
    lds_transfer_free(&transfer);
}

static void test_intervals(void **state)
{
    (void)state;
    int points = 0, outside = 0, coherences = 0, off = 0;
    double worst = 0.0, sum = 0.0;
    for (uint64_t seed = 1; seed <= 6; seed++) {
        struct scene scene = {PERIODS * PERIOD - 11, 3.0, 60e3, 0.0, seed};
        const double level = 0.3 * 1e-3 * sqrt(2.0 * PERIOD / 2.0); /* rms of the output */
        scene.noise = level * 1e-2;
        struct lds_transfer transfer;
        measure(&scene, &transfer);
        for (size_t i = 0; i < transfer.count; i += 2) { /* every second: neighbours share no bin */
            const struct lds_transfer_point *point = &transfer.point[i];
            const double complex truth = filter(&scene, point->hz);
            const double error = cabs(point->gain) - cabs(truth);
            if (point->hz < 60.0) /* interpolation */
                continue;
            points++;
            outside += fabs(error) > 2.0 * point->u;
            sum += error * error / (point->u * point->u);
            worst = fmax(worst, fabs(decibels(point->gain / truth)));
            /* noise of one bin over that of the signal, both of one period */
            const double ratio = scene.noise * scene.noise / (PERIOD * 1e-6 * creal(truth * conj(truth)));
            const double coherence = 1.0 / (1.0 + ratio);
            coherences++;
            off += coherence < lds_transfer_coherence_at(point, 0.025) ||
                   coherence > lds_transfer_coherence_at(point, 0.975);
        }
        lds_transfer_free(&transfer);
    }
    print_message("%d points, %d outside, scatter over u %.3f, worst %.4f dB; coherence %d outside\n", points, outside,
                  sqrt(sum / points), worst, off);
    assert_true(sqrt(sum / points) > 0.93 && sqrt(sum / points) < 1.07);
    assert_in_range(outside, 0.02 * points, 0.09 * points);
    assert_in_range(off, 0.02 * coherences, 0.09 * coherences);
    assert_true(worst < 0.08);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_without_noise), cmocka_unit_test(test_intervals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
