/* lds_measure as a whole: its promises about threads, channels, lengths and faults. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loadside/loadside.h"
#include "simulate/signals.h"

static const double RATE_HZ = 48e3;

static double *interleave(double *const *x, size_t n, size_t channels)
{
    double *out = sim_samples(n * channels);
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < channels; c++)
            out[i * channels + c] = x[c][i];
    return out;
}

/* Tone, hum, a spur and noise; different in every channel. */
static double *stereo(size_t n)
{
    double *x[2];
    struct sim_random random;
    sim_random_seed(&random, 11);
    for (int c = 0; c < 2; c++) {
        x[c] = sim_samples(n);
        struct sim_tone tone = {.frequency_hz = 1000.3, .level = 0.4 / (c + 1), .orders = 3};
        tone.relative[2] = 1e-3;
        tone.relative[3] = 3e-4;
        sim_add_tone(x[c], n, RATE_HZ, &tone);
        struct sim_mains mains = {.frequency_hz = 50.01, .orders = 3, .level = {0, 1e-4, 5e-5, 2e-5}};
        sim_add_mains(x[c], n, RATE_HZ, &mains);
        sim_add_tone(x[c], n, RATE_HZ, &(struct sim_tone){.frequency_hz = 7321.0, .level = 1e-5});
        sim_add_white(x[c], n, RATE_HZ, 1e-7, &random);
    }
    double *both = interleave(x, n, 2);
    free(x[0]);
    free(x[1]);
    return both;
}

static enum lds_status measure(const double *x, size_t n, int channels, const struct lds_measure_options *options,
                               struct lds_measurement *m, struct lds_error *error)
{
    struct lds_capture *capture;
    assert_int_equal(lds_capture_from_memory(x, (int64_t)n, channels, RATE_HZ, &capture, error), LDS_OK);
    enum lds_status status = lds_measure(capture, options, m, error);
    lds_capture_close(capture);
    return status;
}

static bool same_number(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

static void test_threads_do_not_matter(void **state)
{
    (void)state;
    size_t n = 4 * 48000;
    double *x = stereo(n);
    struct lds_measurement one, many;
    struct lds_error error;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    options.threads = 1;
    assert_int_equal(measure(x, n, 2, &options, &one, &error), LDS_OK);
    options.threads = 5;
    assert_int_equal(measure(x, n, 2, &options, &many, &error), LDS_OK);
    for (size_t c = 0; c < 2; c++) {
        assert_int_equal(one.channel[c].figures, many.channel[c].figures);
        for (size_t i = 0; i < one.channel[c].figures; i++) {
            const struct lds_figure *a = &one.channel[c].figure[i], *b = &many.channel[c].figure[i];
            assert_string_equal(a->key, b->key);
            assert_true(same_number(a->value, b->value) && same_number(a->low, b->low) &&
                        same_number(a->high, b->high));
        }
    }
    assert_true(lds_channel_figure(&one.channel[0], "thd") != NULL);
    lds_measurement_free(&one);
    lds_measurement_free(&many);
    free(x);
}

static double value(const struct lds_measurement *m, size_t channel, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(&m->channel[channel], key);
    return figure ? figure->value : NAN;
}

static void test_content(void **state)
{
    (void)state;
    size_t n = 6 * 48000;
    double *x = stereo(n);
    struct lds_measurement m;
    struct lds_error error;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    options.bench.full_scale_v = 20.0;
    options.bench.load_ohm = 8.0;
    options.band[0] = (struct lds_band){400.0, 15e3};
    options.bands = 1;
    options.curves = true;
    assert_int_equal(measure(x, n, 2, &options, &m, &error), LDS_OK);
    assert_true(fabs(value(&m, 0, "tone.level") / 8.0 - 1.0) < 1e-4);
    assert_true(fabs(value(&m, 1, "tone.level") / 4.0 - 1.0) < 1e-4);
    assert_true(fabs(value(&m, 0, "tone.power") / 8.0 - 1.0) < 2e-4);
    double thd = 20.0 * log10(hypot(1e-3, 3e-4));
    assert_true(fabs(value(&m, 0, "thd") - thd) < 0.01);
    assert_true(fabs(value(&m, 0, "thd.400-15k") - thd) < 0.01);
    assert_true(fabs(value(&m, 0, "mains.total") / (20.0 * sqrt(1e-8 + 25e-10 + 4e-10)) - 1.0) < 0.01);
    assert_true(fabs(value(&m, 0, "noise.band.20-20k") / (20.0 * 1e-7 * sqrt(19980.0)) - 1.0) < 0.02);
    const struct lds_series *spurs = lds_channel_series(&m.channel[0], "spurs");
    assert_int_equal(spurs->rows, 1);
    assert_true(fabs(lds_series_value(spurs, 0, LDS_SPUR_HZ) - 7321.0) < 0.1);
    assert_true(fabs(lds_series_value(spurs, 0, LDS_SPUR_LEVEL) / 2e-4 - 1.0) < 0.03);
    assert_true(fabs(lds_pair_figure(&m.pair[0], "balance")->value + 20.0 * log10(2.0)) < 1e-3);
    assert_true(lds_channel_series(&m.channel[0], "spectrum")->rows > 100);
    assert_int_equal(lds_channel_series(&m.channel[0], "residual")->rows, 1024);
    /* 24 kHz of bandwidth include nothing of 100 to 500 kHz */
    assert_non_null(lds_channel_absent(&m.channel[0], "noise.band.100k-500k"));
    assert_null(lds_channel_figure(&m.channel[0], "noise.band.100k-500k"));
    lds_measurement_free(&m);
    free(x);
}

/* A line that follows the tone's clock, in an otherwise silent channel, is crosstalk; equal channels are reported. */
static void test_pairs(void **state)
{
    (void)state;
    size_t n = 4 * 48000;
    double *x[2] = {sim_samples(n), sim_samples(n)};
    struct sim_random random;
    sim_random_seed(&random, 5);
    sim_add_tone(x[0], n, RATE_HZ, &(struct sim_tone){.frequency_hz = 997.0, .level = 0.5});
    sim_add_tone(x[1], n, RATE_HZ, &(struct sim_tone){.frequency_hz = 997.0, .level = 5e-5});
    for (int c = 0; c < 2; c++)
        sim_add_white(x[c], n, RATE_HZ, 1e-8, &random);
    double *both = interleave(x, n, 2);
    struct lds_measurement m;
    struct lds_error error;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    assert_int_equal(measure(both, n, 2, &options, &m, &error), LDS_OK);
    assert_true(fabs(lds_pair_figure(&m.pair[0], "crosstalk.1-2")->value + 80.0) < 0.05);
    assert_true(lds_channel_figure(&m.channel[0], "capture.identical")->value == 0.0);
    lds_measurement_free(&m);
    free(both);
    memcpy(x[1], x[0], n * sizeof *x[0]);
    for (size_t i = 0; i < n; i++)
        x[1][i] = -x[1][i];
    both = interleave(x, n, 2);
    assert_int_equal(measure(both, n, 2, &options, &m, &error), LDS_OK);
    assert_true(lds_channel_figure(&m.channel[1], "capture.identical")->value == 1.0);
    assert_true(lds_channel_figure(&m.channel[1], "thd")->flags & LDS_FLAG_IDENTICAL);
    lds_measurement_free(&m);
    free(both);
    free(x[0]);
    free(x[1]);
}

/* A capture need not hold a whole number of periods: the rms of its samples misses the tone's by up to 1/(4 pi f T) of
 * it, and the interval must show that, neither far too narrow nor far too wide. */
static void test_part_of_a_period(void **state)
{
    (void)state;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    enum { CAPTURES = 60 };
    const size_t n = (size_t)RATE_HZ / 2;
    struct lds_error error = {0};
    int held = 0;
    double widest = 0.0;
    struct sim_random random;
    sim_random_seed(&random, 41);
    for (int i = 0; i < CAPTURES; i++) {
        double *x = sim_samples(n);
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 400.0, 500.0),
                                .level = 0.3,
                                .phase_rad = sim_random_between(&random, -M_PI, M_PI)};
        sim_add_tone(x, n, RATE_HZ, &tone);
        sim_add_white(x, n, RATE_HZ, 1e-9, &random);
        struct lds_measurement m;
        assert_int_equal(measure(x, n, 1, &options, &m, &error), LDS_OK);
        free(x);
        const struct lds_figure *rms = lds_channel_figure(&m.channel[0], "level.rms");
        assert_non_null(rms);
        double truth = 20.0 * log10(0.3 * M_SQRT2); /* dBFS (AES17) */
        held += rms->low <= truth && truth <= rms->high;
        widest = fmax(widest, rms->high - rms->low);
        lds_measurement_free(&m);
    }
    /* 95 % of 60 is 57, standard deviation 1.7 */
    if (held < 52 || !(widest < 2.0 * 8.686 / (4.0 * M_PI * 400.0 * 0.5) * 1.1))
        fail_msg("the interval held the level %d times of %d; the widest is %g dB", held, CAPTURES, widest);
}

/* A sine of which the capture holds one to thirty periods: its limits are possible, include the level, and with many
 * periods are no wider than a tenth of it. */
static void test_slow_signals(void **state)
{
    (void)state;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    options.bench.full_scale_v = 10.0;
    enum { CAPTURES = 40 };
    const uint64_t seed = 43;
    struct lds_error error = {0};
    int held = 0;
    struct sim_random random;
    sim_random_seed(&random, seed);
    for (int i = 0; i < CAPTURES; i++) {
        const size_t n = (size_t)RATE_HZ / 2 * (i % 2 ? 1 : 4);
        double periods = pow(30.0, (double)(i + 1) / CAPTURES), frequency_hz = periods * RATE_HZ / (double)n;
        double *x = sim_samples(n);
        struct sim_tone tone = {
            .frequency_hz = frequency_hz, .level = 0.3, .phase_rad = sim_random_between(&random, -M_PI, M_PI)};
        sim_add_tone(x, n, RATE_HZ, &tone);
        sim_add_white(x, n, RATE_HZ, 1e-6, &random);
        struct lds_measurement m;
        assert_int_equal(measure(x, n, 1, &options, &m, &error), LDS_OK);
        free(x);
        const struct lds_figure *rms = lds_channel_figure(&m.channel[0], "level.rms");
        assert_non_null(rms);
        if (!(rms->low > 0.0) || rms->high > 3.0 * rms->low || (periods > 20.0 && rms->high > 1.5 * rms->low))
            fail_msg("%g periods: %g to %g V, seed %d", periods, rms->low, rms->high, (int)seed);
        held += rms->low <= 3.0 && 3.0 <= rms->high;
        lds_measurement_free(&m);
    }
    if (held < 35)
        fail_msg("the interval held the level %d times of %d, seed %d", held, CAPTURES, (int)seed);
}

static bool drifts(const struct lds_channel *channel, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(channel, key);
    assert_non_null(figure);
    return (figure->flags & LDS_FLAG_DRIFTING) != 0;
}

/* The wander of a fluttering tone is measured, and every figure that its sidebands affect is marked; one that creeps
 * like a generator is followed. */
static void test_flutter(void **state)
{
    (void)state;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    options.bench.full_scale_v = 1.0;
    const size_t n = 4 * (size_t)RATE_HZ;
    static const struct {
        double creep_ppm, swing_ppm, rate_hz, truth_ppm;
        bool marked;
    } cases[] = {{2.0, 0.0, 0.0, 2.0, false}, {0.0, 5000.0, 4.0, 10000.0, true}, {0.0, 30.0, 12.5, 60.0, false}};
    const char *const touched[] = {"thd", "thd_n", "sinad", "snr", "noise.band.20-20k", "noise.a", "tone.level"};
    for (size_t i = 0; i < 3; i++) {
        double *x = sim_samples(n);
        struct sim_random random;
        sim_random_seed(&random, 29);
        struct sim_tone tone = {.frequency_hz = 1000.3, .level = 0.4, .orders = 3, .creep_ppm = cases[i].creep_ppm};
        tone.swing_ppm = cases[i].swing_ppm;
        tone.swing_periods = cases[i].rate_hz * 4.0;
        tone.relative[2] = tone.relative[3] = 3e-4;
        sim_add_tone(x, n, RATE_HZ, &tone);
        sim_add_white(x, n, RATE_HZ, 3e-8, &random);
        struct lds_measurement m;
        struct lds_error error = {0};
        assert_int_equal(measure(x, n, 1, &options, &m, &error), LDS_OK);
        free(x);
        const struct lds_channel *channel = &m.channel[0];
        const struct lds_figure *wander = lds_channel_figure(channel, "tone.wander"), *thd;
        assert_non_null(wander);
        double truth = cases[i].truth_ppm;
        if (!(wander->low <= truth && truth <= wander->high && wander->high - wander->low < 0.03 * truth + 0.1))
            fail_msg("%g ppm: %g to %g", truth, wander->low, wander->high);
        for (size_t k = 0; k < sizeof touched / sizeof touched[0]; k++)
            if (drifts(channel, touched[k]) != cases[i].marked)
                fail_msg("%g ppm: %s", truth, touched[k]);
        assert_int_equal(value(&m, 0, "capture.gaps"), 0);
        thd = lds_channel_figure(channel, "thd");
        assert_int_equal((lds_channel_series(channel, "harmonics")->flag[2] & LDS_FLAG_DRIFTING) != 0, cases[i].marked);
        if (!cases[i].marked)
            assert_true(fabs(thd->value - sim_tone_thd_db(&tone, 3)) < 0.05);
        lds_measurement_free(&m);
    }
}

static void expect_error(size_t n, const struct lds_measure_options *options, enum lds_status status)
{
    double *x = sim_samples(n);
    x[0] = 0.1;
    struct lds_measurement m;
    struct lds_error error = {0};
    assert_int_equal(measure(x, n, 1, options, &m, &error), status);
    assert_true(error.message[0] != '\0');
    lds_measurement_free(&m);
    free(x);
}

static void test_refusals(void **state)
{
    (void)state;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    expect_error(9599, &options, LDS_BAD_INPUT); /* under 0.2 s */
    options.channel = 2;
    expect_error(48000, &options, LDS_BAD_USE);
    options.channel = 0;
    options.band[0] = (struct lds_band){2000.0, 100.0};
    options.bands = 1;
    expect_error(48000, &options, LDS_BAD_USE);
}

/* Silence, DC alone, the shortest capture, many channels: measured as far as possible. */
static void test_odd_captures(void **state)
{
    (void)state;
    struct lds_measure_options options;
    struct lds_measurement m;
    struct lds_error error;
    lds_measure_options_init(&options);
    double *x = sim_samples(64 * 9600);
    assert_int_equal(measure(x, 48000, 1, &options, &m, &error), LDS_OK);
    assert_non_null(lds_channel_absent(&m.channel[0], "tone.level"));
    lds_measurement_free(&m);
    for (size_t i = 0; i < 64 * 9600; i++)
        x[i] = 0.25;
    assert_int_equal(measure(x, 48000, 1, &options, &m, &error), LDS_OK);
    assert_non_null(lds_channel_absent(&m.channel[0], "thd"));
    lds_measurement_free(&m);
    struct sim_random random;
    sim_random_seed(&random, 9);
    sim_add_white(x, 64 * 9600, RATE_HZ, 1e-6, &random);
    assert_int_equal(measure(x, 9600, 64, &options, &m, &error), LDS_OK);
    assert_int_equal(m.channels, 64);
    assert_true(value(&m, 63, "noise.band.20-20k") < 0.0);
    lds_measurement_free(&m);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_threads_do_not_matter),
                                       cmocka_unit_test(test_content),
                                       cmocka_unit_test(test_pairs),
                                       cmocka_unit_test(test_part_of_a_period),
                                       cmocka_unit_test(test_slow_signals),
                                       cmocka_unit_test(test_flutter),
                                       cmocka_unit_test(test_refusals),
                                       cmocka_unit_test(test_odd_captures)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
