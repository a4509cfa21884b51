/* Thermal noise: sqrt(4kTR), k = 1.380649e-23 J/K (exact since the SI of 2019), read back from captures of that
 * density, against published worked examples. The captures are calibrated so low that the noise fills the samples: a
 * bench with a full scale of 1 mV. */
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

static const double boltzmann = 1.380649e-23;

static double density_v(double ohm, double kelvin)
{
    return sqrt(4.0 * boltzmann * kelvin * ohm);
}

static void measure_resistor(double ohm, double kelvin, double rate_hz, double seconds, double top_hz,
                             struct lds_measurement *measurement)
{
    const size_t n = (size_t)(rate_hz * seconds);
    double *x = sim_samples(n);
    struct sim_random random;
    sim_random_seed(&random, 41 + (uint64_t)ohm);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = 1e-3;
    options.tone_hz = 0.0;
    if (top_hz > 20000.0) {
        options.band[0] = (struct lds_band){20.0, top_hz};
        options.bands = 1;
    }
    sim_add_white(x, n, rate_hz, density_v(ohm, kelvin) / 1e-3, &random);
    sim_measure(x, n, rate_hz, &options, measurement);
    free(x);
}

/* Density at 300 K, nV/sqrt(Hz), and what 20 kHz of it is, uV. */
static void test_table(void **state)
{
    (void)state;
    static const double rows[][3] = {
        {50.0, 0.910159, 0.128716}, {600.0, 3.15288, 0.445885}, {10e3, 12.8716, 1.82032}, {47e3, 27.9049, 3.94636}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        check_close(1e9 * density_v(rows[i][0], 300.0), rows[i][1], 1e-5 * rows[i][1]);
        struct lds_measurement measurement;
        measure_resistor(rows[i][0], 300.0, 48000.0, 10.0, 20000.0, &measurement);
        /* A third octave about 10 kHz over 10 s: 46000 degrees of freedom, 0.33 % in volts; four of them. */
        check_close(1e9 * sim_value(&measurement, "noise.density.10k") / rows[i][1], 1.0, 0.0132);
        /* 20 Hz to 20 kHz is 0.1 % less power than 20 kHz; 4e5 degrees of freedom, 0.11 %; four of them. */
        check_close(1e6 * sim_value(&measurement, "noise.band.20-20k") / (rows[i][2] * sqrt(0.999)), 1.0, 0.0045);
        lds_measurement_free(&measurement);
    }
}

/* Published worked example: 100 kohm, 1 MHz, 300 K gives 40.69 uV. Band 20 Hz to 1 MHz; 1 s leaves 0.05 %. */
static void test_megahertz(void **state)
{
    (void)state;
    struct lds_measurement measurement;
    measure_resistor(100e3, 300.0, 2.5e6, 1.0, 1e6, &measurement);
    check_close(1e6 * sim_value(&measurement, "noise.band.20-1M"), 40.69, 4 * 0.0005 * 40.69 + 0.02);
    lds_measurement_free(&measurement);
}

/* Published rules of thumb: 50 ohm gives 1 nV in 1 Hz (0.91 at 300 K), and 1 kohm 400 nV in 10 kHz at room temperature
 * (407.0 nV at 300 K). They have one digit each, and are checked to that. */
static void test_rules_of_thumb(void **state)
{
    (void)state;
    struct lds_measurement measurement;
    measure_resistor(50.0, 300.0, 48000.0, 10.0, 20000.0, &measurement);
    check_close(1e9 * sim_value(&measurement, "noise.density.1k"), 1.0, 0.15);
    lds_measurement_free(&measurement);
    measure_resistor(1e3, 300.0, 48000.0, 10.0, 20000.0, &measurement);
    check_close(1e9 * sim_value(&measurement, "noise.density.10k") * sqrt(1e4), 400.0, 15.0);
    lds_measurement_free(&measurement);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),
        cmocka_unit_test(test_megahertz),
        cmocka_unit_test(test_rules_of_thumb),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
