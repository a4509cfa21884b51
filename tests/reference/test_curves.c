/* Memoryless curves whose harmonics are known in closed form, measured from synthesised captures: orders, levels and
 * phases (0 or 180 degrees at every order, as the definition of the phase has it). The captures are rounded to 24 bits
 * with dither, so that they hold noise as any capture does; at 2 s the dither moves a harmonic of -100 dB by 0.0004 dB
 * rms. The tone's frequency is not a divisor of the rate, so that what the curves make above half the rate folds to
 * frequencies apart from the harmonics. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <gsl/gsl_sf_bessel.h>

#include "loadside/series.h"
#include "simulate/check.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 192000, SECONDS = 2, FRAMES = RATE * SECONDS, LAST = 19 };
static const double tone_hz = 1000.37; /* 20 kHz and its 0.1 % hold 20 orders; 19 are checked */

/* A cos(theta) through a curve, at a quarter of full scale (so that a curve that adds DC or gain still fits). */
static double *through(double amplitude, double (*curve)(double x, double parameter), double parameter, double scale)
{
    double *x = sim_samples(FRAMES);
    struct sim_random random;
    sim_random_seed(&random, 11);
    const struct sim_tone tone = {.frequency_hz = tone_hz, .level = amplitude * M_SQRT1_2, .phase_rad = 1.1};
    sim_add_tone(x, FRAMES, RATE, &tone);
    for (size_t i = 0; i < FRAMES; i++)
        x[i] = scale * curve(x[i], parameter);
    sim_quantise(x, FRAMES, 24, &random);
    return x;
}

static double harmonic(const struct lds_measurement *measurement, int order, int column)
{
    const struct lds_series *lines = lds_channel_series(&measurement->channel[0], "harmonics");
    const size_t row = lds_series_row_of(lines, LDS_LINE_ORDER, order);
    if (row == lines->rows)
        fail_msg("no harmonic %d", order);
    return lds_series_value(lines, row, column);
}

/* b_n of a sine clipped to +-c (peak 1), and by complement of a dead zone; for the cosine the sign alternates with each
 * odd order. */
static double clipped_amplitude(double c, int n)
{
    const double alpha = asin(c);
    if (n == 1)
        return 2.0 / M_PI * (alpha + 0.5 * sin(2.0 * alpha));
    if (n % 2 == 0)
        return 0.0;
    const double b = 2.0 / (M_PI * n) * (sin((n - 1) * alpha) / (n - 1) + sin((n + 1) * alpha) / (n + 1));
    return n % 4 == 3 ? -b : b;
}

static double thd_db(const double *amplitude, int last)
{
    double sum = 0.0;
    for (int k = 2; k <= last; k++)
        sum += amplitude[k] * amplitude[k];
    return 10.0 * log10(sum) - 20.0 * log10(fabs(amplitude[1]));
}

static void check_harmonics(double *x, double scale, const double *amplitude, double floor_db)
{
    struct lds_measurement measurement;
    sim_measure(x, FRAMES, RATE, NULL, &measurement);
    check_close(sim_value(&measurement, "tone.level") / (scale * fabs(amplitude[1]) * M_SQRT1_2), 1.0, 1e-6);
    check_close(sim_value(&measurement, "tone.frequency") / tone_hz, 1.0, 1e-9);
    check_close(sim_value(&measurement, "thd"), thd_db(amplitude, LAST + 1), 0.01);
    for (int k = 2; k <= LAST; k++) {
        const double expected_db = 20.0 * log10(fabs(amplitude[k] / amplitude[1]));
        if (expected_db < floor_db)
            continue;
        const double relative_db = harmonic(&measurement, k, LDS_LINE_RELATIVE);
        const double phase_deg = harmonic(&measurement, k, LDS_LINE_PHASE);
        print_message("order %d: %.4f dB (%.4f), %.3f degrees\n", k, relative_db, expected_db, phase_deg);
        check_close(relative_db, expected_db, 0.01);
        /* One part in 1e3 of a radian is 0.06 degrees, ten times what the dither does at -100 dB. */
        const double expected_deg = amplitude[k] / amplitude[1] > 0.0 ? 0.0 : 180.0;
        check_close(fabs(phase_deg), expected_deg, 0.06);
    }
    lds_measurement_free(&measurement);
    free(x);
}

static double clip_curve(double x, double c)
{
    return fmin(fmax(x, -c), c);
}

/* Printed values of b1, b3, b5, b7, b9 and the whole THD of a clipped sine, from the closed form verified against a
 * 2^20-point transform: the test's own formula must give them before it judges the library. */
static void test_clipped_formula(void **state)
{
    (void)state;
    static const double printed[][7] = {
        {0.99, 0.9988013805, 0.001179515557, -0.001141959781, 0.001087227604, -0.001017161487, 0.2861772244},
        {0.95, 0.986679989, 0.01227494042, -0.01036004971, 0.007887789034, -0.00524116388, 1.924013875},
        {0.9, 0.9626139265, 0.03163455829, -0.02201765257, 0.01150774846, -0.002951816416, 4.219932557},
        {0.8, 0.8959119613, 0.07333859778, -0.03109556546, 0.0003184990532, 0.009086006885, 8.978575647},
        {0.5, 0.608997781, 0.1378322239, 0.02756644477, -0.009845158847, -0.01378322239, 23.29381374},
    };
    for (size_t i = 0; i < sizeof printed / sizeof printed[0]; i++) {
        double sum = 0.0;
        for (int j = 0; j < 5; j++)
            check_close(clipped_amplitude(printed[i][0], 2 * j + 1) * (j % 2 == 0 ? 1.0 : -1.0), printed[i][j + 1],
                        1e-10);
        for (int k = 3; k < 200001; k += 2)
            sum += pow(clipped_amplitude(printed[i][0], k), 2.0);
        check_close(100.0 * sqrt(sum) / clipped_amplitude(printed[i][0], 1), printed[i][6], 1e-6);
    }
}

static void test_clipped_sine(void **state)
{
    (void)state;
    static const double levels[] = {0.99, 0.95, 0.9, 0.8, 0.5};
    for (size_t i = 0; i < sizeof levels / sizeof levels[0]; i++) {
        double amplitude[LAST + 2] = {0};
        for (int k = 1; k <= LAST + 1; k++)
            amplitude[k] = clipped_amplitude(levels[i], k);
        print_message("clipped to %g\n", levels[i]);
        check_harmonics(through(1.0, clip_curve, levels[i], 0.9), 0.9, amplitude, -75.0);
    }
}

static double dead_zone(double x, double d)
{
    return x - clip_curve(x, d);
}

/* Crossover: THD_F over all orders 0.616476 % for d = 0.01 and 3.103340 % for d = 0.05; to order 20 by the formula. */
static void test_dead_zone(void **state)
{
    (void)state;
    static const double printed[][2] = {{0.01, 0.616476}, {0.05, 3.103340}};
    for (int i = 0; i < 2; i++) {
        double amplitude[LAST + 2] = {0}, sum = 0.0;
        amplitude[1] = 1.0 - clipped_amplitude(printed[i][0], 1);
        for (int k = 2; k <= LAST + 1; k++)
            amplitude[k] = -clipped_amplitude(printed[i][0], k);
        for (int k = 3; k < 200001; k += 2)
            sum += pow(clipped_amplitude(printed[i][0], k), 2.0);
        check_close(100.0 * sqrt(sum) / amplitude[1], printed[i][1], 1e-6);
        check_harmonics(through(1.0, dead_zone, printed[i][0], 0.9), 0.9, amplitude, -90.0);
    }
}

static double chebyshev(double x, double sign)
{
    static const double c[] = {-9.0e-4, 0.99925, 1.2e-3, 6.0e-4, 8.0e-4, 4.8e-4};
    double y = 0.0;
    for (int i = 6; i-- > 0;)
        y = y * x + c[i];
    return sign > 0.0 ? y : 2.0 * 0.99925 * x - y; /* the same curve with its distortion inverted */
}

/* sum of h_n T_n(x) has exactly the harmonics h_n: h = 1, 1e-3, 3e-4, 1e-4, 3e-5 as a power series; THD_F 0.1049237819
 * %, -59.582521 dB. All in phase. */
static void test_chebyshev(void **state)
{
    (void)state;
    double amplitude[LAST + 2] = {0, 1.0, 1e-3, 3e-4, 1e-4, 3e-5};
    check_close(thd_db(amplitude, 5), -59.582521, 1e-6);
    check_harmonics(through(1.0, chebyshev, 1.0, 0.9), 0.9, amplitude, -100.0);
    amplitude[1] = 2.0 * 0.99925 - 1.0;
    for (int k = 2; k <= 5; k++)
        amplitude[k] = -amplitude[k];
    check_harmonics(through(1.0, chebyshev, -1.0, 0.9), 0.9, amplitude, -100.0);
}

static double cubic(double x, double a)
{
    return x + a * x * x + a * x * x * x;
}

/* y = x + a2 x^2 + a3 x^3 at amplitude A: H1 = A + (3/4) a3 A^3, H2 = a2 A^2/2, H3 = a3 A^3/4. a2 = a3 = 1e-3, A = 1:
 * 1.00075, 5e-4, 2.5e-4; with -1e-3 both change sign. Halving A takes 6 dB off H2 and 12 dB off H3 re H1. */
static void test_cubic(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        const double a = i == 1 ? -1e-3 : 1e-3;
        const double size = i == 2 ? 0.5 : 1.0;
        double amplitude[LAST + 2] = {0};
        amplitude[1] = size + 0.75 * a * pow(size, 3.0);
        amplitude[2] = 0.5 * a * size * size;
        amplitude[3] = 0.25 * a * pow(size, 3.0);
        check_harmonics(through(size, cubic, a, 0.9), 0.9, amplitude, -100.0);
    }
}

static double exponential(double x, double a)
{
    return exp(a * x) - 1.0;
}

/* exp(x cos t) = I0(x) + 2 sum I_n(x) cos nt (Abramowitz and Stegun 9.6.34). THD_F at x = 0.1: 2.499306 %; at x = 1
 * 24.342416 %. */
static void test_exponential(void **state)
{
    (void)state;
    static const double printed[][2] = {{0.1, 2.499306}, {1.0, 24.342416}};
    for (int i = 0; i < 2; i++) {
        double amplitude[LAST + 2] = {0};
        for (int k = 1; k <= LAST + 1; k++)
            amplitude[k] = 2.0 * gsl_sf_bessel_In(k, printed[i][0]);
        check_close(100.0 * pow(10.0, thd_db(amplitude, LAST) / 20.0), printed[i][1], 1e-6);
        const double scale = i == 0 ? 5.0 : 0.4;
        check_harmonics(through(1.0, exponential, printed[i][0], scale), scale, amplitude, -90.0);
    }
}

static double tangent(double x, double a)
{
    return tanh(a * x);
}

/* tanh(x sin t): b1 and b3 .4711428278, .0092401835 and THD_F 1.9617822 % at x = 0.5; .8116756851, .0542458103 and
 * 6.7064824 % at x = 1 (integrated numerically, compared with a transform). b3 of the sine is -b3 of the cosine. */
static void test_tanh(void **state)
{
    (void)state;
    static const double printed[][4] = {{0.5, 0.4711428278, 0.0092401835, 1.9617822},
                                        {1.0, 0.8116756851, 0.0542458103, 6.7064824}};
    for (int i = 0; i < 2; i++) {
        double *x = through(1.0, tangent, printed[i][0], 0.9);
        struct lds_measurement measurement;
        sim_measure(x, FRAMES, RATE, NULL, &measurement);
        check_close(sim_value(&measurement, "tone.level") * M_SQRT2 / 0.9, printed[i][1], 1e-6);
        check_close(sim_value(&measurement, "thd"), 20.0 * log10(printed[i][3] / 100.0), 0.01);
        check_close(harmonic(&measurement, 3, LDS_LINE_RELATIVE), 20.0 * log10(printed[i][2] / printed[i][1]), 0.01);
        check_close(fabs(harmonic(&measurement, 3, LDS_LINE_PHASE)), 180.0, 0.06);
        lds_measurement_free(&measurement);
        free(x);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_clipped_formula),
        cmocka_unit_test(test_clipped_sine),
        cmocka_unit_test(test_dead_zone),
        cmocka_unit_test(test_chebyshev),
        cmocka_unit_test(test_cubic),
        cmocka_unit_test(test_exponential),
        cmocka_unit_test(test_tanh),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
