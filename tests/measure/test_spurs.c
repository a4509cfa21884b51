/* Lines that are found, with their origins, and lines that must not be invented. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "loadside/series.h"
#include "measure/spectra.h"
#include "measure/spurs/spurs.h"
#include "simulate/check.h"
#include "simulate/signals.h"
#include "spectrum/cascade.h"

enum { RATE = 48000 };

static const struct lds_spur_request NOTHING_KNOWN = {
    .tone_hz = NAN, .mains_hz = NAN, .clock_ppm = 100.0, .false_alarm = 1e-3};

static void find(const double *x, size_t n, double rate_hz, const struct lds_spur_request *request,
                 struct lds_spur_list *found)
{
    struct lds_density density;
    struct lds_floor floor;
    spectrum_of(x, n, rate_hz, &density);
    assert_true(lds_floor_find(&floor, &density, request->known));
    assert_true(lds_spurs_find(&floor, request, found));
    lds_floor_free(&floor);
    lds_density_free(&density);
}

static double white(double frequency_hz, const void *context)
{
    (void)frequency_hz;
    (void)context;
    return 1e-12;
}

static double pink(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-9 / frequency_hz;
}

/* 1/f^2 at the bottom, a filter of 144 dB an octave at the top. */
static double steep(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-12 * (1.0 + pow(100.0 / frequency_hz, 2.0)) / (1.0 + pow(frequency_hz / 15e3, 48.0)) + 1e-18;
}

static double resonance(double frequency_hz, double centre_hz, double half_width_hz)
{
    double x = (frequency_hz - centre_hz) / half_width_hz;
    return 1.0 / (1.0 + x * x);
}

/* Resonances from a width of 80 Hz (27 bins) on, up to 40 dB high. */
static double resonant(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-12 * (1.0 + 1e3 * resonance(frequency_hz, 3000.0, 40.0) + 1e4 * resonance(frequency_hz, 9000.0, 120.0) +
                    20.0 * resonance(frequency_hz, 15e3, 600.0));
}

/* The full count, thousands of spectra, is a separate simulation; this one shows a broken threshold. */
static void none_on_noise(void **state)
{
    (void)state;
    enum { N = 2 * RATE, RUNS = 60, SEED = 51 };
    static double (*const shape[])(double, const void *) = {white, pink, steep, resonant};
    static const char *const name[] = {"white", "1/f", "steep", "resonant"};
    double *x = sim_samples(N);
    for (int s = 0; s < 4; s++) {
        struct sim_colour *colour = sim_colour_new(N, RATE, shape[s], NULL);
        struct sim_random random;
        sim_random_seed(&random, SEED);
        int spectra = 0;
        for (int r = 0; r < RUNS; r++) {
            memset(x, 0, N * sizeof *x);
            sim_colour_add(colour, x, &random);
            struct lds_spur_list found;
            find(x, N, RATE, &NOTHING_KNOWN, &found);
            spectra += found.count > 0;
            lds_spur_list_free(&found);
        }
        if (spectra > 0)
            fail_msg("seed %d: spurs on %d of %d spectra of %s noise", SEED, spectra, RUNS, name[s]);
        sim_colour_free(colour);
    }
    free(x);
}

static const struct lds_spur *near(const struct lds_spur_list *found, double frequency_hz)
{
    for (size_t i = 0; i < found->count; i++)
        if (fabs(found->spur[i].frequency_hz - frequency_hz) < 3.0)
            return &found->spur[i];
    fail_msg("no spur near %g Hz", frequency_hz);
    return NULL;
}

static void frequency_and_level(void **state)
{
    (void)state;
    enum { N = 8 * RATE };
    static const struct {
        double frequency_hz, level;
    } line[] = {{31.7, 3e-5}, {612.43, 1e-5}, {1987.6, 3e-5}, {5111.1, 1e-2}, {5150.0, 2e-5}, {21234.5, 1e-5}};
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    struct sim_random random;
    sim_random_seed(&random, 52);
    sim_add_white(x, N, RATE, 1e-6, &random);
    for (int l = 0; l < 6; l++) {
        struct sim_tone tone = {.frequency_hz = line[l].frequency_hz, .level = line[l].level, .phase_rad = l};
        sim_add_tone(x, N, RATE, &tone);
    }
    struct lds_spur_list found;
    find(x, N, RATE, &NOTHING_KNOWN, &found);
    assert_int_equal(found.count, 6);
    for (int l = 0; l < 6; l++) {
        const struct lds_spur *spur = near(&found, line[l].frequency_hz);
        check_close(spur->frequency_hz, line[l].frequency_hz, 0.3);
        check_close(20.0 * log10(spur->level / line[l].level), 0.0, line[l].level > 1e-3 ? 0.02 : 1.0);
        assert_true(spur->margin_db > 0.0);
        assert_true(l == 0 || found.spur[l].frequency_hz > found.spur[l - 1].frequency_hz);
    }
    assert_string_equal(near(&found, 612.43)->origin, "unexplained");
    assert_string_equal(near(&found, 21234.5)->origin, "unexplained: check for oscillation");
    /* with them known, the floor beneath is found and nothing is left */
    struct lds_lines known = {0};
    assert_true(lds_spurs_append(&found, &known));
    assert_int_equal(known.count, 6);
    struct lds_spur_request request = NOTHING_KNOWN;
    request.known = &known;
    struct lds_spur_list rest;
    find(x, N, RATE, &request, &rest);
    assert_int_equal(rest.count, 0);
    struct lds_bench bench;
    lds_bench_init(&bench);
    bench.low_corner_hz = 31.7;
    struct lds_measurement measurement = {.channels = 1, .channel = calloc(1, sizeof(struct lds_channel))};
    struct lds_noise_scale scale = {.per_unit = 20.0, .bench = &bench};
    assert_true(lds_spurs_record(measurement.channel, &found, &scale));
    const struct lds_series *spurs = lds_channel_series(measurement.channel, "spurs");
    check_close(lds_series_value(spurs, 0, LDS_SPUR_LEVEL) / found.spur[0].level, 20.0 * sqrt(2.0), 0.2);
    check_close(lds_series_value(spurs, 5, LDS_SPUR_LEVEL) / found.spur[5].level, 20.0, 0.01);
    assert_string_equal(spurs->text[5], found.spur[5].origin);
    lds_measurement_free(&measurement);
    lds_spur_list_free(&rest);
    lds_spur_list_free(&found);
    free(known.line);
    free(x);
}

/* How small a line is still found: one whose peak is 2 dB above the threshold nearly always is. */
static void small_lines(void **state)
{
    (void)state;
    enum { N = 5 * RATE, RUNS = 40, SEED = 53 };
    double *x = sim_samples(N);
    struct sim_random random;
    sim_random_seed(&random, SEED);
    int found_it = 0;
    for (int r = 0; r < RUNS; r++) {
        memset(x, 0, N * sizeof *x);
        sim_add_white(x, N, RATE, 1e-6, &random);
        /* bins of 2.93 Hz, noise bandwidth 2.63 bins: 7.7 Hz, so 3.6e-6 puts the peak 2.7 times over the floor */
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 3000.0, 20e3), .level = 3.6e-6};
        sim_add_tone(x, N, RATE, &tone);
        struct lds_spur_list found;
        find(x, N, RATE, &NOTHING_KNOWN, &found);
        for (size_t i = 0; i < found.count; i++)
            found_it += fabs(found.spur[i].frequency_hz - tone.frequency_hz) < 2.0;
        lds_spur_list_free(&found);
    }
    if (found_it < RUNS * 8 / 10)
        fail_msg("seed %d: %d of %d small lines found", SEED, found_it, RUNS);
    free(x);
}

static const char *origin_of(double frequency_hz, double level, const struct lds_spur_request *request,
                             double parent_hz)
{
    static char origin[64];
    struct lds_spur spur[2] = {{.frequency_hz = frequency_hz, .level = level, .tolerance_hz = 0.3},
                               {.frequency_hz = parent_hz, .level = 1.0, .tolerance_hz = 0.3}};
    struct lds_spur_list found = {.count = parent_hz > 0.0 ? 2 : 1, .spur = spur};
    lds_spur_origin(request, &found, 0, origin);
    return origin;
}

static void origins(void **state)
{
    (void)state;
    struct lds_spur_request request = {
        .tone_hz = 997.3, .mains_hz = 50.01, .mains_spread_hz = 0.002, .clock_ppm = 100.0, .false_alarm = 1e-3};
    assert_string_equal(origin_of(42 * 50.01, 1e-5, &request, 0.0), "mains order 42");
    assert_string_equal(origin_of(997.3 + 100.02, 1e-5, &request, 0.0), "sideband of the tone at +2 fm");
    assert_string_equal(origin_of(997.3 - 50.01, 1e-5, &request, 0.0), "sideband of the tone at -1 fm");
    assert_string_equal(origin_of(31 * 997.3, 1e-5, &request, 0.0), "harmonic 31 of the tone");
    assert_string_equal(origin_of(16000.1, 1e-5, &request, 0.0), "1 kHz or 8 kHz raster: the capture chain");
    assert_string_equal(origin_of(7000.0, 1e-5, &request, 0.0), "1 kHz or 8 kHz raster: the capture chain");
    /* a strong spur is not a tone: it gives no products */
    assert_string_equal(origin_of(65432.1 - 997.3, 1e-5, &request, 65432.1), "unexplained: check for oscillation");
    request.second_hz = 65432.1;
    assert_string_equal(origin_of(65432.1, 1.0, &request, 0.0), "second tone");
    assert_string_equal(origin_of(65432.1 - 997.3, 1e-5, &request, 65432.1), "difference product 65432.1 - 997.3 Hz");
    assert_string_equal(origin_of(65432.1 - 2 * 997.3, 1e-5, &request, 65432.1),
                        "difference product 65432.1 - 2 x 997.3 Hz");
    assert_string_equal(origin_of(65432.1 + 2 * 997.3, 1e-5, &request, 65432.1), "sum product 2 x 997.3 + 65432.1 Hz");
    request.second_hz = 20e3;
    request.tone_hz = 19e3;
    assert_string_equal(origin_of(1e3, 1e-5, &request, 0.0), "difference product 20000 - 19000 Hz");
    assert_string_equal(origin_of(18e3, 1e-5, &request, 0.0), "difference product 2 x 19000 - 20000 Hz");
    assert_string_equal(origin_of(8e3, 1e-5, &request, 0.0), "1 kHz or 8 kHz raster: the capture chain");
    request.second_hz = NAN;
    request.tone_hz = 997.3;
    assert_string_equal(origin_of(7321.7, 1e-5, &request, 0.0), "unexplained");
    assert_string_equal(origin_of(20321.7, 1e-5, &request, 0.0), "unexplained: check for oscillation");
    assert_string_equal(origin_of(1.0, 1e-5, &request, 0.0), "unexplained");
    assert_string_equal(origin_of(203 * 50.01, 1e-5, &request, 0.0), "mains order 203");
    request.tone_hz = 1000.2;
    assert_string_equal(origin_of(1100.22, 1e-5, &request, 0.0), "sideband of the tone at +2 fm or mains order 22");
    assert_string_equal(origin_of(12345.6, 1e-5, &NOTHING_KNOWN, 0.0), "unexplained");
}

/* Lines that are orders of a mains other than the measured one. */
static void second_comb(void **state)
{
    (void)state;
    struct lds_spur spur[] = {{.frequency_hz = 60.02, .tolerance_hz = 0.05},
                              {.frequency_hz = 180.07, .tolerance_hz = 0.05},
                              {.frequency_hz = 300.1, .tolerance_hz = 0.05},
                              {.frequency_hz = 1234.5, .tolerance_hz = 0.05},
                              {.frequency_hz = 2400.8, .tolerance_hz = 0.05}};
    struct lds_spur_list found = {.count = 5, .spur = spur};
    struct lds_spur_request request = {.tone_hz = NAN, .second_hz = NAN, .mains_hz = 50.01, .mains_spread_hz = 0.002};
    char origin[64];
    lds_spur_origin(&request, &found, 1, origin);
    assert_string_equal(origin, "order 3 of a second mains comb at 60.0200 Hz");
    lds_spur_origin(&request, &found, 4, origin);
    assert_string_equal(origin, "order 40 of a second mains comb at 60.0200 Hz");
    lds_spur_origin(&request, &found, 3, origin);
    assert_string_equal(origin, "unexplained");
    found.count = 1;
    lds_spur_origin(&request, &found, 0, origin);
    assert_string_equal(origin, "unexplained");
}

/* Two lines equally far from the tone, and as strong, are its sidebands; a single one is not, nor are two that
 * differ. */
static void pair_of_sidebands(void **state)
{
    (void)state;
    struct lds_spur spur[] = {{.frequency_hz = 993.5, .level = 1e-5, .tolerance_hz = 0.02},
                              {.frequency_hz = 1006.5, .level = 2e-5, .tolerance_hz = 0.02}};
    struct lds_spur_list found = {.count = 2, .spur = spur};
    const struct lds_spur_request request = {.tone_hz = 1000.0, .second_hz = NAN, .mains_hz = NAN};
    char origin[64];
    lds_spur_origin(&request, &found, 0, origin);
    assert_string_equal(origin, "sideband of the tone at -6.5 Hz");
    lds_spur_origin(&request, &found, 1, origin);
    assert_string_equal(origin, "sideband of the tone at +6.5 Hz");
    spur[1].level = 4e-5;
    lds_spur_origin(&request, &found, 0, origin);
    assert_string_equal(origin, "unexplained: on one side of the tone, -6.5 Hz");
}

/* Two equally strong lines, from 7 to 20 bins apart, are found as two, at their levels. */
static void two_lines(void **state)
{
    (void)state;
    enum { N = 10 * RATE, SEED = 57 };
    double *x = sim_samples(N);
    struct sim_random random;
    sim_random_seed(&random, SEED);
    for (double apart_hz = 20.0; apart_hz < 60.0; apart_hz += 5.0) {
        memset(x, 0, N * sizeof *x);
        sim_add_white(x, N, RATE, 1e-7, &random);
        const struct sim_tone one = {.frequency_hz = 7000.3, .level = 1e-3};
        const struct sim_tone two = {.frequency_hz = 7000.3 + apart_hz, .level = 1e-3, .phase_rad = 1.0};
        sim_add_tone(x, N, RATE, &one);
        sim_add_tone(x, N, RATE, &two);
        struct lds_spur_list found;
        find(x, N, RATE, &NOTHING_KNOWN, &found);
        if (found.count != 2)
            fail_msg("seed %d: %zu lines found of two %g Hz apart", SEED, found.count, apart_hz);
        check_close(found.spur[0].frequency_hz, one.frequency_hz, 0.3);
        check_close(found.spur[1].frequency_hz, two.frequency_hz, 0.3);
        check_close(found.spur[0].level, one.level, 0.02 * one.level);
        check_close(found.spur[1].level, two.level, 0.02 * two.level);
        lds_spur_list_free(&found);
    }
    free(x);
}

/* A line that wanders by some bins is one line. */
static void wandering_line(void **state)
{
    (void)state;
    enum { WIDE_RATE = 192000, N = 3 * WIDE_RATE };
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    struct sim_random random;
    sim_random_seed(&random, 54);
    sim_add_white(x, N, WIDE_RATE, 1e-6, &random);
    struct sim_tone tone = {.frequency_hz = 65321.0, .level = 1e-3, .swing_ppm = 700.0, .swing_periods = 2.0};
    sim_add_tone(x, N, WIDE_RATE, &tone);
    struct lds_spur_list found;
    find(x, N, WIDE_RATE, &NOTHING_KNOWN, &found);
    assert_int_equal(found.count, 1);
    check_close(found.spur[0].frequency_hz, 65321.0, 60.0);
    check_close(20.0 * log10(found.spur[0].level / 1e-3), 0.0, 0.5);
    lds_spur_list_free(&found);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(none_on_noise), cmocka_unit_test(frequency_and_level), cmocka_unit_test(small_lines),
        cmocka_unit_test(origins),       cmocka_unit_test(second_comb),         cmocka_unit_test(pair_of_sidebands),
        cmocka_unit_test(two_lines),     cmocka_unit_test(wandering_line),
    };
    return cmocka_run_group_tests_name("spurs", tests, NULL, NULL);
}
