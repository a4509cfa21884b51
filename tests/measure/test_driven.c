/* Which channels are driven: not those as far below the strongest as crosstalk is, whatever the level in the file. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loadside/series.h"
#include "simulate/check.h"
#include "simulate/measured.h"
#include "simulate/random.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = 2 * RATE, MOST = 4 };
static const double FREQUENCY_HZ = 1013.0;

static void begin(double *channel[MOST], size_t channels)
{
    for (size_t c = 0; c < channels; c++)
        channel[c] = sim_samples(SAMPLES);
}

static void add(double *x, double frequency_hz, double level)
{
    sim_add_tone(x, SAMPLES, RATE, &(struct sim_tone){.frequency_hz = frequency_hz, .level = level, .phase_rad = 0.7});
}

/* Adds noise to the channels, measures them and frees them. */
static void finish(double *channel[MOST], size_t channels, double density, const struct lds_measure_options *options,
                   struct lds_measurement *m)
{
    struct sim_random random;
    struct lds_capture *capture = NULL;
    struct lds_error error = {0};
    struct lds_measure_options own;
    sim_options_init(&own);
    sim_random_seed(&random, 11);
    double *all = sim_samples(channels * SAMPLES);
    for (size_t c = 0; c < channels; c++) {
        sim_add_white(channel[c], SAMPLES, RATE, density, &random);
        for (size_t i = 0; i < SAMPLES; i++)
            all[i * channels + c] = channel[c][i];
        free(channel[c]);
    }
    if (lds_capture_from_memory(all, SAMPLES, (int)channels, RATE, &capture, &error) != LDS_OK ||
        lds_measure(capture, options ? options : &own, m, &error) != LDS_OK)
        fail_msg("%s", error.message);
    lds_capture_close(capture);
    free(all);
}

static const struct lds_figure *crosstalk(const struct lds_measurement *m, size_t pair, const char *key)
{
    const struct lds_figure *figure = lds_pair_figure(&m->pair[pair], key);
    if (!figure)
        fail_msg("no %s", key);
    return figure;
}

static const char *absent(const struct lds_measurement *m, size_t pair, const char *key)
{
    for (size_t i = 0; i < m->pair[pair].absents; i++)
        if (strcmp(m->pair[pair].absent[i].key, key) == 0)
            return m->pair[pair].absent[i].reason;
    return "";
}

static size_t rows(const struct lds_channel *channel, const char *key)
{
    const struct lds_series *series = lds_channel_series(channel, key);
    return series ? series->rows : 0;
}

/* No figures of a tone, and the crosstalk is neither a spur nor noise. */
static void check_undriven(const struct lds_measurement *m, size_t channel, double density)
{
    static const char *const keys[] = {
        "tone.frequency", "tone.level", "tone.power", "tone.drift",   "tone.wander", "thd",
        "thd_n",          "sinad",      "snr",        "residual.peak"};
    const struct lds_channel *c = &m->channel[channel];
    char why[96];
    snprintf(why, sizeof why, "channel %zu is not driven: what it shows at 1.013 kHz is crosstalk", channel + 1);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (lds_channel_figure(c, keys[i]))
            fail_msg("%s in channel %zu, which is not driven", keys[i], channel + 1);
        const char *reason = lds_channel_absent(c, keys[i]);
        assert_string_equal(reason ? reason : keys[i], why);
    }
    assert_int_equal(rows(c, "harmonics"), 0);
    assert_int_equal(rows(c, "spurs"), 0);
    assert_int_equal(c->signal.kind, LDS_SIGNAL_SILENCE);
    double noise = lds_channel_figure(c, "noise.total.20-20k")->value, whole = sqrt(19980.0) * density;
    check_close(20.0 * log10(noise / whole), 0.0, 0.4);
}

/* One driven, at levels in the file from full scale to far below the smallest tone accepted alone. */
static void test_relative(void **state)
{
    (void)state;
    static const double level[] = {0.6, 0.02, 2e-3}, below_db[] = {-21.5, -44.0, -80.0};
    for (size_t l = 0; l < sizeof level / sizeof level[0]; l++)
        for (size_t b = 0; b < sizeof below_db / sizeof below_db[0]; b++)
            for (int from = 0; from < 2; from++) {
                const double density = 1e-7 * level[l];
                double *channel[MOST], other = level[l] * pow(10.0, below_db[b] / 20.0);
                struct lds_measurement m;
                begin(channel, 2);
                add(channel[from], FREQUENCY_HZ, level[l]);
                add(channel[!from], FREQUENCY_HZ, other);
                add(channel[from], 2.0 * FREQUENCY_HZ, 1e-2 * level[l]);
                add(channel[!from], 2.0 * FREQUENCY_HZ, 1e-2 * other);
                finish(channel, 2, density, NULL, &m);
                const struct lds_figure *figure = crosstalk(&m, 0, from ? "crosstalk.2-1" : "crosstalk.1-2");
                check_close(figure->value, below_db[b], 0.05);
                assert_true(figure->low <= below_db[b] + 0.01 && figure->high >= below_db[b] - 0.01);
                assert_null(lds_pair_figure(&m.pair[0], "balance"));
                assert_string_equal(absent(&m, 0, "balance"),
                                    from ? "channel 1 is not driven" : "channel 2 is not driven");
                assert_non_null(lds_channel_figure(&m.channel[from], "thd"));
                check_undriven(&m, from ? 0 : 1, density);
                lds_measurement_free(&m);
            }
}

/* Less than 20 dB below counts as driven, even where it would be too weak for a tone by itself. */
static void test_balance(void **state)
{
    (void)state;
    static const double level[] = {0.6, 1e-3}, below_db[] = {-18.5, -3.0, 0.4};
    for (size_t l = 0; l < sizeof level / sizeof level[0]; l++)
        for (size_t b = 0; b < sizeof below_db / sizeof below_db[0]; b++) {
            double *channel[MOST];
            struct lds_measurement m;
            begin(channel, 2);
            add(channel[0], FREQUENCY_HZ, level[l]);
            add(channel[1], FREQUENCY_HZ, level[l] * pow(10.0, below_db[b] / 20.0));
            finish(channel, 2, 1e-7 * level[l], NULL, &m);
            check_close(lds_pair_figure(&m.pair[0], "balance")->value, below_db[b], 0.01);
            assert_string_equal(absent(&m, 0, "crosstalk"), "both channels are driven with the same tone");
            assert_non_null(lds_channel_figure(&m.channel[1], "thd_n"));
            lds_measurement_free(&m);
        }
}

/* Each channel has a tone of its own: crosstalk in both directions. A tone on a harmonic of the other tone hides one
 * direction. */
static void test_two_tones(void **state)
{
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        double *channel[MOST], second = turn ? 2.0 * FREQUENCY_HZ : 1430.0;
        struct lds_measurement m;
        begin(channel, 2);
        add(channel[0], FREQUENCY_HZ, 0.5);
        add(channel[1], second, 0.25);
        add(channel[1], FREQUENCY_HZ, 0.5e-3);
        if (turn == 0)
            add(channel[0], second, 0.25e-3);
        finish(channel, 2, 1e-8, NULL, &m);
        check_close(crosstalk(&m, 0, "crosstalk.1-2")->value, -60.0, 0.01);
        assert_string_equal(absent(&m, 0, "balance"), "the channels carry different tones");
        if (turn == 0) {
            check_close(crosstalk(&m, 0, "crosstalk.2-1")->value, -60.0, 0.01);
            assert_true(rows(&m.channel[0], "spurs") == 0 && rows(&m.channel[1], "spurs") == 0);
        } else {
            assert_string_equal(absent(&m, 0, "crosstalk.2-1"),
                                "the tone of channel 2 falls on harmonic 2 of that of channel 1");
        }
        lds_measurement_free(&m);
    }
}

/* The strongest of all channels decides; the pairs are (1, 2) and (3, 4). */
static void test_four(void **state)
{
    (void)state;
    double *channel[MOST];
    struct lds_measurement m;
    begin(channel, 4);
    for (int c = 0; c < 4; c++)
        add(channel[c], FREQUENCY_HZ, c == 2 ? 0.5 : 0.5 * pow(10.0, -(50.0 + 5.0 * c) / 20.0));
    finish(channel, 4, 1e-8, NULL, &m);
    assert_int_equal(m.pairs, 2);
    assert_int_equal(m.pair[0].figures, 1); /* the coherence of the noise */
    assert_string_equal(absent(&m, 0, "balance"), "no channel is driven");
    assert_string_equal(absent(&m, 0, "crosstalk"), "no channel is driven");
    check_close(crosstalk(&m, 1, "crosstalk.3-4")->value, -65.0, 0.01);
    for (size_t c = 0; c < 4; c++)
        if (c != 2)
            check_undriven(&m, c, 1e-8);
    lds_measurement_free(&m);
}

static void check_pair(const struct lds_measurement *m, size_t pair, const char *key, double truth_db)
{
    const struct lds_figure *figure = crosstalk(m, pair, key);
    check_close(figure->value, truth_db, 0.01);
    if (!(figure->low < truth_db && truth_db < figure->high && figure->high - figure->low < 0.05))
        fail_msg("%s: %.6f to %.6f, %.6f was put in", key, figure->low, figure->high, truth_db);
}

/* Any two channels can be a pair. */
static void test_pairs_asked(void **state)
{
    (void)state;
    static const double level_db[] = {0.0, -60.0, -1.3, -45.0}; /* the noise is 150 dB and more below all of them */
    static const int pairs[][2] = {{1, 3}, {4, 2}, {4, 1}, {3, 2}, {2, 3}};
    double *channel[MOST];
    struct lds_measurement m;
    struct lds_measure_options options;
    sim_options_init(&options);
    memcpy(options.pair, pairs, sizeof pairs);
    options.pairs = sizeof pairs / sizeof pairs[0];
    begin(channel, 4);
    for (int c = 0; c < 4; c++)
        add(channel[c], FREQUENCY_HZ, 0.5 * pow(10.0, level_db[c] / 20.0));
    finish(channel, 4, 1e-8, &options, &m);
    assert_int_equal(m.pairs, 4); /* 3-2 and 2-3 are one */
    static const int numbers[][2] = {{1, 3}, {2, 4}, {1, 4}, {2, 3}};
    for (size_t p = 0; p < m.pairs; p++) {
        assert_memory_equal(m.pair[p].channels, numbers[p], sizeof numbers[p]);
        assert_non_null(lds_pair_figure(&m.pair[p], "noise.coherence.20-20k"));
    }
    check_pair(&m, 0, "balance", -1.3);
    assert_string_equal(absent(&m, 1, "crosstalk"), "no channel is driven");
    check_pair(&m, 2, "crosstalk.1-4", -45.0);
    check_pair(&m, 3, "crosstalk.3-2", -58.7);
    lds_measurement_free(&m);
}

/* The amplifier's input in channel 1 and its output in channel 2, each through its own divider: 0.1 V and 4 V. */
static void test_two_benches(void **state)
{
    (void)state;
    static const double volts[] = {0.1, 4.0}, per_unit[] = {2.0, 20.0};
    for (int swapped = 0; swapped < 2; swapped++) {
        double *channel[MOST];
        struct lds_measurement m;
        struct lds_measure_options options;
        sim_options_init(&options);
        options.bench.full_scale_v = 2.0;
        options.bench.load_ohm = 8.0;
        options.bench.calibration_percent = 1.0;
        struct lds_bench *own = lds_bench_add(&options.bench, swapped ? 1 : 2);
        assert_non_null(own);
        assert_null(lds_bench_add(&options.bench, swapped ? 1 : 2));
        own->attenuation = 10.0;
        own->calibration_percent = 2.0;
        begin(channel, 2);
        for (int c = 0; c < 2; c++)
            add(channel[c ^ swapped], FREQUENCY_HZ, volts[c] / per_unit[c]);
        options.driven[0] = 1;
        options.driven[1] = 2;
        options.drivens = 2;
        finish(channel, 2, 1e-8, &options, &m);
        for (int c = 0; c < 2; c++) {
            const struct lds_figure *level = lds_channel_figure(&m.channel[c ^ swapped], "tone.level");
            double limits = 1.96 * (c + 1) / 100.0 / sqrt(3.0); /* of 1 % and 2 % */
            check_close(level->value / volts[c], 1.0, 1e-5);
            check_close(level->high / level->value - 1.0, limits, 0.01 * limits);
            check_close(1.0 - level->low / level->value, limits, 0.01 * limits);
            check_close(lds_bench_of(&m.bench, 1 + (c ^ swapped))->attenuation, c ? 10.0 : 1.0, 0.0);
        }
        const struct lds_figure *gain = crosstalk(&m, 0, "balance");
        double truth_db = 20.0 * log10(40.0) * (swapped ? -1.0 : 1.0);
        double u_db = 20.0 / log(10.0) * hypot(0.01, 0.02) / sqrt(3.0);
        check_close(gain->value, truth_db, 1e-4);
        check_close(gain->high - gain->value, 1.96 * u_db, 0.01 * u_db);
        check_close(gain->value - gain->low, 1.96 * u_db, 0.01 * u_db);
        lds_measurement_free(&m);
        options.drivens = 1; /* the other shows crosstalk alone */
        options.driven[0] = swapped ? 1 : 2;
        begin(channel, 2);
        add(channel[1 ^ swapped], FREQUENCY_HZ, volts[1] / per_unit[1]);
        add(channel[swapped], FREQUENCY_HZ, 1e-3 / per_unit[0]);
        finish(channel, 2, 1e-8, &options, &m);
        const struct lds_figure *over = crosstalk(&m, 0, swapped ? "crosstalk.1-2" : "crosstalk.2-1");
        check_close(over->value, 20.0 * log10(1e-3 / 4.0), 1e-3);
        check_close(over->high - over->value, 1.96 * u_db, 0.02 * u_db);
        lds_measurement_free(&m);
        lds_bench_free(&options.bench);
    }
}

/* A pair that cannot be measured is one error. */
static void test_pairs_wrong(void **state)
{
    (void)state;
    static const struct {
        int pair[2], channel;
        const char *message;
    } wrong[] = {
        {{1, 3}, 0, "the pair 1-3 was asked for, but the capture holds 2 channels: choose two of 1 to 2"},
        {{0, 1}, 0, "the pair 0-1 was asked for, but the capture holds 2 channels: choose two of 1 to 2"},
        {{2, 2}, 0, "the pair 2-2 was asked for, but the capture holds 2 channels: choose two of 1 to 2"},
        {{1, 2}, 2, "the pair 1-2 was asked for, but only channel 2: leave one of them out"},
    };
    double *x = sim_samples(2 * SAMPLES);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct lds_measurement m;
        struct lds_measure_options options;
        struct lds_capture *capture = NULL;
        struct lds_error error = {0};
        sim_options_init(&options);
        memcpy(options.pair[0], wrong[i].pair, sizeof wrong[i].pair);
        options.pairs = 1;
        options.channel = wrong[i].channel;
        assert_int_equal(lds_capture_from_memory(x, SAMPLES, 2, RATE, &capture, &error), LDS_OK);
        assert_int_equal(lds_measure(capture, &options, &m, &error), LDS_BAD_USE);
        assert_string_equal(error.message, wrong[i].message);
        lds_measurement_free(&m);
        lds_capture_close(capture);
    }
    free(x);
}

/* What is stated overrides what the levels show, in both directions. */
static void test_stated(void **state)
{
    (void)state;
    for (int turn = 0; turn < 3; turn++) {
        double *channel[MOST];
        struct lds_measurement m;
        struct lds_measure_options options;
        struct lds_error error = {0};
        sim_options_init(&options);
        options.driven[0] = turn + 1;
        options.drivens = 1;
        if (turn == 1) {
            options.driven[0] = 1;
            options.driven[1] = 2;
            options.drivens = 2;
        }
        begin(channel, 2);
        add(channel[0], FREQUENCY_HZ, 0.5);
        add(channel[1], FREQUENCY_HZ, turn == 0 ? 0.25 : 0.5 * pow(10.0, -30.0 / 20.0));
        if (turn < 2) {
            finish(channel, 2, 1e-8, &options, &m);
            if (turn == 0) {
                check_close(crosstalk(&m, 0, "crosstalk.1-2")->value, -6.0206, 0.001);
                check_undriven(&m, 1, 1e-8);
            } else {
                check_close(lds_pair_figure(&m.pair[0], "balance")->value, -30.0, 0.001);
                assert_non_null(lds_channel_figure(&m.channel[1], "thd"));
            }
            lds_measurement_free(&m);
            continue;
        }
        struct lds_capture *capture = NULL; /* a channel that does not exist */
        assert_int_equal(lds_capture_from_memory(channel[0], SAMPLES / 2, 2, RATE, &capture, &error), LDS_OK);
        assert_int_equal(lds_measure(capture, &options, &m, &error), LDS_BAD_USE);
        assert_non_null(strstr(error.message, "channel 3 was stated to be driven, but the capture holds 2"));
        lds_measurement_free(&m);
        lds_capture_close(capture);
        free(channel[0]);
        free(channel[1]);
    }
}

/* A channel that plays something else as loud does not count as not driven. */
static void test_something_else(void **state)
{
    (void)state;
    double *channel[MOST];
    struct lds_measurement m;
    struct sim_random random;
    begin(channel, 2);
    sim_random_seed(&random, 12);
    add(channel[0], FREQUENCY_HZ, 0.3);
    sim_add_white(channel[1], SAMPLES, RATE, 1e-3, &random); /* 0.15 in total */
    finish(channel, 2, 1e-8, NULL, &m);
    assert_int_equal(m.channel[1].signal.kind, LDS_SIGNAL_NOISE);
    lds_measurement_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_relative),    cmocka_unit_test(test_balance),     cmocka_unit_test(test_two_tones),
        cmocka_unit_test(test_four),        cmocka_unit_test(test_pairs_asked), cmocka_unit_test(test_pairs_wrong),
        cmocka_unit_test(test_two_benches), cmocka_unit_test(test_stated),      cmocka_unit_test(test_something_else),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
