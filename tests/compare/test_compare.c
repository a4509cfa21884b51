/* A comparison as a whole, from figures made by hand: what is compared and what is not, the words, lines, the axis,
 * limits, hints, notes and the verdict. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "compare/floor_over.h"
#include "compare/made.h"
#include "loadside/answer.h"
#include "record/record.h"
#include "record/series.h"
#include "simulate/check.h"
#include "simulate/random.h"

static struct lds_compare_options defaults(void)
{
    struct lds_compare_options options;
    lds_compare_options_init(&options);
    return options;
}

static void compare(const struct lds_measurement *before, size_t befores, const struct lds_measurement *after,
                    size_t afters, const struct lds_compare_options *options, struct lds_comparison *comparison)
{
    struct lds_error error = {0};
    struct lds_compare_options own = defaults();
    enum lds_status status = lds_compare((struct lds_side){before, befores}, (struct lds_side){after, afters},
                                         options ? options : &own, comparison, &error);
    if (status != LDS_OK)
        fail_msg("%s", error.message);
}

static bool has_text(char *const *text, size_t count, const char *part)
{
    for (size_t i = 0; i < count; i++)
        if (strstr(text[i], part))
            return true;
    return false;
}

#define assert_contains(text, part)                                                                                    \
    do {                                                                                                               \
        if (!strstr((text), (part)))                                                                                   \
            fail_msg("\"%s\" lacks \"%s\"", (text), (part));                                                           \
    } while (0)

static void free_pair(struct lds_measurement *before, struct lds_measurement *after, struct lds_comparison *comparison)
{
    lds_comparison_free(comparison);
    lds_measurement_free(before);
    lds_measurement_free(after);
}

/* The verdict of a comparison. */
static void assert_says(const struct lds_comparison *comparison, const char *words)
{
    const struct lds_answer_group group = {.comparison = comparison};
    struct lds_answer answer;
    struct lds_error error = {0};
    assert_int_equal(lds_answer_make(&answer, &group, 1, &error), LDS_OK);
    assert_contains(answer.verdict, words);
    lds_answer_free(&answer);
}

/* ---- words ---- */

static void test_words(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", -1.5, 10.0);
    compare(&b, 1, &a, 1, NULL, &c);
    const struct lds_change *noise = made_find(&c, "noise.band.20-20k"), *hum = made_find(&c, "mains.total");
    assert_int_equal(noise->word, LDS_LOWER);
    assert_false(noise->worse);
    check_close(noise->change, -1.5, 1e-9);
    check_close(noise->u, hypot(0.1 * sqrt(2.0), 8.686e-3 * sqrt(2.0)), 1e-5); /* the default repeatability of noise */
    check_close(noise->matters, 0.5, 1e-12);
    assert_string_equal(noise->unit, "dB");
    assert_string_equal(noise->value_unit, "V");
    check_close(noise->before, 100e-6, 1e-12);
    assert_int_equal(hum->word, LDS_HIGHER);
    assert_true(hum->worse && c.worse);
    const struct lds_change *frequency = made_find(&c, "mains.frequency");
    assert_false(frequency->judged);
    assert_true(isnan(frequency->p));
    assert_int_equal(c.channel[0].words[LDS_HIGHER], 2); /* hum, and the rms that it makes */
    assert_int_equal(c.channel[0].words[LDS_LOWER], 1);
    assert_int_equal(c.repeatability, LDS_REPEAT_DEFAULT);
    assert_true(c.channel[0].calibrated);
    assert_says(&c, "Hum is 10 dB higher (worse).");
    assert_says(&c, "Hiss is 1.5 dB lower.");
    assert_true(has_text(c.note, c.notes, "one capture a side cannot show"));
    free_pair(&b, &a, &c);
}

/* In the order of the table of keys, whatever is larger. */
static void test_verdict_in_order(void **state)
{
    (void)state;
    static const struct {
        double noise_db, hum_db;
        const char *verdict;
    } cases[] = {
        {-8.0, -8.0, "Hum is 8.0 dB lower. Hiss is 8.0 dB lower. Nothing is worse."},
        {-1.0, -20.0, "Hum is 20 dB lower. Hiss is 1.0 dB lower. Nothing is worse."},
        {-8.0, 6.0, "Hum is 6.0 dB higher (worse). Hiss is 8.0 dB lower."},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct lds_measurement b, a;
        struct lds_comparison c;
        made_idle(&b, "before.wav", 0.0, 0.0);
        made_idle(&a, "after.wav", cases[i].noise_db, cases[i].hum_db);
        compare(&b, 1, &a, 1, NULL, &c);
        assert_says(&c, cases[i].verdict);
        free_pair(&b, &a, &c);
    }
}

static void test_unchanged(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_driven(&b, "before.wav", 0.0, 0.0);
    made_driven(&a, "after.wav", 0.01, 0.1);
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(made_find(&c, "thd")->word, LDS_SAME);
    assert_int_equal(made_find(&c, "tone.level")->word, LDS_SAME);
    assert_false(c.worse);
    assert_says(&c, "did not change.");
    assert_int_equal(c.channel[0].words[LDS_SAME], 4);
    free_pair(&b, &a, &c);
}

static void test_dc_in_volts(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    made_figure(&b, "level.dc", -0.040, 1e-4);
    made_figure(&a, "level.dc", 0.010, 1e-4);
    compare(&b, 1, &a, 1, NULL, &c);
    const struct lds_change *dc = made_find(&c, "level.dc");
    assert_string_equal(dc->unit, "V");
    check_close(dc->change, -0.030, 1e-12);
    check_close(dc->before, -0.040, 1e-12);
    assert_int_equal(dc->word, LDS_LOWER);
    assert_false(dc->worse);
    free_pair(&b, &a, &c);
}

/* The change of its magnitude; uneven limits are swapped where it is negative. */
static void test_dc_of_either_sign(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_compare_options options = defaults();
    options.repeat_none = true;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    struct lds_figure *before = made_figure(&b, "level.dc", -0.020, 1e-4);
    before->low = -0.0210;
    before->high = -0.0195;
    made_figure(&a, "level.dc", -0.030, 1e-9);
    compare(&b, 1, &a, 1, &options, &c);
    const struct lds_change *dc = made_find(&c, "level.dc");
    check_close(dc->change, 0.0100, 1e-9);
    check_close(dc->low, 0.0090, 1e-7);
    check_close(dc->high, 0.0105, 1e-7);
    assert_int_equal(dc->word, LDS_HIGHER);
    assert_true(dc->worse);
    free_pair(&b, &a, &c);
}

/* The change of an impedance is in ohm, with its sign. Its uncertainty includes contacts made anew, unless the scatter
 * between captures is switched off. */
static void test_impedance_in_ohm(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_compare_options options = defaults();
    static const double before[] = {0.050, 0.020, 0.020, -0.010}, after[] = {0.020, 0.050, 0.021, 0.030};
    static const enum lds_word word[] = {LDS_LOWER, LDS_HIGHER, LDS_UNRESOLVED, LDS_HIGHER};
    for (size_t i = 0; i < 4; i++) {
        made_driven(&b, "before.wav", 0.0, 0.0);
        made_driven(&a, "after.wav", 0.0, 0.0);
        made_figure(&b, "output.impedance", before[i], 1e-5);
        made_figure(&a, "output.impedance", after[i], 1e-5);
        compare(&b, 1, &a, 1, NULL, &c);
        const struct lds_change *change = made_find(&c, "output.impedance");
        assert_string_equal(change->unit, "ohm");
        check_close(change->change, after[i] - before[i], 1e-12);
        check_close(change->high - change->change, 1.96 * 2e-3 * sqrt(2.0), 1e-5);
        check_close(change->matters, 5e-3, 1e-12);
        assert_int_equal(change->word, word[i]);
        assert_true(change->worse == (word[i] == LDS_HIGHER));
        free_pair(&b, &a, &c);
    }
    options.repeat_none = true;
    made_driven(&b, "before.wav", 0.0, 0.0);
    made_driven(&a, "after.wav", 0.0, 0.0);
    made_figure(&b, "output.impedance", 0.020, 1e-5);
    made_figure(&a, "output.impedance", 0.021, 1e-5);
    compare(&b, 1, &a, 1, &options, &c);
    assert_int_equal(made_find(&c, "output.impedance")->word, LDS_SLIGHTLY_HIGHER);
    free_pair(&b, &a, &c);
}

/* The chain hides how far THD fell, and how far SINAD rose. */
static void test_hidden_ends(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_driven(&b, "before.wav", 0.0, 0.0);
    made_driven(&a, "after.wav", 0.0, -6.0);
    made_figure(&b, "sinad", 88.0, 0.05);
    made_figure(&a, "sinad", 94.0, 0.05)->flags |= LDS_FLAG_CHAIN_LIMITED;
    for (size_t i = 0; i < a.channel[0].figures; i++)
        if (strcmp(a.channel[0].figure[i].key, "thd") == 0)
            a.channel[0].figure[i].flags |= LDS_FLAG_CHAIN_LIMITED;
    compare(&b, 1, &a, 1, NULL, &c);
    const struct lds_change *thd = made_find(&c, "thd"), *sinad = made_find(&c, "sinad");
    assert_true(thd->word == LDS_LOWER && thd->at_least && isnan(thd->low) && thd->high < -5.0);
    assert_true(sinad->word == LDS_HIGHER && sinad->at_least && isnan(sinad->high) && sinad->low > 5.0);
    assert_false(c.worse);
    free_pair(&b, &a, &c);
}

/* With one repeat below the floor the side is below it, and its limit is the highest known one. */
static void test_a_repeat_below_the_floor(void **state)
{
    (void)state;
    struct lds_measurement m[4];
    struct lds_comparison c;
    for (int i = 0; i < 4; i++)
        made_idle(&m[i], i < 2 ? "b.wav" : "a.wav", 0.01 * i, 0.0);
    made_below(&m[0], "mains.buzz", 5e-6);
    made_figure(&m[1], "mains.buzz", 6e-6, 1e-7);
    made_figure(&m[2], "mains.buzz", 100e-6, 1e-6);
    made_figure(&m[3], "mains.buzz", 100e-6, 1e-6);
    for (int i = 0; i < 4; i++)
        m[i].frames += i;
    compare(m, 2, m + 2, 2, NULL, &c);
    const struct lds_change *buzz = made_find(&c, "mains.buzz");
    assert_true(buzz->word == LDS_HIGHER && buzz->at_least && isnan(buzz->change));
    /* 24.4 dB up to 6.2 uV, minus 1.96 dB for re-cabling and the visible side's own limits */
    assert_true(buzz->low > 21.5 && buzz->low < 22.5);
    lds_comparison_free(&c);
    for (int i = 0; i < 4; i++)
        lds_measurement_free(&m[i]);
}

static void test_sinks_below_the_floor(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    made_figure(&b, "mains.buzz", 100e-6, 1e-6);
    made_below(&a, "mains.buzz", 5e-6);
    compare(&b, 1, &a, 1, NULL, &c);
    const struct lds_change *buzz = made_find(&c, "mains.buzz");
    assert_int_equal(buzz->word, LDS_LOWER);
    assert_true(buzz->at_least && isnan(buzz->change) && isnan(buzz->low) && isnan(buzz->after));
    assert_true(buzz->high < -20.0 && buzz->high > -26.0);
    free_pair(&b, &a, &c);
}

/* Hum that scatters by 1 dB from capture to capture makes noise with hum in scatter too. */
static void test_hum_in_noise_takes_its_scatter(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    struct lds_measurement *side[2] = {&b, &a};
    for (int s = 0; s < 2; s++) {
        made_line(side[s], "mains", 2, 100.0, (struct lds_cell){3e-4, 2.99e-4, 3.01e-4}, NAN);
        made_figure(side[s], "noise.total.20-20k", hypot(3e-4, 1e-4) * (s ? 1.1 : 1.0), 1e-7);
    }
    compare(&b, 1, &a, 1, NULL, &c);
    const struct lds_change *total = made_find(&c, "noise.total.20-20k");
    check_close(total->change, 20.0 * log10(1.1), 1e-9);
    check_close(total->u, sqrt(2.0) * hypot(0.9 * 1.0, 0.26 * 0.1), 0.02); /* 0.9 of the power is hum */
    assert_int_equal(total->word, LDS_UNRESOLVED);
    assert_true(isnan(total->resolve_seconds)); /* no length will */
    free_pair(&b, &a, &c);
}

/* ---- what is not compared ---- */

static void expect_reason(void (*change)(struct lds_measurement *), bool driven, const char *key, const char *reason)
{
    struct lds_measurement b, a;
    struct lds_comparison c;
    (driven ? made_driven : made_idle)(&b, "before.wav", 0.0, 0.0);
    (driven ? made_driven : made_idle)(&a, "after.wav", 0.0, 0.0);
    made_in(&b, 1, "noise.density.1k", 1e-7, 1e-9); /* there is always something to compare */
    made_in(&a, 1, "noise.density.1k", 1e-7, 1e-9);
    change(&a);
    struct lds_error error;
    struct lds_compare_options options = defaults();
    if (lds_compare((struct lds_side){&b, 1}, (struct lds_side){&a, 1}, &options, &c, &error) == LDS_OK)
        assert_contains(made_why_not(&c, key), reason);
    else
        assert_contains(error.message, reason);
    assert_null(made_find(&c, key));
    free_pair(&b, &a, &c);
}

static struct lds_figure *figure_of(struct lds_measurement *m, const char *key)
{
    for (size_t i = 0; i < m->channel[0].figures; i++)
        if (strcmp(m->channel[0].figure[i].key, key) == 0)
            return &m->channel[0].figure[i];
    fail_msg("no %s", key);
    return NULL;
}

static void other_load(struct lds_measurement *m)
{
    m->bench.load_ohm = 4.0;
}
static void other_band(struct lds_measurement *m)
{
    figure_of(m, "noise.band.20-20k")->band_hz[1] = 18e3;
}
static void other_orders(struct lds_measurement *m)
{
    figure_of(m, "thd")->orders[1] = 10;
}
static void other_frequency(struct lds_measurement *m)
{
    figure_of(m, "tone.frequency")->value = 1011.0;
}
static void other_level(struct lds_measurement *m)
{
    figure_of(m, "tone.level")->value *= 1.07; /* 0.59 dB */
}
static void slightly_other_level(struct lds_measurement *m)
{
    struct lds_figure *level = figure_of(m, "tone.level");
    level->value *= 1.055; /* 0.47 dB */
    level->low *= 1.055;
    level->high *= 1.055;
}
static void not_calibrated(struct lds_measurement *m)
{
    for (size_t i = 0; i < m->channel[0].figures; i++)
        if (m->channel[0].figure[i].unit[0] == 'V')
            strcpy(m->channel[0].figure[i].unit, "dBFS");
}
static void clipped(struct lds_measurement *m)
{
    figure_of(m, "thd")->flags |= LDS_FLAG_CLIPPED;
}
static void absent(struct lds_measurement *m)
{
    struct lds_figure *thd = figure_of(m, "thd");
    free(thd->key);
    thd->key = strdup("thd_n");
    lds_channel_add_absent(&m->channel[0], "thd", "too few harmonics");
}
static void other_rate(struct lds_measurement *m)
{
    m->rate_hz = 96e3;
}
static void with_a_tone(struct lds_measurement *m)
{
    made_figure(m, "tone.level", 8.0, 1e-6);
}

static void test_reasons(void **state)
{
    (void)state;
    expect_reason(other_load, true, "thd", "the load: 8 ohm before, 4 ohm after");
    expect_reason(other_band, false, "noise.band.20-20k", "20 to 20000 Hz before, 20 to 18000 Hz after");
    expect_reason(other_orders, true, "thd", "orders 2 to 20 before, 2 to 10 after");
    expect_reason(other_frequency, true, "thd", "the tone: 1000 Hz before, 1011 Hz after");
    expect_reason(other_level, true, "thd", "0.59 dB higher after than before");
    expect_reason(not_calibrated, true, "thd", "so that the tone's levels cannot be compared");
    expect_reason(not_calibrated, false, "noise.band.20-20k", "calibrated before and not after");
    expect_reason(clipped, true, "thd", "the capture after is clipped");
    expect_reason(absent, true, "thd", "absent after: too few harmonics");
    expect_reason(other_rate, false, "level.rms", "48000 Hz before, 96000 Hz after");
    expect_reason(with_a_tone, false, "noise.band.20-20k", "after carries a tone, before is idle");
}

static void test_not_quite_a_reason(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_driven(&b, "before.wav", 0.0, 0.0);
    made_driven(&a, "after.wav", 0.0, 0.0);
    slightly_other_level(&a);
    figure_of(&a, "tone.frequency")->value = 1009.0;
    compare(&b, 1, &a, 1, NULL, &c);
    assert_non_null(made_find(&c, "thd"));
    assert_int_equal(made_find(&c, "tone.level")->word, LDS_HIGHER); /* the change of a level is what is asked for */
    free_pair(&b, &a, &c);
}

static void test_refusals(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_error error;
    struct lds_compare_options options = defaults();
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    assert_int_equal(lds_compare((struct lds_side){&b, 1}, (struct lds_side){NULL, 0}, &options, &c, &error),
                     LDS_BAD_INPUT);
    assert_contains(error.message, "no capture on the side \"after\"");
    lds_comparison_free(&c);
    a.channel[0].channel = 2;
    assert_int_equal(lds_compare((struct lds_side){&b, 1}, (struct lds_side){&a, 1}, &options, &c, &error),
                     LDS_BAD_INPUT);
    assert_contains(error.message, "no channel is on both sides");
    free_pair(&b, &a, &c);
}

/* ---- notes ---- */

static void test_same_file(void **state)
{
    (void)state;
    struct lds_measurement m[3];
    struct lds_comparison c;
    made_idle(&m[0], "one.wav", 0.0, 0.0);
    made_idle(&m[1], "copy of one.wav", 0.0, 0.0); /* identical to the last digit under another name */
    made_idle(&m[2], "two.wav", 0.1, 0.1);
    compare(m, 2, &m[2], 1, NULL, &c);
    assert_true(has_text(c.note, c.notes, "copy of one.wav: the same recording as one.wav; it is counted once"));
    check_close(made_find(&c, "noise.band.20-20k")->u, hypot(0.1 * sqrt(2.0), 8.686e-3 * sqrt(2.0)), 1e-5);
    lds_comparison_free(&c);
    compare(m, 1, m, 1, NULL, &c);
    assert_true(has_text(c.note, c.notes, "one.wav stands before and after"));
    lds_comparison_free(&c);
    struct lds_measurement again; /* the same file, measured with another bench */
    made_idle(&again, "one.wav", 0.3, 0.3);
    compare(m, 1, &again, 1, NULL, &c);
    assert_true(has_text(c.note, c.notes, "one.wav stands before and after"));
    lds_measurement_free(&again);
    lds_comparison_free(&c);
    for (int i = 0; i < 3; i++)
        lds_measurement_free(&m[i]);
}

static void make_repeats(struct lds_measurement m[8], double odd_db)
{
    struct sim_random random;
    sim_random_seed(&random, 3);
    for (int i = 0; i < 8; i++) {
        char name[16];
        snprintf(name, sizeof name, "%d.wav", i);
        made_idle(&m[i], name, 0.05 * sim_random_gaussian(&random) + (i == 6 ? odd_db : 0.0),
                  0.5 * sim_random_gaussian(&random));
    }
}

static void test_repeats(void **state)
{
    (void)state;
    struct lds_measurement m[8];
    struct lds_comparison c;
    make_repeats(m, 0.0);
    compare(m, 4, m + 4, 4, NULL, &c);
    assert_int_equal(c.repeatability, LDS_REPEAT_REPEATS);
    assert_true(isnan(c.repeat_db[LDS_FAMILY_NOISE]));
    const struct lds_change *noise = made_find(&c, "noise.band.20-20k");
    assert_true(noise->dof >= 3.0 && noise->dof <= 6.0);
    assert_false(has_text(c.note, c.notes, "stands apart"));
    assert_true(has_text(c.note, c.notes, "taken from the repeats, 4 before and 4 after"));
    lds_comparison_free(&c);
    for (int i = 0; i < 8; i++)
        lds_measurement_free(&m[i]);
}

/* The note about the scatter covers every figure: families for which it is stated, and figures that too few captures
 * have. */
static void test_sources_of_scatter(void **state)
{
    (void)state;
    struct lds_measurement m[8];
    struct lds_comparison c;
    struct lds_compare_options options = defaults();
    make_repeats(m, 0.0);
    options.repeat_db[LDS_FAMILY_MAINS] = 0.5;
    compare(m, 4, m + 4, 4, &options, &c);
    assert_true(has_text(c.note, c.notes,
                         "taken from the repeats, 4 before and 4 after; but from what was stated: mains 0.5 dB"));
    lds_comparison_free(&c);
    made_figure(&m[0], "noise.a", 50e-6, 1e-7);
    made_figure(&m[4], "noise.a", 50e-6, 1e-7);
    compare(m, 4, m + 4, 4, NULL, &c);
    assert_true(has_text(c.note, c.notes,
                         "4 after; for 1 figure that fewer than three captures of a side hold, from defaults (common "
                         "practice, no source): level 0.03, noise 0.1, distortion 0.2, mains 1, dc 1 dB"));
    assert_false(made_find(&c, "noise.a")->repeated);
    assert_true(made_find(&c, "mains.total")->repeated);
    lds_comparison_free(&c);
    m[0].bench.repeat_noise_db = 0.05;
    compare(m, 1, m + 4, 1, &options, &c);
    assert_true(has_text(c.note, c.notes,
                         "It is taken from what was stated: mains 0.5 dB; from the bench file: noise 0.05 dB; from "
                         "defaults (common practice, no source): level 0.03, distortion 0.2, dc 1 dB. Three captures"));
    lds_comparison_free(&c);
    for (int i = 0; i < 8; i++)
        lds_measurement_free(&m[i]);
}

static void test_odd_repeat(void **state)
{
    (void)state;
    struct lds_measurement m[8];
    struct lds_comparison c;
    make_repeats(m, 3.0);
    compare(m, 4, m + 4, 4, NULL, &c);
    assert_true(has_text(c.note, c.notes, "6.wav stands apart from the other repeats after"));
    const struct lds_change *noise = made_find(&c, "noise.band.20-20k");
    assert_true(noise->change > 0.6); /* named, not dropped */
    assert_int_equal(noise->word, LDS_UNRESOLVED);
    lds_comparison_free(&c);
    for (int i = 0; i < 8; i++)
        lds_measurement_free(&m[i]);
}

/* Two sides of three, three figures: 18 tests, so that 1 % over all is t = 15.8 with three degrees of freedom
 * (scipy 1.10.1, stats.t.isf(0.01/18/2, 3)). Noise of -0.1, 0 and 0.1 dB against -0.1, 0.1 and Y has t = 10.6 at Y
 * = 1.5 dB, 21.2 at 3 dB, by the definition. */
static void test_how_odd_a_repeat_is(void **state)
{
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        const double noise_db[6] = {-0.1, 0.0, 0.1, -0.1, 0.1, turn ? 3.0 : 1.5};
        struct lds_measurement m[6];
        struct lds_comparison c;
        for (int i = 0; i < 6; i++) {
            char name[16];
            snprintf(name, sizeof name, "%d.wav", i);
            made_idle(&m[i], name, noise_db[i], 0.0);
            m[i].frames += i;
        }
        compare(m, 3, m + 3, 3, NULL, &c);
        assert_int_equal(has_text(c.note, c.notes, "5.wav stands apart"), turn);
        lds_comparison_free(&c);
        for (int i = 0; i < 6; i++)
            lds_measurement_free(&m[i]);
    }
}

static void test_where_repeatability_is_known_from(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_compare_options options = defaults();
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.2, 0.0);
    a.bench.repeat_noise_db = 0.3;
    b.bench.repeat_noise_db = 0.1; /* the larger counts */
    compare(&b, 1, &a, 1, &options, &c);
    assert_int_equal(c.repeatability, LDS_REPEAT_BENCH);
    check_close(c.repeat_db[LDS_FAMILY_NOISE], 0.3, 1e-12);
    check_close(c.repeat_db[LDS_FAMILY_MAINS], 1.0, 1e-12);
    lds_comparison_free(&c);
    options.repeat_db[LDS_FAMILY_NOISE] = 0.4;
    compare(&b, 1, &a, 1, &options, &c);
    assert_int_equal(c.repeatability, LDS_REPEAT_STATED);
    check_close(c.repeat_db[LDS_FAMILY_NOISE], 0.4, 1e-12);
    lds_comparison_free(&c);
    options.repeat_none = true;
    options.matters_db[LDS_FAMILY_NOISE] = 0.1;
    compare(&b, 1, &a, 1, &options, &c);
    assert_int_equal(c.repeatability, LDS_REPEAT_NONE);
    assert_int_equal(made_find(&c, "noise.band.20-20k")->word, LDS_HIGHER); /* 0.2 dB at 0.012 */
    free_pair(&b, &a, &c);
}

/* ---- lines, axis, limits, hints ---- */

static void add_mains(struct lds_measurement *m, const double level[6])
{
    for (int k = 1; k <= 5; k++) {
        double v = level[k];
        const struct lds_cell cell = {v, isnan(v) ? 0.0 : 0.98 * v, isnan(v) ? 1e-7 : 1.02 * v};
        made_line(m, "mains", k, 50.0 * k, cell, NAN);
    }
}

static void add_floor(struct lds_measurement *m, double rise_from_hz, double rise_to_hz, double rise_db)
{
    for (int i = 0; i < 40; i++) {
        double low = 20.0 * pow(10.0, i * 0.075), high = 20.0 * pow(10.0, (i + 1) * 0.075);
        bool risen = low >= rise_from_hz && high <= rise_to_hz;
        double level = 1e-7 * pow(10.0, (risen ? rise_db : 0.0) / 20.0);
        made_band(m, low, high, level, 2000.0);
    }
}

static void add_spur(struct lds_measurement *m, double frequency_hz, double level, const char *origin)
{
    made_spur(m, frequency_hz, level, 30.0, origin);
}

static const struct lds_line_change *line_at(const struct lds_comparison *c, double frequency_hz)
{
    for (size_t i = 0; i < c->channel[0].lines; i++)
        if (fabs(c->channel[0].line[i].frequency_hz - frequency_hz) < 5.0)
            return &c->channel[0].line[i];
    return NULL;
}

static void test_lines(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_mains(&b, (double[6]){0, 20e-6, 10e-6, 5e-6, NAN, 4e-6});
    add_mains(&a, (double[6]){0, 20e-6, 1e-6, 20e-6, NAN, NAN});
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 0.0, 0.0, 0.0);
    add_spur(&a, 15e3, 50e-6, "unexplained");
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(line_at(&c, 50.0)->word, LDS_SAME);
    const struct lds_line_change *second = line_at(&c, 100.0);
    assert_true(second->word == LDS_LOWER && strcmp(second->kind->key, "mains") == 0 && second->order == 2);
    check_close(second->before, 10e-6, 1e-12);
    check_close(second->after, 1e-6, 1e-12);
    check_close(second->change_db, -20.0, 1e-9);
    assert_int_equal(line_at(&c, 150.0)->word, LDS_HIGHER);
    assert_null(line_at(&c, 200.0)); /* on neither side */
    const struct lds_line_change *vanished = line_at(&c, 250.0), *appeared = line_at(&c, 15e3);
    assert_true(vanished->vanished && vanished->word == LDS_LOWER && isnan(vanished->after));
    check_close(vanished->limit, 1e-7, 1e-12);
    assert_true(appeared->appeared && strcmp(appeared->kind->key, "spurs") == 0 && isnan(appeared->before));
    assert_string_equal(appeared->origin, "unexplained");
    /* 30 dB below, and 1.96 times the scatter of the noise there: 1.5 S/2T in the averaged spectrum */
    check_close(appeared->limit, 50e-6 * pow(10.0, -1.5) + 1.959963984540054 * sqrt(1.5 * 1e-14 / 20.0), 1e-12);
    free_pair(&b, &a, &c);
}

/* A mains order in one capture is an unnamed line in another. */
static void test_lines_of_another_kind(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_mains(&b, (double[6]){0, NAN, 10e-6, NAN, NAN, NAN});
    add_mains(&a, (double[6]){0, NAN, NAN, NAN, NAN, NAN});
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 0.0, 0.0, 0.0);
    add_spur(&a, 100.2, 10e-6, "unexplained");
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(c.channel[0].lines, 1);
    assert_int_equal(c.channel[0].line[0].word, LDS_SAME);
    lds_comparison_free(&c);
    made_series(&a, "mains")->rows = 0; /* no comb was found at all */
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(c.channel[0].lines, 1);
    assert_string_equal(c.channel[0].line[0].kind->key, "spurs");
    assert_int_equal(c.channel[0].line[0].word, LDS_SAME);
    made_series(&a, "mains")->rows = 5;
    free_pair(&b, &a, &c);
}

/* A mains order close to another line has limits that allow for it, and is judged; one hidden by it is not found. */
static void test_line_beside_another(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_mains(&b, (double[6]){0, 20e-6, 10e-6, NAN, NAN, NAN});
    add_mains(&a, (double[6]){0, NAN, 100e-6, NAN, NAN, NAN});
    struct lds_series *mains = made_series(&a, "mains");
    mains->flag[0] = mains->flag[1] = LDS_FLAG_NEAR_LINE;
    lds_series_set_limits(mains, 0, LDS_LINE_LEVEL, NAN, NAN);
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(line_at(&c, 100.0)->word, LDS_HIGHER);
    check_close(line_at(&c, 100.0)->change_db, 20.0, 1e-9);
    for (size_t i = 0; i < c.channel[0].lines; i++)
        if (c.channel[0].line[i].order == 1) {
            assert_int_equal(c.channel[0].line[i].word, LDS_UNRESOLVED);
            assert_false(c.channel[0].line[i].vanished);
        }
    free_pair(&b, &a, &c);
}

/* Orders of another mains are not paired; those of a wandering one are. */
static void test_other_mains(void **state)
{
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        struct lds_measurement b, a;
        struct lds_comparison c;
        made_idle(&b, "before.wav", 0.0, 0.0);
        made_idle(&a, "after.wav", 0.0, 0.0);
        add_mains(&b, (double[6]){0, 20e-6, 10e-6, NAN, NAN, NAN});
        add_mains(&a, (double[6]){0, 20e-6, 10e-6, NAN, NAN, NAN});
        for (size_t i = 0; i < a.channel[0].figures; i++)
            if (strcmp(a.channel[0].figure[i].key, "mains.frequency") == 0)
                a.channel[0].figure[i].value += turn ? 10.0 : 0.5;
        compare(&b, 1, &a, 1, NULL, &c);
        assert_int_equal(c.channel[0].lines, turn ? 0 : 2);
        free_pair(&b, &a, &c);
    }
}

/* The SNR has the scatter of the noise and of the level. */
static void test_scatter_of_snr(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_driven(&b, "before.wav", 0.0, 0.0);
    made_driven(&a, "after.wav", 0.01, 0.0);
    made_figure(&b, "snr", 110.0, 1e-6);
    made_figure(&a, "snr", 110.1, 1e-6);
    b.bench.load_ohm = NAN;
    compare(&b, 1, &a, 1, NULL, &c);
    check_close(made_find(&c, "snr")->u, sqrt(2.0) * hypot(0.1, 0.03), 1e-6);
    check_close(made_find(&c, "tone.level")->u, sqrt(2.0) * 0.03, 1e-5);
    assert_true(has_text(c.note, c.notes, "the load is stated after and not before"));
    free_pair(&b, &a, &c);
}

/* One band of forty. Degrees of freedom 1307 with the default scatter of 0.1 dB: a standard deviation of 0.24 dB. 0.90
 * dB has p = 1.8e-4, times 40 is 0.7 %, over the half of 1 % that the axis has; 0.96 dB has 0.25 %. */
static void test_axis_as_a_whole(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 0.0, 0.0, 0.0);
    double level = lds_series_value(made_series(&a, "floor"), 20, LDS_FLOOR_MEAN);
    for (int turn = 0; turn < 2; turn++) {
        lds_series_set(made_series(&a, "floor"), 20, LDS_FLOOR_MEAN, level * pow(10.0, (turn ? 0.96 : 0.90) / 20.0));
        compare(&b, 1, &a, 1, NULL, &c);
        assert_int_equal(lds_compared_axis(&c.channel[0], "floor")->regions, turn);
        lds_comparison_free(&c);
    }
    lds_measurement_free(&b);
    lds_measurement_free(&a);
}

static void test_axis(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 1000.0, 3000.0, 3.0);
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(lds_compared_axis(&c.channel[0], "floor")->points, 40);
    assert_int_equal(lds_compared_axis(&c.channel[0], "floor")->regions, 1);
    const struct lds_axis_span *r = &lds_compared_axis(&c.channel[0], "floor")->region[0];
    assert_true(r->from >= 1000.0 && r->from < 1200.0 && r->to <= 3000.0 && r->to > 2500.0);
    check_close(r->change, 3.0, 1e-9);
    assert_true(r->low > 2.5 && r->high < 3.5 && r->p_adjusted < 0.01);
    assert_true(c.worse); /* though no figure is worse */
    assert_says(&c, "Noise is higher (worse) over part of the frequency range.");
    lds_comparison_free(&c);
    compare(&a, 1, &b, 1, NULL, &c);
    assert_int_equal(lds_compared_axis(&c.channel[0], "floor")->regions, 1);
    assert_false(c.worse);
    lds_comparison_free(&c);
    struct lds_series *floor = made_series(&a, "floor");
    for (size_t i = 0; i < floor->rows; i++) /* nothing in common */
        for (int k = LDS_FLOOR_LOW_HZ; k <= LDS_FLOOR_HIGH_HZ; k++)
            lds_series_set(floor, i, k, 1e4 * lds_series_value(floor, i, k));
    compare(&b, 1, &a, 1, NULL, &c);
    assert_int_equal(lds_compared_axis(&c.channel[0], "floor")->points, 0);
    assert_true(has_text(c.note, c.notes, "not compared along the frequency axis"));
    free_pair(&b, &a, &c);
}

/* White noise: two bands together have the degrees of freedom of both, half a band half of its own. */
static void test_floor_over(void **state)
{
    (void)state;
    struct lds_measurement m;
    made_capture(&m, "a.wav", 1);
    made_band(&m, 100.0, 200.0, 1e-7, 50.0);
    made_band(&m, 200.0, 300.0, 1e-7, 50.0);
    struct lds_series *floor = made_series(&m, "floor");
    double mean, dof;
    assert_true(lds_floor_over(floor, 100.0, 300.0, &mean, &dof));
    check_close(mean, 1e-7, 1e-15);
    check_close(dof, 100.0, 1e-6);
    assert_true(lds_floor_over(floor, 150.0, 200.0, &mean, &dof));
    check_close(dof, 25.0, 1e-6);
    assert_false(lds_floor_over(floor, 250.0, 320.0, &mean, &dof));
    lds_series_set(floor, 1, LDS_FLOOR_DOF, 0.0); /* all of it is lines */
    assert_false(lds_floor_over(floor, 100.0, 300.0, &mean, &dof));
    lds_measurement_free(&m);
}

/* The bands of a longer capture are narrower: 1/f noise of both is converted to the wider bands. */
static void test_axis_of_other_length(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    struct lds_measurement *side[2] = {&b, &a};
    for (int s = 0; s < 2; s++) {
        const double step = s ? 0.021 : 0.05;
        for (int i = 0; i < (s ? 140 : 60); i++) {
            double low = 10.0 * pow(10.0, i * step), high = low * pow(10.0, step);
            double mean = 1e-7 * sqrt(1.0 + 1000.0 * log(high / low) / (high - low)); /* S = a (1 + 1 kHz/f) */
            made_band(side[s], low, high, mean, s ? 2000.0 : 5000.0);
        }
    }
    compare(&b, 1, &a, 1, NULL, &c);
    assert_true(lds_compared_axis(&c.channel[0], "floor")->points >= 58 &&
                lds_compared_axis(&c.channel[0], "floor")->points <= 60); /* the wider bands */
    for (size_t i = 0; i < lds_compared_axis(&c.channel[0], "floor")->points; i++)
        check_close(lds_compared_axis(&c.channel[0], "floor")->point[i].change, 0.0, 2e-3);
    free_pair(&b, &a, &c);
}

/* Times to settle within other bands are not compared. */
static void test_other_settling_band(void **state)
{
    (void)state;
    struct lds_measurement b, a;
    struct lds_comparison c;
    for (int other = 0; other < 2; other++) {
        made_idle(&b, "before", 0.0, 0.0);
        made_idle(&a, "after", 0.0, 0.0);
        made_figure(&b, "dc.settle", 2.0, 0.01);
        made_figure(&a, "dc.settle", 1.0, 0.01);
        b.settle_band_v = 0.05;
        a.settle_band_v = other ? 0.02 : 0.05;
        compare(&b, 1, &a, 1, NULL, &c);
        if (other)
            assert_contains(made_why_not(&c, "dc.settle"), "the settling band: +-50 mV before, +-20 mV after");
        else
            check_close(made_find(&c, "dc.settle")->change, 20.0 * log10(0.5), 1e-9);
        free_pair(&b, &a, &c);
    }
}

/* A voltage of either sign is compared with a limit by its size. */
static void test_limits_of_dc(void **state)
{
    (void)state;
    static const struct lds_limit limit[] = {{"level.dc", LDS_AT_MOST, 0.02, 1, "V"},
                                             {"dc.final", LDS_AT_MOST, 0.02, 2, "V"},
                                             {"dc.settle", LDS_AT_MOST, 3.0, 3, "s"},
                                             {"dc.thump", LDS_AT_MOST, 1.0, 4, "V"}};
    static const struct {
        double value[4];
        int verdict[4];
    } row[] = {{{-0.03, -0.03, 2.0, 0.5}, {LDS_OVER, LDS_OVER, LDS_WITHIN, LDS_WITHIN}},
               {{-0.01, 0.01, 4.0, 2.0}, {LDS_WITHIN, LDS_WITHIN, LDS_OVER, LDS_OVER}},
               {{-0.0201, 0.0199, 3.0, 1.0}, {LDS_NOT_SHOWN, LDS_NOT_SHOWN, LDS_NOT_SHOWN, LDS_NOT_SHOWN}}};
    for (size_t r = 0; r < sizeof row / sizeof *row; r++) {
        struct lds_measurement m[2];
        struct lds_comparison c;
        struct lds_compare_options options = defaults();
        options.limit = limit;
        options.limits = sizeof limit / sizeof *limit;
        for (int s = 0; s < 2; s++) {
            made_idle(&m[s], s ? "after" : "before", 0.0, 0.0);
            for (size_t i = 0; i < options.limits; i++)
                made_figure(&m[s], limit[i].key, row[r].value[i], 0.01 * fabs(row[r].value[i]));
        }
        compare(m, 1, m + 1, 1, &options, &c);
        for (size_t i = 0; i < options.limits; i++)
            assert_int_equal(c.channel[0].limit[i].result, row[r].verdict[i]);
        lds_comparison_free(&c);
        for (int s = 0; s < 2; s++)
            lds_measurement_free(&m[s]);
    }
}

static void test_limits(void **state)
{
    (void)state;
    static const struct lds_limit limit[] = {
        {"noise.band.20-20k", LDS_AT_MOST, 100.5e-6, 1, NULL}, /* 100 uV +-0.2 */
        {"noise.band.20-20k", LDS_AT_MOST, 99.5e-6, 2, NULL},
        {"noise.band.20-20k", LDS_AT_MOST, 100.1e-6, 3, NULL},
        {"mains.total", LDS_CHANGE_AT_MOST, 3.0, 4, NULL},
        {"mains.total", LDS_CHANGE_AT_MOST, 20.0, 5, NULL},
        {"thd", LDS_AT_MOST, -80.0, 6, NULL},
        {"snr", LDS_AT_LEAST, 90.0, 7, NULL},
        {"mains.buzz", LDS_AT_MOST, 1e-5, 8, NULL},
    };
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_compare_options options = defaults();
    options.limit = limit;
    options.limits = sizeof limit / sizeof limit[0];
    made_idle(&b, "before.wav", 0.0, -10.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    lds_channel_add_absent(&a.channel[0], "thd", "there is no tone");
    made_figure(&a, "snr", 89.0, 0.1)->flags |= LDS_FLAG_CHAIN_LIMITED;
    made_below(&a, "mains.buzz", 9e-6);
    compare(&b, 1, &a, 1, &options, &c);
    static const int expected[] = {LDS_WITHIN, LDS_OVER,      LDS_NOT_SHOWN, LDS_OVER,
                                   LDS_WITHIN, LDS_NOT_SHOWN, LDS_NOT_SHOWN, LDS_WITHIN};
    for (size_t i = 0; i < options.limits; i++)
        assert_int_equal(c.channel[0].limit[i].result, expected[i]);
    assert_string_equal(c.channel[0].limit[5].reason, "there is no tone");
    assert_contains(c.channel[0].limit[6].reason, "chain");
    assert_true(c.worse);
    size_t results[LDS_LIMIT_RESULTS];
    lds_comparison_limits(&c, results);
    assert_int_equal(results[LDS_OVER], 2);
    assert_int_equal(results[LDS_NOT_SHOWN], 3);
    assert_int_equal(c.channel[0].not_compared, 2);
    free_pair(&b, &a, &c);
}

static void expect_hint(const double before[6], const double after[6], double spur_hz, const char *hint)
{
    struct lds_measurement b, a;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_mains(&b, before);
    add_mains(&a, after);
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 0.0, 0.0, 0.0);
    if (spur_hz > 0.0) {
        lds_series_set(made_series(&a, "floor"), 39, LDS_FLOOR_HIGH_HZ, 50e3);
        lds_series_set(made_series(&b, "floor"), 39, LDS_FLOOR_HIGH_HZ, 50e3);
        add_spur(&a, spur_hz, 50e-6, "unexplained: check for oscillation");
    }
    compare(&b, 1, &a, 1, NULL, &c);
    if (hint)
        assert_true(has_text(c.channel[0].hint, c.channel[0].hints, hint));
    else
        assert_int_equal(c.channel[0].hints, 0);
    for (size_t i = 0; i < c.channel[0].hints; i++)
        assert_int_equal(strncmp(c.channel[0].hint[i], "hint", 4), 0);
    free_pair(&b, &a, &c);
}

/* The only hint of a comparison, NULL: none. */
static void expect_only_hint(struct lds_measurement *b, struct lds_measurement *a, const char *hint)
{
    struct lds_comparison c;
    compare(b, 1, a, 1, NULL, &c);
    assert_int_equal(c.channel[0].hints, hint ? 1 : 0);
    for (size_t i = 0; i < c.channel[0].lines; i++)
        assert_true(c.worse || c.channel[0].line[i].word != LDS_HIGHER); /* though no figure is worse */
    if (hint)
        assert_contains(c.channel[0].hint[0], hint);
    free_pair(b, a, &c);
}

static void expect_hint_of_noise(double from_hz, double to_hz, double noise_db, double hum_db, const char *hint)
{
    struct lds_measurement b, a;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", noise_db, hum_db);
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, from_hz, to_hz, 6.0);
    expect_only_hint(&b, &a, hint);
}

static void expect_hint_of_raster(const char *origin, const char *hint)
{
    struct lds_measurement b, a;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    add_floor(&b, 0.0, 0.0, 0.0);
    add_floor(&a, 0.0, 0.0, 0.0);
    add_spur(&a, 8000.0, 50e-6, origin);
    expect_only_hint(&b, &a, hint);
}

static void expect_hint_of_harmonics(const double after_db[6], const char *hint)
{
    struct lds_measurement m[2];
    for (int s = 0; s < 2; s++) {
        made_driven(&m[s], s ? "after.wav" : "before.wav", 0.0, 0.0);
        for (int k = 1; k <= 5; k++) {
            double level = k == 1 ? 8.0 : 1e-4 * pow(10.0, (s ? after_db[k] : 0.0) / 20.0);
            const struct lds_cell cell = {level, 0.99 * level, 1.01 * level};
            made_line(&m[s], "harmonics", k, 1000.0 * k, cell, 20.0 * log10(level / 8.0));
        }
    }
    expect_only_hint(&m[0], &m[1], hint);
}

/* Odd mains orders that rise while the noise changes too do not point to lead dress. */
static void test_hint_of_mains_alone(void **state)
{
    (void)state;
    const double quiet[6] = {0, 20e-6, 10e-6, 5e-6, 1e-6, 4e-6}, odd[6] = {0, 80e-6, 10e-6, 30e-6, 1e-6, 20e-6};
    for (int turn = 0; turn < 2; turn++) {
        struct lds_measurement b, a;
        made_idle(&b, "before.wav", 0.0, 0.0);
        made_idle(&a, "after.wav", turn ? 3.0 : 0.0, 0.0);
        add_mains(&b, quiet);
        add_mains(&a, odd);
        add_floor(&b, 0.0, 0.0, 0.0);
        add_floor(&a, 0.0, 0.0, 0.0);
        expect_only_hint(&b, &a, turn ? NULL : "lead dress or earthing");
    }
}

static void test_hints_of_patterns(void **state)
{
    (void)state;
    expect_hint_of_noise(20.0, 90.0, 0.0, 0.0, "only the coupling or the servo");
    expect_hint_of_noise(20.0, 90.0, 0.0, 20.0, NULL); /* hum changed too */
    expect_hint_of_noise(20.0, 300.0, 0.0, 0.0, NULL); /* more than the lowest */
    expect_hint_of_noise(0.0, 0.0, 8.0, 8.0, "first see whether gain, divider or calibration differ");
    expect_hint_of_noise(0.0, 0.0, 8.0, 12.0, NULL);
    expect_hint_of_raster("1 kHz or 8 kHz raster", "more likely of the capture chain");
    expect_hint_of_raster("unexplained", NULL); /* below 20 kHz */
    expect_hint_of_harmonics((const double[6]){0, 0, 0, 6, 0, 5}, "push-pull stage runs leaner");
    expect_hint_of_harmonics((const double[6]){0, 0, 4, 6, 0, 5}, NULL);
    expect_hint_of_harmonics((const double[6]){0, 0, 0, 6, 0, 0}, NULL); /* one alone */
}

static void test_hints(void **state)
{
    (void)state;
    const double quiet[6] = {0, 20e-6, 10e-6, 5e-6, 1e-6, 4e-6}, odd[6] = {0, 80e-6, 10e-6, 30e-6, 1e-6, 20e-6},
                 even[6] = {0, 20e-6, 80e-6, 5e-6, 20e-6, 4e-6}, all[6] = {0, 80e-6, 80e-6, 30e-6, 20e-6, 20e-6};
    expect_hint(quiet, odd, 0.0, "lead dress or earthing");
    expect_hint(quiet, even, 0.0, "ripple");
    expect_hint(quiet, all, 0.0, NULL);
    expect_hint(quiet, quiet, 0.0, NULL);
    expect_hint(quiet, quiet, 41e3, "check for oscillation");
}

/* ---- more than one kind of capture a side ---- */

static void test_idle_and_driven_on_a_side(void **state)
{
    (void)state;
    struct lds_measurement before[2], after[2];
    struct lds_comparison c;
    made_idle(&before[0], "idle before.wav", 0.0, 0.0);
    made_driven(&before[1], "driven before.wav", 0.0, 0.0);
    made_driven(&after[0], "driven after.wav", 0.0, 3.0);
    made_idle(&after[1], "idle after.wav", -2.0, 0.0);
    made_figure(&after[0], "noise.band.20-20k", 1.0, 1e-3); /* noise beside a tone is a different figure */
    made_figure(&before[1], "noise.band.20-20k", 2.0, 1e-3);
    compare(before, 2, after, 2, NULL, &c);
    assert_int_equal(made_find(&c, "thd")->word, LDS_HIGHER);
    check_close(made_find(&c, "noise.band.20-20k")->change, -2.0, 1e-9);
    check_close(made_find(&c, "level.rms")->before, 8.0, 1e-9);
    lds_comparison_free(&c);
    for (int i = 0; i < 2; i++) {
        lds_measurement_free(&before[i]);
        lds_measurement_free(&after[i]);
    }
}

static void test_pairs_of_channels(void **state)
{
    (void)state;
    struct lds_measurement m[2];
    struct lds_comparison c;
    for (int s = 0; s < 2; s++) {
        made_capture(&m[s], s ? "after.wav" : "before.wav", 2);
        for (size_t channel = 1; channel <= 2; channel++) {
            made_in(&m[s], channel, "level.rms", 8.0, 1e-6);
            made_in(&m[s], channel, "tone.level", 8.0, 1e-6);
            made_in(&m[s], channel, "noise.band.20-20k", 1e-4 * (channel == 2 && s ? 2.0 : 1.0), 1e-7);
        }
        m[s].pair = calloc(1, sizeof *m[s].pair);
        m[s].pairs = 1;
        m[s].pair[0].channels[0] = 1;
        m[s].pair[0].channels[1] = 2;
        struct lds_figure *balance = lds_pair_add(&m[s].pair[0], "balance", true);
        balance->value = s ? 0.5 : 0.1;
        balance->low = balance->value - 0.01;
        balance->high = balance->value + 0.01;
        balance->u_a = 0.005;
    }
    static const struct lds_limit limit = {"balance", LDS_AT_MOST, 0.3, 1, NULL};
    struct lds_compare_options options = defaults();
    options.limit = &limit;
    options.limits = 1;
    compare(&m[0], 1, &m[1], 1, &options, &c);
    assert_int_equal(c.channels, 2);
    assert_int_equal(c.channel[0].limits, 0);
    assert_int_equal(c.channel[1].limit[0].result, LDS_OVER);
    const struct lds_change *balance = made_find(&c, "balance.1-2");
    check_close(balance->change, 0.4, 1e-12);
    assert_int_equal(balance->word, LDS_HIGHER);
    assert_int_equal(c.channel[0].words[LDS_HIGHER], 0);
    assert_int_equal(c.channel[1].words[LDS_HIGHER], 2);
    free_pair(&m[0], &m[1], &c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_verdict_in_order),
        cmocka_unit_test(test_unchanged),
        cmocka_unit_test(test_dc_in_volts),
        cmocka_unit_test(test_dc_of_either_sign),
        cmocka_unit_test(test_impedance_in_ohm),
        cmocka_unit_test(test_hidden_ends),
        cmocka_unit_test(test_a_repeat_below_the_floor),
        cmocka_unit_test(test_sinks_below_the_floor),
        cmocka_unit_test(test_hum_in_noise_takes_its_scatter),
        cmocka_unit_test(test_reasons),
        cmocka_unit_test(test_not_quite_a_reason),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_same_file),
        cmocka_unit_test(test_repeats),
        cmocka_unit_test(test_sources_of_scatter),
        cmocka_unit_test(test_odd_repeat),
        cmocka_unit_test(test_how_odd_a_repeat_is),
        cmocka_unit_test(test_where_repeatability_is_known_from),
        cmocka_unit_test(test_lines),
        cmocka_unit_test(test_lines_of_another_kind),
        cmocka_unit_test(test_line_beside_another),
        cmocka_unit_test(test_axis_as_a_whole),
        cmocka_unit_test(test_other_mains),
        cmocka_unit_test(test_scatter_of_snr),
        cmocka_unit_test(test_floor_over),
        cmocka_unit_test(test_axis),
        cmocka_unit_test(test_axis_of_other_length),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_limits_of_dc),
        cmocka_unit_test(test_other_settling_band),
        cmocka_unit_test(test_hints),
        cmocka_unit_test(test_hints_of_patterns),
        cmocka_unit_test(test_hint_of_mains_alone),
        cmocka_unit_test(test_idle_and_driven_on_a_side),
        cmocka_unit_test(test_pairs_of_channels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
