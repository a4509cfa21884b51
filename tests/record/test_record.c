#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/measurement.h"
#include "record/record.h"

static void test_figure_starts_unknown(void **state)
{
    (void)state;
    struct lds_channel channel = {.channel = 1, .calibrated = true};
    struct lds_figure *figure = lds_channel_add(&channel, "noise.band.20-20k");
    assert_non_null(figure);
    assert_string_equal(figure->key, "noise.band.20-20k");
    assert_string_equal(figure->unit, "V");
    assert_true(isnan(figure->value) && isnan(figure->low) && isnan(figure->high));
    assert_true(isnan(figure->u_a) && isnan(figure->u_b) && isnan(figure->dof));
    assert_true(isnan(figure->band_hz[0]) && isnan(figure->band_hz[1]) && isnan(figure->removed_hz));
    assert_int_equal(figure->orders[0] | figure->orders[1], 0);
    assert_int_equal(figure->flags, 0);

    struct lds_measurement measurement = {.channels = 1, .channel = calloc(1, sizeof channel)};
    measurement.channel[0] = channel;
    lds_measurement_free(&measurement);
    assert_null(measurement.channel);
}

static void test_units_follow_calibration(void **state)
{
    (void)state;
    static const struct {
        const char *key, *calibrated, *uncalibrated;
    } units[] = {
        {"level.rms", "V", "dBFS"},
        {"tone.power", "W", "dBFS"},
        {"noise.density.1k", "V/√Hz", "dBFS"},
        {"thd", "dB", "dB"},
        {"tone.frequency", "Hz", "Hz"},
        {"capture.clipped", "count", "count"},
        {"noise.slope", "dB/decade", "dB/decade"},
    };
    struct lds_measurement measurement = {.channels = 2, .channel = calloc(2, sizeof(struct lds_channel))};
    measurement.channel[0].calibrated = true;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        assert_string_equal(lds_channel_add(&measurement.channel[0], units[i].key)->unit, units[i].calibrated);
        assert_string_equal(lds_channel_add(&measurement.channel[1], units[i].key)->unit, units[i].uncalibrated);
    }
    lds_measurement_free(&measurement);
}

/* AES17: a sine of peak 1.0, rms 1/sqrt(2), is 0 dBFS; one of half that level is at -6.0206 dBFS. */
static void test_levels_in_dbfs(void **state)
{
    (void)state;
    struct lds_figure figure = {0};
    lds_figure_set_level(&figure, false, M_SQRT1_2, M_SQRT1_2 / 2.0, M_SQRT1_2 * 2.0, 0.001 * M_SQRT1_2);
    assert_true(fabs(figure.value) < 1e-12);
    assert_true(fabs(figure.low + 6.020599913) < 1e-8);
    assert_true(fabs(figure.high - 6.020599913) < 1e-8);
    /* 0.1 % of a level is 20 log10(1.001) = 0.00868 dB to first order */
    assert_true(fabs(figure.u_a - 0.008685889638) < 1e-9);

    lds_figure_set_level(&figure, false, NAN, NAN, 0.5, NAN);
    assert_true(isnan(figure.value) && isnan(figure.low) && isfinite(figure.high) && isnan(figure.u_a));
    lds_figure_set_level(&figure, false, 0.0, 0.0, 0.0, 0.0);
    assert_true(figure.value == -INFINITY && isnan(figure.u_a));

    lds_figure_set_level(&figure, true, 2.0, 1.9, 2.1, 0.05);
    assert_true(figure.value == 2.0 && figure.low == 1.9 && figure.high == 2.1 && figure.u_a == 0.05);
}

/* Limits stay within what is possible. */
static void test_limits_that_can_be(void **state)
{
    (void)state;
    static const struct {
        const char *key;
        double low, high, least, most;
    } cases[] = {
        {"level.rms", -3.0, 4.0, 0.0, 4.0},          {"tone.power", -1.0, 2.0, 0.0, 2.0},
        {"noise.density.1k", -1e-9, 2.0, 0.0, 2.0},  {"noise.bursts", -1.0, 2.0, 0.0, 2.0},
        {"mains.frequency", -1.0, 60.0, 0.0, 60.0},  {"tone.wander", -1.0, 2.0, 0.0, 2.0},
        {"capture.gaps", -1.0, 2.0, 0.0, 2.0},       {"level.dc", -3.0, 4.0, -3.0, 4.0},
        {"noise.kurtosis", -3.0, 4.0, -3.0, 4.0},    {"thd", -90.0, 4.0, -90.0, 4.0},
        {"noise.coherence.20-20k", -0.2, 1.2, 0, 1}, {"level.rms", NAN, NAN, NAN, NAN},
    };
    struct lds_measurement measurement = {.channels = 1, .channel = calloc(1, sizeof(struct lds_channel))};
    struct lds_channel *channel = measurement.channel;
    channel->calibrated = true;
    const size_t count = sizeof cases / sizeof cases[0];
    for (size_t i = 0; i < count; i++) {
        struct lds_figure *figure = lds_channel_add(channel, cases[i].key);
        figure->low = cases[i].low;
        figure->high = cases[i].high;
    }
    lds_figures_bound(channel->figure, channel->figures);
    for (size_t i = 0; i < count; i++) {
        const struct lds_figure *figure = &channel->figure[i];
        bool unknown = isnan(cases[i].least) && isnan(figure->low) && isnan(figure->high);
        if (!unknown && (figure->low != cases[i].least || figure->high != cases[i].most))
            fail_msg("%s: %g to %g", cases[i].key, figure->low, figure->high);
    }
    lds_measurement_free(&measurement);
    struct lds_figure level = {0};
    lds_figure_set_level(&level, false, 0.1, -0.5, 0.7, 0.3);
    assert_true(level.low == -INFINITY && level.value < level.high);
}

static void test_find_and_absent(void **state)
{
    (void)state;
    struct lds_measurement measurement = {.channels = 1,
                                          .channel = calloc(1, sizeof(struct lds_channel)),
                                          .pairs = 1,
                                          .pair = calloc(1, sizeof(struct lds_pair))};
    struct lds_channel *channel = measurement.channel;
    lds_channel_add(channel, "thd")->value = -90.0;
    lds_channel_add(channel, "thd_n")->value = -80.0;
    assert_true(lds_channel_figure(channel, "thd_n")->value == -80.0);
    assert_null(lds_channel_figure(channel, "thd_"));
    assert_true(lds_channel_add_absent(channel, "snr", "no tone of at least %d V", 1));
    assert_string_equal(lds_channel_absent(channel, "snr"), "no tone of at least 1 V");
    assert_null(lds_channel_absent(channel, "thd"));
    lds_pair_add(measurement.pair, "balance", true)->value = 0.1;
    assert_true(lds_pair_add_absent(measurement.pair, "crosstalk", "both channels are driven"));
    assert_true(lds_pair_figure(measurement.pair, "balance")->value == 0.1);
    assert_null(lds_pair_figure(measurement.pair, "crosstalk"));
    lds_measurement_free(&measurement);
    lds_measurement_free(&measurement); /* freeing twice does no harm */
    lds_measurement_free(NULL);
}

static void test_table_is_sound(void **state)
{
    (void)state;
    size_t count;
    const struct lds_key *keys = lds_keys(&count);
    assert_true(count > 30);
    for (size_t i = 0; i < count; i++) {
        assert_ptr_equal(lds_key_find(keys[i].stem), &keys[i]);
        assert_true(keys[i].label[0] != '\0');
        assert_true(strlen(keys[i].unit) < sizeof((struct lds_figure *)0)->unit);
        assert_true(i == 0 || keys[i].section >= keys[i - 1].section);
        assert_true((keys[i].term == NULL) == (keys[i].definition == NULL));
        assert_true(!keys[i].directed || keys[i].section == LDS_PAIR);
        if (keys[i].id != LDS_FIGURE_OTHER)
            assert_ptr_equal(lds_key_row(keys[i].id), &keys[i]); /* no two have one name */
        if (keys[i].shape_of != LDS_FIGURE_OTHER)
            assert_int_equal(lds_key_row(keys[i].shape_of)->chain, keys[i].chain);
    }
    assert_string_equal(lds_key_find("thd.400-30k")->stem, "thd");
    assert_string_equal(lds_key_find("thd_n.400-30k")->stem, "thd_n");
    assert_string_equal(lds_key_find("noise.band.20k-100k")->stem, "noise.band");
    assert_string_equal(lds_key_find("noise.a")->stem, "noise.a");
    assert_null(lds_key_find("noise"));
    assert_null(lds_key_find("thd_"));
    assert_null(lds_key_find("noise.bandwidth"));
    assert_null(lds_key_find(""));
}

static void test_keys_are_read_once(void **state)
{
    (void)state;
    static const struct {
        const char *key, *stem;
        double asked_hz[2];
        int channels[2];
        const char *detail;
    } keys[] = {
        {"thd", "thd", {NAN, NAN}, {0, 0}, ""},
        {"noise.band.20-20k", "noise.band", {20.0, 20e3}, {0, 0}, "20-20k"},
        {"noise.band.0.5-20k", "noise.band", {0.5, 20e3}, {0, 0}, "0.5-20k"},
        {"noise.density.1k", "noise.density", {1e3, 1e3}, {0, 0}, "1k"},
        {"noise.density.31.5", "noise.density", {31.5, 31.5}, {0, 0}, "31.5"},
        {"balance", "balance", {NAN, NAN}, {0, 0}, ""},
        {"balance.1-2", "balance", {NAN, NAN}, {1, 2}, "1-2"},
        {"crosstalk.12-3", "crosstalk", {NAN, NAN}, {12, 3}, "12-3"},
        {"noise.coherence.20-20k", "noise.coherence", {20.0, 20e3}, {0, 0}, "20-20k"},
        {"noise.coherence.1-2", "noise.coherence", {1.0, 2.0}, {0, 0}, "1-2"},
        {"noise.coherence.0.5-20", "noise.coherence", {0.5, 20.0}, {0, 0}, "0.5-20"},
        {"noise.coherence.0.5-20k.3-4", "noise.coherence", {0.5, 20e3}, {3, 4}, "0.5-20k.3-4"},
        {"thd.of.tomorrow", "thd", {NAN, NAN}, {0, 0}, ""},
        {"tomorrow.1-2", "", {NAN, NAN}, {0, 0}, ""},
        {"", "", {NAN, NAN}, {0, 0}, ""},
    };
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        struct lds_figure_name name = lds_key_read(keys[i].key);
        char detail[96];
        assert_string_equal(name.row->stem, keys[i].stem);
        for (int k = 0; k < 2; k++) {
            assert_true(name.asked_hz[k] == keys[i].asked_hz[k] ||
                        (isnan(name.asked_hz[k]) && isnan(keys[i].asked_hz[k])));
            assert_int_equal(name.channels[k], keys[i].channels[k]);
        }
        lds_figure_detail(&name, detail, sizeof detail);
        assert_string_equal(detail, keys[i].detail);
    }
}

static void test_figures_are_found_by_name(void **state)
{
    (void)state;
    struct lds_channel channel = {.channel = 1, .calibrated = true};
    static const char *const keys[] = {"thd.400-30k", "thd", "noise.band.20k-100k", "noise.band.20-20k", "tomorrow"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        assert_non_null(lds_channel_add(&channel, keys[i]));
    assert_ptr_equal(lds_channel_find(&channel, LDS_FIGURE_THD), &channel.figure[1]);
    assert_ptr_equal(lds_channel_find(&channel, LDS_FIGURE_NOISE), &channel.figure[3]);
    assert_null(lds_channel_find(&channel, LDS_FIGURE_THD_N));
    static const bool first[] = {false, true, false, true, false};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        assert_int_equal(lds_figure_rank(&channel.figure[i].name) > 0, first[i]);
    for (int id = LDS_FIGURE_OTHER + 1; id <= LDS_FIGURE_BALANCE; id++)
        assert_int_equal(lds_key_row((enum lds_figure_id)id)->id, id);
    struct lds_measurement measurement = {.channels = 1, .channel = calloc(1, sizeof channel)};
    measurement.channel[0] = channel;
    lds_measurement_free(&measurement);
}

static void test_flags_have_names_of_their_own(void **state)
{
    (void)state;
    for (int i = 0; i < LDS_FLAGS; i++) {
        const char *name = lds_flag_name((enum lds_flag)(1u << i));
        assert_string_not_equal(name, "unknown flag");
        for (int k = 0; k < i; k++)
            assert_string_not_equal(name, lds_flag_name((enum lds_flag)(1u << k)));
    }
    assert_string_equal(lds_flag_name(LDS_FLAG_CHAIN_LIMITED), "chain-limited");
    assert_string_equal(lds_flag_name(LDS_FLAG_BELOW_FLOOR), "below floor");
}

/* What rules ask of the kinds of signal. */
static void test_kinds_of_signal(void **state)
{
    (void)state;
    static const struct {
        enum lds_signal_kind kind;
        bool steady, still, one, tone, broad, dc, perhaps_one_tone;
        enum lds_signal_stated stated;
    } row[] = {
        {LDS_SIGNAL_NONE, true, true, true, false, false, false, true, LDS_STATED_NEVER},
        {LDS_SIGNAL_SILENCE, true, true, true, false, false, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_SINE, true, true, true, true, false, false, true, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_TWO_TONE, true, true, false, true, false, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_SWEEP, false, false, false, false, true, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_STAIRCASE, false, false, false, true, false, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_BURST, false, false, false, true, false, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_NOISE, true, false, false, false, true, false, false, LDS_STATED_BY_FILE},
        {LDS_SIGNAL_PROGRAMME, false, false, false, false, true, false, false, LDS_STATED_NEVER},
        {LDS_SIGNAL_POWER_ON, false, false, false, false, false, true, false, LDS_STATED_BY_OPTION},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        const enum lds_signal_kind kind = row[i].kind;
        assert_int_equal(lds_signal_is_steady(kind), row[i].steady);
        assert_int_equal(lds_signal_has(kind, LDS_PLAYS_STILL), row[i].still);
        assert_int_equal(lds_signal_has(kind, LDS_PLAYS_ONE), row[i].one);
        assert_int_equal(lds_signal_has(kind, LDS_PLAYS_TONE), row[i].tone);
        assert_int_equal(lds_signal_has(kind, LDS_PLAYS_BROAD), row[i].broad);
        assert_int_equal(lds_signal_has(kind, LDS_PLAYS_DC), row[i].dc);
        assert_int_equal(lds_signal_may_be_one_tone(kind), row[i].perhaps_one_tone);
        assert_int_equal(lds_signal_stated(kind), row[i].stated);
    }
}

static void test_band_names(void **state)
{
    (void)state;
    static const struct {
        double low_hz, high_hz;
        const char *name;
    } bands[] = {
        {20.0, 20000.0, "20-20k"},        {400.0, 30000.0, "400-30k"}, {100e3, 500e3, "100k-500k"},
        {0.5, 2500.0, "0.5-2.5k"},        {999.0, 1000.0, "999-1k"},   {1e6, 2.25e6, "1M-2.25M"},
        {22.4, 22387.2, "22.4-22.3872k"},
    };
    const char *locales[] = {"C", "de_DE.UTF-8"}; /* the second changes nothing where it is not installed */
    for (int l = 0; l < 2; l++) {
        setlocale(LC_ALL, locales[l]);
        for (size_t i = 0; i < sizeof bands / sizeof bands[0]; i++) {
            char name[64];
            lds_band_name(bands[i].low_hz, bands[i].high_hz, name, sizeof name);
            assert_string_equal(name, bands[i].name);
        }
    }
    setlocale(LC_ALL, "C");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_figure_starts_unknown),
        cmocka_unit_test(test_units_follow_calibration),
        cmocka_unit_test(test_levels_in_dbfs),
        cmocka_unit_test(test_limits_that_can_be),
        cmocka_unit_test(test_find_and_absent),
        cmocka_unit_test(test_table_is_sound),
        cmocka_unit_test(test_keys_are_read_once),
        cmocka_unit_test(test_figures_are_found_by_name),
        cmocka_unit_test(test_flags_have_names_of_their_own),
        cmocka_unit_test(test_kinds_of_signal),
        cmocka_unit_test(test_band_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
