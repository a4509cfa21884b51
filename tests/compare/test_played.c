/* What was played on both sides: different signals, tones and driven channels are not compared, and the reason is
 * given. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "compare/made.h"
#include "record/record.h"
#include "simulate/check.h"

static void compare(const struct lds_measurement *before, size_t befores, const struct lds_measurement *after,
                    size_t afters, const struct lds_compare_options *options, struct lds_comparison *comparison)
{
    struct lds_error error = {0};
    struct lds_compare_options own;
    lds_compare_options_init(&own);
    if (lds_compare((struct lds_side){before, befores}, (struct lds_side){after, afters}, options ? options : &own,
                    comparison, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

static void check_why(const struct lds_comparison *c, const char *key, const char *part)
{
    if (made_find(c, key))
        fail_msg("%s is compared", key);
    if (!strstr(made_why_not(c, key), part))
        fail_msg("%s: \"%s\" lacks \"%s\"", key, made_why_not(c, key), part);
}

static struct lds_figure *add_pair(struct lds_measurement *m, const char *key, double value)
{
    if (!m->pair) {
        m->pair = calloc(1, sizeof *m->pair);
        m->pairs = 1;
        m->pair[0].channels[0] = 1;
        m->pair[0].channels[1] = 2;
    }
    struct lds_figure *figure = lds_pair_add(m->pair, key, true);
    figure->value = value;
    figure->low = value - 0.02;
    figure->high = value + 0.02;
    figure->u_a = 0.01;
    figure->u_b = 0.0;
    figure->dof = INFINITY;
    return figure;
}

/* A sine in both channels, or in the one that is driven. */
static void make(struct lds_measurement *m, const char *file, double frequency_hz, double level_v, int driven)
{
    static const char *const of_tone[] = {
        "thd", "thd_n", "sinad", "snr", "residual.peak", "residual.crossing", "mains.modulation"};
    made_capture(m, file, 2);
    m->signal.kind = LDS_SIGNAL_SINE;
    m->frames += file[0];
    for (int c = 1; c <= 2; c++) {
        bool tone = driven == 0 || driven == c;
        m->channel[c - 1].signal.kind = tone ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE;
        made_in(m, (size_t)c, "level.rms", tone ? level_v : 1e-3, 1e-6);
        made_in(m, (size_t)c, "noise.a", 1e-4, 1e-7);
        if (!tone)
            continue;
        made_in(m, (size_t)c, "tone.frequency", frequency_hz, 1e-6);
        made_in(m, (size_t)c, "tone.level", level_v, 1e-6);
        made_in(m, (size_t)c, "tone.power", level_v * level_v / 8.0, 1e-6);
        for (size_t i = 0; i < sizeof of_tone / sizeof of_tone[0]; i++)
            made_in(m, (size_t)c, of_tone[i], -90.0, 0.05);
    }
}

static void free_two(struct lds_measurement *b, struct lds_measurement *a, struct lds_comparison *c)
{
    lds_comparison_free(c);
    lds_measurement_free(b);
    lds_measurement_free(a);
}

/* Every key that depends on the tone, at the edges of what counts as the same. */
static void test_tone(void **state)
{
    (void)state;
    static const char *const keys[] = {"thd",          "thd_n", "sinad", "snr", "residual.peak", "mains.modulation",
                                       "crosstalk.1-2"};
    static const struct {
        double frequency, db;
        const char *reason; /* NULL: compared */
        bool levels;        /* of levels too */
    } table[] = {{1.009, 0.0, NULL, false},
                 {1.0, 0.49, NULL, false},
                 {1.011, 0.0, "the tone: 1000 Hz before, 1011 Hz after", true},
                 {0.985, 0.0, "the tone: 1000 Hz before, 985 Hz after", true},
                 {1.0, 0.51, "the tone is 0.51 dB higher after than before", false},
                 {1.0, -3.0, "the tone is 3 dB higher before than after", false}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct lds_measurement b, a;
        struct lds_comparison c;
        make(&b, "b.wav", 1000.0, 8.0, 1);
        make(&a, "a.wav", 1000.0 * table[i].frequency, 8.0 * pow(10.0, table[i].db / 20.0), 1);
        add_pair(&b, "crosstalk.1-2", -80.0);
        add_pair(&a, "crosstalk.1-2", -80.0);
        compare(&b, 1, &a, 1, NULL, &c);
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++)
            if (table[i].reason)
                check_why(&c, keys[k], table[i].reason);
            else
                assert_non_null(made_find(&c, keys[k]));
        if (table[i].levels) {
            check_why(&c, "tone.level", table[i].reason);
            check_why(&c, "tone.power", table[i].reason);
        } else {
            assert_non_null(made_find(&c, "tone.level"));
        }
        free_two(&b, &a, &c);
    }
}

static void test_balance_of_other_tones(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    make(&b, "b.wav", 1000.0, 8.0, 0);
    make(&a, "a.wav", 2000.0, 8.0, 0);
    add_pair(&b, "balance", 0.1);
    add_pair(&a, "balance", 0.1);
    compare(&b, 1, &a, 1, NULL, &c);
    check_why(&c, "balance.1-2", "the tone: 1000 Hz before, 2000 Hz after");
    free_two(&b, &a, &c);
}

/* A tone on one side only. */
static void test_tone_on_one_side(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    make(&b, "b.wav", 1000.0, 8.0, 1);
    make(&a, "a.wav", 1000.0, 8.0, 0);
    lds_channel_add_absent(&b.channel[1], "thd", "channel 2 is not driven: what it shows at 1 kHz is crosstalk");
    add_pair(&b, "crosstalk.1-2", -80.0);
    add_pair(&a, "balance", 0.0);
    lds_pair_add_absent(&a.pair[0], "crosstalk", "both channels are driven with the same tone");
    lds_pair_add_absent(&b.pair[0], "balance", "channel 2 is not driven");
    compare(&b, 1, &a, 1, NULL, &c);
    const char *why = NULL;
    for (size_t i = 0; i < c.channel[1].not_compared; i++)
        if (strcmp(c.channel[1].not_compared_why[i].key, "thd") == 0)
            why = c.channel[1].not_compared_why[i].reason;
    assert_non_null(why);
    assert_non_null(strstr(why, "channel 2 is not driven: what it shows at 1 kHz is crosstalk"));
    check_why(&c, "balance.1-2", "absent before: channel 2 is not driven");
    check_why(&c, "crosstalk.1-2", "absent after: both channels are driven with the same tone");
    for (size_t i = 0; i < c.channel[1].changes; i++)
        assert_string_not_equal(c.channel[1].change[i].key, "level.rms"); /* channel 2 of one capture has a tone */
    free_two(&b, &a, &c);
}

/* Each kind of signal with each: comparable only with itself; an older result, which does not state it, goes by its
 * tone. */
static void test_kinds(void **state)
{
    (void)state;
    for (int before = LDS_SIGNAL_NONE; before < LDS_SIGNALS; before++)
        for (int after = LDS_SIGNAL_NONE; after < LDS_SIGNALS; after++) {
            struct lds_measurement m[2];
            struct lds_comparison c;
            struct lds_error error = {0};
            struct lds_compare_options options;
            lds_compare_options_init(&options);
            int kind[2] = {before, after};
            for (int i = 0; i < 2; i++) {
                made_idle(&m[i], i ? "a.wav" : "b.wav", 0.01 * i, 0.0);
                m[i].signal.kind = m[i].channel[0].signal.kind = (enum lds_signal_kind)kind[i];
                kind[i] = kind[i] == LDS_SIGNAL_NONE ? LDS_SIGNAL_SILENCE : kind[i];
            }
            enum lds_status status =
                lds_compare((struct lds_side){&m[0], 1}, (struct lds_side){&m[1], 1}, &options, &c, &error);
            assert_int_equal(status, kind[0] == kind[1] ? LDS_OK : LDS_BAD_INPUT);
            bool tone = (kind[0] == LDS_SIGNAL_SILENCE && kind[1] == LDS_SIGNAL_SINE) ||
                        (kind[0] == LDS_SIGNAL_SINE && kind[1] == LDS_SIGNAL_SILENCE);
            if (kind[0] != kind[1] && !tone) {
                assert_non_null(strstr(error.message, lds_signal_name((enum lds_signal_kind)kind[0])));
                assert_non_null(strstr(error.message, lds_signal_name((enum lds_signal_kind)kind[1])));
            } else if (tone) {
                assert_non_null(strstr(error.message, kind[0] == LDS_SIGNAL_SINE
                                                          ? "before carries a tone, after is idle"
                                                          : "after carries a tone, before is idle"));
            }
            lds_comparison_free(&c);
            lds_measurement_free(&m[0]);
            lds_measurement_free(&m[1]);
        }
}

/* Two tones: the second one counts too. */
static void test_second_tone(void **state)
{
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        struct lds_measurement m[2];
        struct lds_comparison c;
        for (int i = 0; i < 2; i++) {
            made_capture(&m[i], i ? "a.wav" : "b.wav", 1);
            m[i].frames += i;
            m[i].signal = (struct lds_signal){.kind = LDS_SIGNAL_TWO_TONE,
                                              .frequency_hz = {7000.0, i == 1 && turn == 1 ? 200.0 : 60.0}};
            m[i].channel[0].signal = m[i].signal;
            made_figure(&m[i], "tone.frequency", 7000.0, 1e-6);
            made_figure(&m[i], "tone.level", 1.0, 1e-6);
            made_figure(&m[i], "noise.a", 1e-4, 1e-7);
        }
        compare(&m[0], 1, &m[1], 1, NULL, &c);
        if (turn == 0)
            assert_non_null(made_find(&c, "tone.level"));
        else
            check_why(&c, "tone.level", "the second tone: 60 Hz before, 200 Hz after");
        assert_non_null(made_find(&c, "noise.a"));
        free_two(&m[0], &m[1], &c);
    }
}

static void make_two_tones(struct lds_measurement *m, const char *file, double low_v, double high_v, double product_v)
{
    made_capture(m, file, 1);
    m->signal = (struct lds_signal){.kind = LDS_SIGNAL_TWO_TONE, .frequency_hz = {60.0, 7000.0}};
    m->channel[0].signal = m->signal;
    made_figure(m, "level.rms", hypot(low_v, high_v), 1e-6);
    made_figure(m, "tone.frequency", 60.0, 1e-6);
    made_figure(m, "tone.level", low_v, 1e-6);
    made_figure(m, "imd.modulation", 200.0 * product_v / high_v, 1e-5);
    made_product(m, "f1", 1, 60.0, (struct lds_cell){low_v, low_v, low_v});
    made_product(m, "f2", 1, 7000.0, (struct lds_cell){high_v, high_v, high_v});
    made_product(m, "f2 - f1", 2, 6940.0, (struct lds_cell){product_v, 0.99 * product_v, 1.01 * product_v});
}

/* Products of two tones are only compared if both tones have the same level. They are compared by name; the tones
 * themselves are not compared. */
static void test_two_levels(void **state)
{
    (void)state;
    static const struct {
        double low_v, high_v;
        const char *why;
    } after[] = {{4.0, 1.0, NULL},
                 {4.0, 1.14, "the higher tone is 1.1 dB higher after than before: set it to the same level"},
                 {3.5, 1.0, "the lower tone is 1.2 dB higher before than after: set it to the same level"}};
    for (size_t i = 0; i < sizeof after / sizeof *after; i++) {
        struct lds_measurement m[2];
        struct lds_comparison c;
        make_two_tones(&m[0], "b.wav", 4.0, 1.0, 1e-3);
        make_two_tones(&m[1], "a.wav", after[i].low_v, after[i].high_v, 2e-3);
        compare(&m[0], 1, &m[1], 1, NULL, &c);
        assert_int_equal(c.channel[0].lines, after[i].why ? 0 : 1);
        if (after[i].why) {
            check_why(&c, "imd.modulation", after[i].why);
        } else {
            const struct lds_change *change = made_find(&c, "imd.modulation");
            const struct lds_line_change *line = &c.channel[0].line[0];
            assert_true(change && change->word == LDS_HIGHER && change->worse);
            check_close(change->change, 20.0 * log10(2.0), 1e-9);
            check_close(change->after, 0.4, 1e-9);
            check_close(line->change_db, 20.0 * log10(2.0), 1e-9);
            assert_string_equal(line->origin, "f2 - f1");
            assert_int_equal(line->word, LDS_HIGHER);
        }
        free_two(&m[0], &m[1], &c);
    }
}

/* An idle channel and one that is not driven while another channel is are two conditions: they are neither pooled nor
 * compared. */
static void test_not_driven_is_not_idle(void **state)
{
    (void)state;
    struct lds_measurement m[3];
    struct lds_comparison c;
    make(&m[0], "b.wav", 1000.0, 8.0, 1);
    made_capture(&m[1], "idle.wav", 2);
    m[1].signal.kind = m[1].channel[0].signal.kind = m[1].channel[1].signal.kind = LDS_SIGNAL_SILENCE;
    for (size_t ch = 1; ch <= 2; ch++)
        made_in(&m[1], ch, "noise.a", 2e-4, 1e-7);
    make(&m[2], "a.wav", 1000.0, 8.0, 1);
    compare(m, 2, m + 2, 1, NULL, &c); /* before: driven and idle */
    const struct lds_change *noise = NULL;
    for (size_t i = 0; i < c.channel[1].changes; i++)
        noise = strcmp(c.channel[1].change[i].key, "noise.a") == 0 ? &c.channel[1].change[i] : noise;
    assert_true(noise && noise->before == 1e-4 && noise->word == LDS_SAME);
    lds_comparison_free(&c);
    struct lds_error error = {0};
    struct lds_compare_options options;
    lds_compare_options_init(&options);
    assert_int_equal(lds_compare((struct lds_side){m + 1, 1}, (struct lds_side){m + 2, 1}, &options, &c, &error),
                     LDS_BAD_INPUT); /* idle before */
    bool said = false;
    for (size_t i = 0; i < c.channel[1].not_compared; i++)
        said = said || strcmp(c.channel[1].not_compared_why[i].reason,
                              "what was played in another channel: silence before, sine after") == 0;
    assert_true(said);
    lds_comparison_free(&c);
    for (int i = 0; i < 3; i++)
        lds_measurement_free(&m[i]);
}

/* The key of one direction, and limits for one direction or for whichever there is. */
static void test_crosstalk(void **state)
{
    (void)state;
    static const struct lds_limit limit[] = {
        {"crosstalk", LDS_AT_MOST, -70.0, 1, NULL},     {"crosstalk.1-2", LDS_AT_MOST, -70.0, 2, NULL},
        {"crosstalk.2-1", LDS_AT_MOST, -70.0, 3, NULL}, {"crosstalk.1-2", LDS_CHANGE_AT_MOST, 1.0, 4, NULL},
        {"balance", LDS_AT_MOST, 1.0, 5, NULL},
    };
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_compare_options options;
    make(&b, "b.wav", 1000.0, 8.0, 0);
    make(&a, "a.wav", 1000.0, 8.0, 0);
    for (int i = 0; i < 2; i++) {
        add_pair(i ? &a : &b, "crosstalk.1-2", i ? -78.0 : -80.0);
        add_pair(i ? &a : &b, "crosstalk.2-1", i ? -60.0 : -60.1);
        lds_pair_add_absent((i ? &a : &b)->pair, "balance", "the channels carry different tones");
    }
    lds_compare_options_init(&options);
    options.limit = limit;
    options.limits = 5;
    compare(&b, 1, &a, 1, &options, &c);
    const struct lds_change *there = made_find(&c, "crosstalk.1-2"), *back = made_find(&c, "crosstalk.2-1");
    assert_true(there && there->word == LDS_HIGHER && there->worse);
    check_close(there->change, 2.0, 1e-9);
    assert_true(back && back->word == LDS_SAME);
    assert_int_equal(c.channel[0].limits, 0);
    assert_int_equal(c.channel[1].limits, 5);
    static const int expected[] = {LDS_OVER, LDS_WITHIN, LDS_OVER, LDS_OVER, LDS_NOT_SHOWN};
    for (int i = 0; i < 5; i++)
        assert_int_equal(c.channel[1].limit[i].result, expected[i]);
    check_close(c.channel[1].limit[0].value, -60.0, 1e-12); /* the worse of both */
    assert_string_equal(c.channel[1].limit[4].reason, "the channels carry different tones");
    free_two(&b, &a, &c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tone),
        cmocka_unit_test(test_balance_of_other_tones),
        cmocka_unit_test(test_tone_on_one_side),
        cmocka_unit_test(test_kinds),
        cmocka_unit_test(test_second_tone),
        cmocka_unit_test(test_two_levels),
        cmocka_unit_test(test_not_driven_is_not_idle),
        cmocka_unit_test(test_crosstalk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
