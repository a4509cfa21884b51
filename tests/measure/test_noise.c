/* Figures of noise, and whether their intervals hold. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "loadside/series.h"
#include "measure/noise/noise.h"
#include "measure/spectra.h"
#include "record/record.h"
#include "simulate/check.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"
#include "spectrum/cascade.h"

/* The result of one channel of a capture; freed by finding_free. */
struct finding {
    struct lds_measurement measurement;
    struct lds_channel *channel;
};

static void measure(const double *x, size_t n, double rate_hz, const struct lds_lines *known,
                    const struct lds_bench *bench, const struct lds_noise_request *request, struct finding *finding)
{
    struct lds_noise_scale scale;
    struct lds_density density;
    struct lds_floor floor;
    spectrum_of(x, n, rate_hz, &density);
    assert_true(lds_floor_find(&floor, &density, known));
    memset(finding, 0, sizeof *finding);
    finding->channel = calloc(1, sizeof *finding->channel);
    assert_non_null(finding->channel);
    finding->measurement.channels = 1;
    finding->measurement.channel = finding->channel;
    finding->channel->calibrated = bench && !isnan(lds_bench_volts_per_unit(bench));
    lds_noise_scale_init(&scale, bench, &floor);
    assert_true(lds_noise_measure(finding->channel, &floor, &scale, request));
    lds_floor_free(&floor);
    lds_density_free(&density);
}

static void finding_free(struct finding *finding)
{
    lds_measurement_free(&finding->measurement);
}

static const struct lds_figure *figure(const struct finding *finding, const char *key)
{
    const struct lds_figure *found = lds_channel_figure(finding->channel, key);
    if (!found)
        fail_msg("%s is absent: %s", key, lds_channel_absent(finding->channel, key));
    return found;
}

static void check_level(const struct finding *finding, const char *key, double expected)
{
    const struct lds_figure *f = figure(finding, key);
    check_close(f->value / expected, 1.0, strcmp(key, "noise.density.1k") ? 0.02 : 0.05);
    /* u_a is half the interval over 1.96, except for the interval's skew and few degrees of freedom */
    check_close(f->u_a / ((f->high - f->low) / 3.92), 1.0, 0.25);
    if (!(f->low < expected * 1.01 && f->high > expected * 0.99 && f->low < f->value && f->value < f->high))
        fail_msg("%s: %g .. %g about %g, expected %g", key, f->low, f->high, f->value, expected);
}

/* White noise of 1 uV/sqrt(Hz) at the load through a chain of 0.1 V full scale peak per volt. */
static void white_noise_in_volts(void **state)
{
    (void)state;
    enum { RATE = 96000, SECONDS = 4, N = RATE * SECONDS };
    struct lds_bench bench;
    lds_bench_init(&bench);
    bench.full_scale_v = 2.0;
    bench.attenuation = 10.0;
    struct sim_random random;
    sim_random_seed(&random, 41);
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    sim_add_white(x, N, RATE, 1e-6 / 20.0, &random);
    static const struct lds_band asked[] = {{400.0, 30e3}, {20.0, 20e3}, {400.0, 30e3}};
    struct lds_noise_request request = {.band = asked, .bands = 3};
    struct finding f;
    measure(x, N, RATE, NULL, &bench, &request, &f);
    check_level(&f, "noise.band.20-20k", 1e-6 * sqrt(19980.0));
    check_level(&f, "noise.total.20-20k", 1e-6 * sqrt(19980.0));
    check_level(&f, "noise.band.400-30k", 1e-6 * sqrt(29600.0));
    /* 12467.18 Hz and 107334.5 Hz: noise bandwidths of the curves from 20 Hz to 20 kHz, integrated independently */
    check_level(&f, "noise.a", 1e-6 * sqrt(12467.18));
    check_level(&f, "noise.itu468", 1e-6 * sqrt(107334.5));
    check_level(&f, "noise.density.1k", 1e-6);
    check_level(&f, "noise.density.10k", 1e-6);
    assert_true(figure(&f, "noise.a")->flags == 0);
    assert_string_equal(figure(&f, "noise.a")->unit, "V");
    assert_non_null(lds_channel_absent(f.channel, "noise.band.100k-500k"));
    assert_non_null(lds_channel_absent(f.channel, "noise.density.100k"));
    /* 20 to 43.2 kHz is less than half of 20 to 100 kHz */
    assert_non_null(lds_channel_absent(f.channel, "noise.band.20k-100k"));
    assert_non_null(lds_channel_absent(f.channel, "noise.corner"));
    assert_true(figure(&f, "noise.slope")->flags & LDS_FLAG_FLAT);
    check_close(figure(&f, "capture.bandwidth")->value, 43200.0, 50.0);
    int copies = 0;
    for (size_t i = 0; i < f.channel->figures; i++)
        copies += strcmp(f.channel->figure[i].key, "noise.band.400-30k") == 0 ||
                  strcmp(f.channel->figure[i].key, "noise.band.20-20k") == 0;
    assert_int_equal(copies, 2);
    const struct lds_series *floor = lds_channel_series(f.channel, "floor");
    for (size_t i = 0; i < floor->rows; i++)
        check_close(lds_series_value(floor, i, LDS_FLOOR_DENSITY), 1e-6,
                    lds_series_value(floor, i, LDS_FLOOR_HZ) > 100.0 ? 1e-7 : 3e-7);
    assert_true(floor->rows > 40 && lds_series_value(floor, 0, LDS_FLOOR_LOW_HZ) < 10.5);
    finding_free(&f);
    free(x);
}

/* The chain's response is divided out, its calibration limits widen the interval, usable_to cuts the band. */
static void bench_is_undone(void **state)
{
    (void)state;
    enum { RATE = 48000, N = 4 * RATE };
    struct lds_bench bench;
    lds_bench_init(&bench);
    bench.full_scale_v = 1.0;
    bench.attenuation = 1.0;
    bench.calibration_percent = 3.0;
    bench.low_corner_hz = 200.0;
    bench.usable_to_hz = 15e3;
    struct sim_random random;
    sim_random_seed(&random, 42);
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    sim_add_white(x, N, RATE, 1e-6, &random);
    struct lds_noise_request request = {0};
    struct finding f;
    measure(x, N, RATE, NULL, &bench, &request, &f);
    const struct lds_figure *band = figure(&f, "noise.band.20-20k");
    /* integral of 1 + (200/f)^2 */
    double power = 14980.0 + 200.0 * 200.0 * (1.0 / 20.0 - 1.0 / 15e3);
    check_close(band->value / (1e-6 * sqrt(power)), 1.0, 0.02);
    check_close(band->u_b / band->value, 0.03 / sqrt(3.0), 1e-9);
    assert_true(band->high / band->value > 1.033 && band->high / band->value < 1.05);
    assert_true(band->flags & LDS_FLAG_BAND_CUT);
    check_close(band->band_hz[1], 15e3, 0.0);
    assert_non_null(lds_channel_absent(f.channel, "noise.a"));
    assert_non_null(strstr(lds_channel_absent(f.channel, "noise.band.20k-100k"), "bench"));
    finding_free(&f);
    free(x);
}

/* Without calibration a full-scale sine, rms 1/sqrt(2), is 0 dBFS (AES17). */
static void uncalibrated_is_dbfs(void **state)
{
    (void)state;
    enum { RATE = 44100, N = 3 * RATE };
    struct sim_random random;
    sim_random_seed(&random, 43);
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    sim_add_white(x, N, RATE, 1e-6, &random);
    struct lds_noise_request request = {0};
    struct finding f;
    measure(x, N, RATE, NULL, NULL, &request, &f);
    const struct lds_figure *a = figure(&f, "noise.a");
    assert_string_equal(a->unit, "dBFS");
    check_close(a->value, 20.0 * log10(1e-6 * sqrt(2.0 * 12467.18)), 0.1);
    assert_true(a->flags & LDS_FLAG_BAND_CUT); /* ends at 19.845 kHz */
    finding_free(&f);
    free(x);
}

static void hum_counts_where_it_should(void **state)
{
    (void)state;
    enum { RATE = 48000, N = 4 * RATE };
    struct sim_random random;
    sim_random_seed(&random, 44);
    double *x = sim_samples(N);
    memset(x, 0, N * sizeof *x);
    sim_add_white(x, N, RATE, 1e-7, &random);
    struct sim_tone hum = {.frequency_hz = 100.0, .level = 1e-4}, tone = {.frequency_hz = 997.0, .level = 0.5};
    sim_add_tone(x, N, RATE, &hum);
    sim_add_tone(x, N, RATE, &tone);
    struct lds_known_line line[] = {
        {.kind = LDS_LINE_MAINS, .order = 2, .frequency_hz = 100.0, .spread_hz = 0.02, .power = 1e-8},
        {.kind = LDS_LINE_TONE, .order = 1, .frequency_hz = 997.0, .spread_hz = 2.0, .power = 0.25},
    };
    struct lds_lines known = {2, line};
    struct lds_bench bench;
    lds_bench_init(&bench);
    bench.full_scale_v = 1.0;
    bench.attenuation = 1.0;
    struct lds_noise_request request = {0};
    struct finding f;
    measure(x, N, RATE, &known, &bench, &request, &f);
    check_close(figure(&f, "noise.band.20-20k")->value / (1e-7 * sqrt(19980.0)), 1.0, 0.02);
    check_close(figure(&f, "noise.total.20-20k")->value / hypot(1e-4, 1e-7 * sqrt(19980.0)), 1.0, 0.01);
    double weighted = 1e-4 * pow(10.0, sim_a_weighting_db(100.0) / 20.0);
    check_close(figure(&f, "noise.a")->value / hypot(weighted, 1e-7 * sqrt(12467.18)), 1.0, 0.02);
    assert_true(figure(&f, "noise.band.20-20k")->removed_hz > 10.0);
    finding_free(&f);
    free(x);
}

static void corner_and_slope(void **state)
{
    (void)state;
    enum { RATE = 48000, N = 10 * RATE };
    static const struct sim_flicker flicker = {.power = 1e-14, .corner_hz = 300.0};
    struct sim_random random;
    sim_random_seed(&random, 45);
    double *x = sim_samples(N);
    struct sim_colour *colour = sim_colour_new(N, RATE, sim_flicker_density, &flicker);
    memset(x, 0, N * sizeof *x);
    sim_colour_add(colour, x, &random);
    struct lds_noise_request request = {0};
    struct finding f;
    measure(x, N, RATE, NULL, NULL, &request, &f);
    const struct lds_figure *corner = figure(&f, "noise.corner");
    check_close(corner->value, 300.0, 20.0);
    assert_true(corner->low < 305.0 && corner->high > 295.0 && corner->high - corner->low < 80.0);
    finding_free(&f);
    sim_colour_free(colour);
    free(x);
}

static double rising(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-14 * frequency_hz / 1e3; /* 10 dB a decade */
}

static double cliff(double frequency_hz, const void *context)
{
    (void)context;
    return frequency_hz < 20500.0 ? 1e-14 : 1e-18;
}

static double gentle(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-14 / (1.0 + pow(frequency_hz / 20e3, 8.0)); /* fourth-order low-pass */
}

static double eight_poles(double frequency_hz, const void *context)
{
    (void)context;
    return 1e-14 / (1.0 + pow(frequency_hz / 20e3, 16.0));
}

static void slope_and_bandwidth(void **state)
{
    (void)state;
    enum { RATE = 96000, N = 4 * RATE };
    static const struct {
        double (*density)(double, const void *);
        double edge_hz, reach_hz;
    } shape[] = {
        {rising, 43200.0, 50.0}, {cliff, 20500.0, 150.0}, {gentle, 43200.0, 50.0}, {eight_poles, 43200.0, 50.0}};
    for (int s = 0; s < 4; s++) {
        struct sim_random random;
        sim_random_seed(&random, 46);
        double *x = sim_samples(N);
        struct sim_colour *colour = sim_colour_new(N, RATE, shape[s].density, NULL);
        memset(x, 0, N * sizeof *x);
        sim_colour_add(colour, x, &random);
        static const struct lds_band asked = {20.0, 30e3};
        struct lds_noise_request request = {.band = &asked, .bands = 1};
        struct finding f;
        measure(x, N, RATE, NULL, NULL, &request, &f);
        check_close(figure(&f, "capture.bandwidth")->value, shape[s].edge_hz, shape[s].reach_hz);
        assert_int_equal((figure(&f, "noise.band.20-30k")->flags & LDS_FLAG_BANDWIDTH) != 0, s == 1);
        assert_int_equal(figure(&f, "noise.band.20-20k")->flags & LDS_FLAG_BANDWIDTH, 0);
        if (s == 0) {
            const struct lds_figure *slope = figure(&f, "noise.slope");
            check_close(slope->value, 10.0, 0.1);
            assert_false(slope->flags & LDS_FLAG_FLAT);
            assert_true(slope->low < 10.02 && slope->high > 9.98);
        }
        finding_free(&f);
        sim_colour_free(colour);
        free(x);
    }
}

static void silence_is_absent(void **state)
{
    (void)state;
    enum { RATE = 48000 };
    double *x = sim_samples(RATE);
    memset(x, 0, RATE * sizeof *x);
    struct lds_noise_request request = {0};
    struct finding f;
    measure(x, RATE, RATE, NULL, NULL, &request, &f);
    assert_non_null(strstr(lds_channel_absent(f.channel, "noise.band.20-20k"), "silence"));
    assert_non_null(lds_channel_absent(f.channel, "noise.a"));
    assert_non_null(lds_channel_absent(f.channel, "noise.corner"));
    assert_non_null(lds_channel_absent(f.channel, "noise.slope"));
    assert_int_equal(lds_channel_series(f.channel, "floor")->rows, 0);
    finding_free(&f);
    free(x);
}

/* How often the interval holds the truth: 250 captures, 95 % +- 3 standard deviations of that count. */
static void intervals_hold(void **state)
{
    (void)state;
    enum { RATE = 48000, N = RATE, RUNS = 250, SEED = 47 };
    static const struct sim_flicker kind[] = {{.power = 1e-14, .corner_hz = 0.0}, {.power = 1e-18, .corner_hz = 1e6}};
    for (int k = 0; k < 2; k++) {
        double truth[2] = {sqrt(sim_band_power(20.0, 20e3, sim_flicker_density, &kind[k], NULL)),
                           sqrt(sim_band_power(20.0, 20e3, sim_flicker_density, &kind[k], sim_a_weighting_db))};
        static const char *const key[2] = {"noise.band.20-20k", "noise.a"};
        struct sim_colour *colour = sim_colour_new(N, RATE, sim_flicker_density, &kind[k]);
        struct sim_random random;
        sim_random_seed(&random, SEED);
        double *x = sim_samples(N);
        int held[2] = {0};
        struct lds_bench bench;
        lds_bench_init(&bench);
        bench.full_scale_v = bench.attenuation = 1.0;
        struct lds_noise_request request = {0};
        for (int r = 0; r < RUNS; r++) {
            memset(x, 0, N * sizeof *x);
            sim_colour_add(colour, x, &random);
            struct finding f;
            measure(x, N, RATE, NULL, &bench, &request, &f);
            for (int i = 0; i < 2; i++)
                held[i] += figure(&f, key[i])->low <= truth[i] && truth[i] <= figure(&f, key[i])->high;
            finding_free(&f);
        }
        for (int i = 0; i < 2; i++)
            if (held[i] < 227 || held[i] > 248)
                fail_msg("seed %d: %s of %s noise held %d of %d times, expected 237 within 10", SEED, key[i],
                         k ? "1/f" : "white", held[i], RUNS);
        sim_colour_free(colour);
        free(x);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(white_noise_in_volts), cmocka_unit_test(bench_is_undone),
        cmocka_unit_test(uncalibrated_is_dbfs), cmocka_unit_test(hum_counts_where_it_should),
        cmocka_unit_test(corner_and_slope),     cmocka_unit_test(slope_and_bandwidth),
        cmocka_unit_test(silence_is_absent),    cmocka_unit_test(intervals_hold),
    };
    return cmocka_run_group_tests_name("noise", tests, NULL, NULL);
}
