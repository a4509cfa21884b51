/* noise.a and noise.itu468 from end to end against the standards' tables: a line at each of the table's frequencies in
 * an idle capture ("hum and spurs in"), read by the library, over the line's level.
 *
 * IEC 61672-1:2013 table 3 (nominal gains at exact base-ten frequencies, class 1 limits) and table 1 of ITU-R BS.468-4
 * (gains and tolerances). Frequencies outside 20 Hz to 20 kHz are outside both figures. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "simulate/check.h"
#include "simulate/measured.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"

struct row {
    double frequency_hz, gain_db, above_db, below_db;
};

static const struct row class1[] = {
    {25.1189, -44.7, 2.0, 1.5},   {31.6228, -39.4, 1.5, 1.5},    {39.8107, -34.6, 1.0, 1.0},
    {50.1187, -30.2, 1.0, 1.0},   {63.0957, -26.2, 1.0, 1.0},    {79.4328, -22.5, 1.0, 1.0},
    {100.0, -19.1, 1.0, 1.0},     {125.8925, -16.1, 1.0, 1.0},   {158.4893, -13.4, 1.0, 1.0},
    {199.5262, -10.9, 1.0, 1.0},  {251.1886, -8.6, 1.0, 1.0},    {316.2278, -6.6, 1.0, 1.0},
    {398.1072, -4.8, 1.0, 1.0},   {501.1872, -3.2, 1.0, 1.0},    {630.9573, -1.9, 1.0, 1.0},
    {794.3282, -0.8, 1.0, 1.0},   {1000.0, 0.0, 0.7, 0.7},       {1258.9254, 0.6, 1.0, 1.0},
    {1584.8932, 1.0, 1.0, 1.0},   {1995.2623, 1.2, 1.0, 1.0},    {2511.8864, 1.3, 1.0, 1.0},
    {3162.2777, 1.2, 1.0, 1.0},   {3981.0717, 1.0, 1.0, 1.0},    {5011.8723, 0.5, 1.5, 1.5},
    {6309.5734, -0.1, 1.5, 2.0},  {7943.2823, -1.1, 1.5, 2.5},   {10000.0, -2.5, 2.0, 3.0},
    {12589.2541, -4.3, 2.0, 5.0}, {15848.9319, -6.6, 2.5, 16.0}, {19952.6231, -9.3, 3.0, 100.0},
};

static const struct row itu468[] = {
    {31.5, -29.9, 2.0, 2.0},  {63.0, -23.9, 1.4, 1.4},   {100.0, -19.8, 1.0, 1.0},   {200.0, -13.8, 0.85, 0.85},
    {400.0, -7.8, 0.7, 0.7},  {800.0, -1.9, 0.55, 0.55}, {1000.0, 0.0, 0.5, 0.5},    {2000.0, 5.6, 0.5, 0.5},
    {3150.0, 9.0, 0.5, 0.5},  {4000.0, 10.5, 0.5, 0.5},  {5000.0, 11.7, 0.5, 0.5},   {6300.0, 12.2, 0.0, 0.0},
    {7100.0, 12.0, 0.2, 0.2}, {8000.0, 11.4, 0.4, 0.4},  {9000.0, 10.1, 0.6, 0.6},   {10000.0, 8.1, 0.8, 0.8},
    {12500.0, 0.0, 1.2, 1.2}, {14000.0, -5.3, 1.4, 1.4}, {16000.0, -11.7, 1.6, 1.6},
};

/* Frames get longer with the capture, to about a second and a half: a line's lobe of +-7 bins then spans few hertz. */
enum { RATE = 48000, SECONDS = 10 };

/* What the figure reads for a line of 10 mV, in dB over it. */
static double line_gain_db(const char *key, double frequency_hz)
{
    const size_t n = (size_t)RATE * SECONDS;
    double *x = sim_samples(n);
    struct sim_random random;
    sim_random_seed(&random, 5);
    const struct sim_tone tone = {.frequency_hz = frequency_hz, .level = 0.01, .phase_rad = 0.4};
    sim_add_tone(x, n, RATE, &tone);
    sim_add_white(x, n, RATE, 1e-9, &random); /* 100 dB below the line after either curve's largest loss but one */
    struct lds_measure_options options;
    sim_options_init(&options);
    options.tone_hz = 0.0;
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, &options, &measurement);
    const double value = sim_value(&measurement, key);
    lds_measurement_free(&measurement);
    free(x);
    return 20.0 * log10(value / 0.01);
}

static void check_rows(const char *key, const struct row *rows, size_t count, double (*formula_db)(double))
{
    for (size_t i = 0; i < count; i++) {
        const double gain_db = line_gain_db(key, rows[i].frequency_hz);
        print_message("%s %g Hz: %.4f dB, table %.1f\n", key, rows[i].frequency_hz, gain_db, rows[i].gain_db);
        /* The steepest part of the curves, below 50 Hz, bends by 0.045 dB over a line's lobe at this length; above it
         * 0.01 dB. The table is printed to 0.1 dB. */
        const double bend = rows[i].frequency_hz < 50.0 ? 0.05 : 0.01;
        check_close(gain_db, formula_db(rows[i].frequency_hz), bend);
        check_close(gain_db, rows[i].gain_db, 0.05 + bend);
        /* Where the Recommendation has a tolerance of zero (6.3 kHz), the printed digit is the limit. */
        assert_true(gain_db - rows[i].gain_db <= fmax(rows[i].above_db, 0.05));
        assert_true(rows[i].gain_db - gain_db <= fmax(rows[i].below_db, 0.05));
    }
}

static void test_a_weighting(void **state)
{
    (void)state;
    check_rows("noise.a", class1, sizeof class1 / sizeof class1[0], sim_a_weighting_db);
}

static void test_itu468(void **state)
{
    (void)state;
    check_rows("noise.itu468", itu468, sizeof itu468 / sizeof itu468[0], sim_itu468_weighting_db);
}

/* White noise, 20 Hz to 20 kHz: -2.0483 dB A-weighted and +7.3014 dB ITU-R 468-weighted re the same band unweighted
 * (noise bandwidths 12467.18 Hz and 107334.5 Hz, integrated numerically from the formulas). 20 s: the three readings
 * share their noise, and 2BT = 5e5 degrees of freedom leave 0.01 dB. */
static void test_white_noise(void **state)
{
    (void)state;
    const size_t n = (size_t)RATE * 20;
    double *x = sim_samples(n);
    struct sim_random random;
    sim_random_seed(&random, 6);
    sim_add_white(x, n, RATE, 1e-6, &random);
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, NULL, &measurement);
    const double band = sim_value(&measurement, "noise.band.20-20k");
    check_close(20.0 * log10(band / (1e-6 * sqrt(19980.0))), 0.0, 0.04); /* 8.686/sqrt(2 * 8e5), four times */
    check_close(20.0 * log10(sim_value(&measurement, "noise.a") / band), -2.0483, 0.04);
    check_close(20.0 * log10(sim_value(&measurement, "noise.itu468") / band), 7.3014, 0.06);
    lds_measurement_free(&measurement);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_weighting),
        cmocka_unit_test(test_itu468),
        cmocka_unit_test(test_white_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
