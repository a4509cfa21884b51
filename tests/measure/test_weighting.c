/* Weighting curves against the tables of their standards. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "measure/noise/weighting.h"
#include "simulate/check.h"

static double db(double power_gain)
{
    return 10.0 * log10(power_gain);
}

/* IEC 61672-1:2013, Table 3: A-weighting at 10^(n/10) Hz, n = 10..43, rounded to 0.1 dB, and the class 1 limits. */
static void iec_61672_table(void **state)
{
    (void)state;
    static const struct {
        double gain, above, below;
    } row[] = {
        {-70.4, 3.0, INFINITY}, {-63.4, 2.5, INFINITY}, {-56.7, 2.0, 4.0}, {-50.5, 2.0, 2.0},     {-44.7, 2.0, 1.5},
        {-39.4, 1.5, 1.5},      {-34.6, 1.0, 1.0},      {-30.2, 1.0, 1.0}, {-26.2, 1.0, 1.0},     {-22.5, 1.0, 1.0},
        {-19.1, 1.0, 1.0},      {-16.1, 1.0, 1.0},      {-13.4, 1.0, 1.0}, {-10.9, 1.0, 1.0},     {-8.6, 1.0, 1.0},
        {-6.6, 1.0, 1.0},       {-4.8, 1.0, 1.0},       {-3.2, 1.0, 1.0},  {-1.9, 1.0, 1.0},      {-0.8, 1.0, 1.0},
        {0.0, 0.7, 0.7},        {0.6, 1.0, 1.0},        {1.0, 1.0, 1.0},   {1.2, 1.0, 1.0},       {1.3, 1.0, 1.0},
        {1.2, 1.0, 1.0},        {1.0, 1.0, 1.0},        {0.5, 1.5, 1.5},   {-0.1, 1.5, 2.0},      {-1.1, 1.5, 2.5},
        {-2.5, 2.0, 3.0},       {-4.3, 2.0, 5.0},       {-6.6, 2.5, 16.0}, {-9.3, 3.0, INFINITY},
    };
    for (int n = 0; n < (int)(sizeof row / sizeof row[0]); n++) {
        double gain = db(lds_weighting_a(pow(10.0, 1.0 + n / 10.0), NULL));
        check_close(gain, row[n].gain, 0.0501); /* the table's rounding */
        assert_true(gain - row[n].gain <= row[n].above && row[n].gain - gain <= row[n].below);
    }
}

/* ANSI S1.4-1983, Table AI, 25 to 100 kHz. */
static void a_above_the_audio_band(void **state)
{
    (void)state;
    static const double gain[] = {-12.4, -15.8, -19.3, -23.1, -26.9, -30.8, -34.7};
    for (int n = 0; n < 7; n++)
        check_close(db(lds_weighting_a(pow(10.0, 4.4 + n / 10.0), NULL)), gain[n], 0.0501);
}

/* Recommendation ITU-R BS.468-4, Table 1, and its tolerances (at 6.3 kHz none: the curve's own 0.05 dB there). */
static void itu_468_table(void **state)
{
    (void)state;
    static const struct {
        double frequency, gain, tolerance;
    } row[] = {
        {31.5, -29.9, 2.0},  {63, -23.9, 1.4},   {100, -19.8, 1.0},  {200, -13.8, 0.85},  {400, -7.8, 0.7},
        {800, -1.9, 0.55},   {1000, 0.0, 0.5},   {2000, 5.6, 0.5},   {3150, 9.0, 0.5},    {4000, 10.5, 0.5},
        {5000, 11.7, 0.5},   {6300, 12.2, 0.05}, {7100, 12.0, 0.2},  {8000, 11.4, 0.4},   {9000, 10.1, 0.6},
        {10000, 8.1, 0.8},   {12500, 0.0, 1.2},  {14000, -5.3, 1.4}, {16000, -11.7, 1.6}, {20000, -22.2, 2.0},
        {31500, -42.7, 2.8},
    };
    for (int n = 0; n < (int)(sizeof row / sizeof row[0]); n++) {
        check_close(db(lds_weighting_itu468(row[n].frequency, NULL)), row[n].gain, row[n].tolerance);
        check_close(db(lds_weighting_itu468(row[n].frequency, NULL)), row[n].gain, 0.051); /* as close as it really
                                                                                            * is */
    }
}

static double noise_bandwidth(double (*weight)(double, const void *), double low_hz, double high_hz)
{
    enum { STEPS = 100000 };
    double sum = 0.0, width = (high_hz - low_hz) / STEPS;
    for (int i = 0; i < STEPS; i++)
        sum += weight(low_hz + (i + 0.5) * width, NULL) * width;
    return sum;
}

/* Integrals of the curves computed independently (adaptive quadrature of the same closed forms in Python). */
static void noise_bandwidths(void **state)
{
    (void)state;
    check_close(noise_bandwidth(lds_weighting_a, 20.0, 20e3), 12467.18, 0.01);
    check_close(noise_bandwidth(lds_weighting_a, 10.0, 80e3), 13439.96, 0.01);
    check_close(noise_bandwidth(lds_weighting_itu468, 20.0, 20e3), 107334.5, 0.1);
}

static void at_1_khz_and_at_0(void **state)
{
    (void)state;
    check_close(lds_weighting_a(1000.0, NULL), 1.0, 1e-12);
    check_close(lds_weighting_itu468(1000.0, NULL), 1.0, 1e-12);
    check_close(lds_weighting_a(0.0, NULL), 0.0, 0.0);
    check_close(lds_weighting_itu468(0.0, NULL), 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(iec_61672_table),  cmocka_unit_test(a_above_the_audio_band), cmocka_unit_test(itu_468_table),
        cmocka_unit_test(noise_bandwidths), cmocka_unit_test(at_1_khz_and_at_0),
    };
    return cmocka_run_group_tests_name("weighting", tests, NULL, NULL);
}
