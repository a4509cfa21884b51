/* The tail of a bin of a Welch average, compared with closed forms and with frames of noise. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <complex.h>
#include <fftw3.h>
#include <gsl/gsl_cdf.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/check.h"
#include "simulate/random.h"
#include "spectrum/tail.h"
#include "spectrum/window.h"

static void one_frame_is_exponential(void **state)
{
    (void)state;
    struct lds_tail tail;
    assert_true(lds_tail_init(&tail, 1, 0.25));
    for (double x = 0.5; x < 30.0; x *= 1.7)
        check_close(lds_tail_probability(&tail, x) / exp(-x), 1.0, 1e-9);
    /* ln(M/p): the 12.0718 dB over the mean of 1e5 bins at 1 % that textbooks of detection give for nu = 2 */
    check_close(10.0 * log10(lds_tail_threshold(&tail, 1e-2 / 1e5, 0.0)), 12.0718, 0.01);
}

/* Frames that do not overlap are independent: chi-square with 2K degrees of freedom. */
static void apart_it_is_chi_square(void **state)
{
    (void)state;
    static const int frames[] = {12, 30, 200};
    for (int i = 0; i < 3; i++) {
        struct lds_tail tail;
        assert_true(lds_tail_init(&tail, frames[i], 1.0));
        for (double p = 0.3; p > 1e-10; p /= 30.0) {
            double x = gsl_cdf_chisq_Qinv(p, 2.0 * frames[i]) / (2.0 * frames[i]);
            check_close(lds_tail_probability(&tail, x) / p, 1.0, 0.01);
        }
    }
}

/* 6 frames use the closed form, 7 the saddlepoint: the two must join as smoothly as 5 and 6 frames. */
static void forms_agree(void **state)
{
    (void)state;
    struct lds_tail tail, saddle;
    assert_true(lds_tail_init(&tail, 6, 0.25));
    assert_true(tail.distinct);
    saddle = tail;
    saddle.distinct = false;
    for (double x = 0.2; x < 12.0; x += 0.4)
        check_close(lds_tail_probability(&saddle, x) / lds_tail_probability(&tail, x), 1.0, 0.03);
    /* many frames: the symbol in place of eigenvalues, one frame more */
    struct lds_tail exact, symbol;
    assert_true(lds_tail_init(&exact, LDS_TAIL_TERMS, 0.25));
    assert_true(lds_tail_init(&symbol, LDS_TAIL_TERMS + 1, 0.25));
    for (double p = 1e-2; p > 1e-9; p /= 10.0)
        check_close(lds_tail_threshold(&symbol, p, 0.0) / lds_tail_threshold(&exact, p, 0.0), 1.0, 0.02);
}

static void heavier_than_chi_square(void **state)
{
    (void)state;
    struct lds_tail tail;
    assert_true(lds_tail_init(&tail, 100, 0.25));
    double squares = 0.0;
    for (int i = 0; i < tail.terms; i++)
        squares += tail.shape[i] * tail.scale[i] * tail.scale[i];
    double dof = 2.0 / squares, x = gsl_cdf_chisq_Qinv(1e-8, dof) / dof;
    double heavier = lds_tail_probability(&tail, x) / 1e-8;
    assert_true(heavier > 1.5 && heavier < 10.0);
    assert_true(lds_tail_threshold(&tail, 1e-8, 0.1) > lds_tail_threshold(&tail, 1e-8, 0.0));
}

/* Fills one bin's average of `frames` frames of white noise of 64 samples, every 16. */
static double average(struct sim_random *random, fftw_plan plan, double *in, fftw_complex *out, int frames, int bin)
{
    enum { N = 64, HOP = 16 };
    double x[N + 64 * HOP], w[N], energy = 0.0, sum = 0.0;
    lds_window_fill(&lds_window_analysis, N, w);
    for (int i = 0; i < N; i++)
        energy += w[i] * w[i];
    for (int i = 0; i < N + (frames - 1) * HOP; i++)
        x[i] = sim_random_gaussian(random);
    for (int f = 0; f < frames; f++) {
        for (int i = 0; i < N; i++)
            in[i] = w[i] * x[f * HOP + i];
        fftw_execute(plan);
        sum += creal(out[bin]) * creal(out[bin]) + cimag(out[bin]) * cimag(out[bin]);
    }
    return sum / (frames * energy);
}

static void frames_of_noise(void **state)
{
    (void)state;
    enum { RUNS = 60000, SEED = 20 };
    double *in = fftw_alloc_real(64);
    fftw_complex *out = fftw_alloc_complex(33);
    fftw_plan plan = fftw_plan_dft_r2c_1d(64, in, out, FFTW_ESTIMATE);
    static const int frames[] = {3, 10, 40};
    for (int i = 0; i < 3; i++) {
        struct sim_random random;
        sim_random_seed(&random, SEED);
        struct lds_tail tail;
        assert_true(lds_tail_init(&tail, frames[i], 0.25));
        double at[3] = {lds_tail_threshold(&tail, 0.1, 0.0), lds_tail_threshold(&tail, 0.01, 0.0),
                        lds_tail_threshold(&tail, 0.001, 0.0)};
        int over[3] = {0}, runs = frames[i] > 20 ? RUNS / 4 : RUNS;
        for (int r = 0; r < runs; r++) {
            double q = average(&random, plan, in, out, frames[i], 16);
            for (int t = 0; t < 3; t++)
                over[t] += q > at[t];
        }
        double p = 0.1;
        for (int t = 0; t < 3; t++, p /= 10.0) {
            double reach = 4.0 * sqrt(runs * p);
            if (fabs(over[t] - runs * p) > reach)
                fail_msg("seed %d, %d frames: %d of %d over p = %g, expected %.0f within %.0f", SEED, frames[i],
                         over[t], runs, p, runs * p, reach);
        }
    }
    fftw_destroy_plan(plan);
    fftw_free(in);
    fftw_free(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_frame_is_exponential),
        cmocka_unit_test(apart_it_is_chi_square),
        cmocka_unit_test(forms_agree),
        cmocka_unit_test(heavier_than_chi_square),
        cmocka_unit_test(frames_of_noise),
    };
    return cmocka_run_group_tests_name("tail", tests, NULL, NULL);
}
