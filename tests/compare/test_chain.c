/* What the recording of the chain does to a measurement. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "compare/made.h"
#include "record/series.h"
#include "simulate/check.h"

enum {
    CHAIN = LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE | LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED
};

static const struct lds_figure *find(const struct lds_measurement *m, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(&m->channel[0], key);
    assert_non_null(figure);
    return figure;
}

static void not_measured(struct lds_measurement *m)
{
    for (size_t i = 0; i < m->channel[0].figures; i++)
        if (lds_key_find(m->channel[0].figure[i].key)->chain != LDS_CHAIN_NONE)
            m->channel[0].figure[i].flags |= LDS_FLAG_CHAIN_NOT_MEASURED;
}

static void apply(struct lds_measurement *m, const struct lds_measurement *chain, size_t chains)
{
    struct lds_error error = {0};
    if (lds_chain_apply(m, chain, chains, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

/* Noise-like: near below 10 dB, limited below 3 dB. */
static void test_noise_like(void **state)
{
    (void)state;
    static const struct {
        double chain_db;
        unsigned flags;
    } table[] = {{-10.01, 0},
                 {-9.99, LDS_FLAG_NEAR_CHAIN},
                 {-3.01, LDS_FLAG_NEAR_CHAIN},
                 {-2.99, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED},
                 {1.0, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct lds_measurement m, chain;
        made_idle(&m, "amplifier.wav", 0.0, 0.0);
        made_idle(&chain, "shorted.wav", table[i].chain_db, -60.0);
        not_measured(&m);
        apply(&m, &chain, 1);
        const struct lds_figure *noise = find(&m, "noise.band.20-20k");
        assert_int_equal(noise->flags & CHAIN, table[i].flags);
        check_close(noise->u_b, 0.0, 0.0);
        assert_int_equal(find(&m, "mains.total")->flags & CHAIN, 0);
        lds_measurement_free(&m);
        lds_measurement_free(&chain);
    }
}

/* Coherent: near below 25 dB, limited below 10 dB; the limits move by 20 log10(1 +- 10^(-m/20)). */
static void test_coherent(void **state)
{
    (void)state;
    static const struct {
        double chain_db;
        unsigned flags;
    } table[] = {{-25.01, 0},
                 {-24.99, LDS_FLAG_NEAR_CHAIN},
                 {-10.01, LDS_FLAG_NEAR_CHAIN},
                 {-9.99, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED},
                 {0.5, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct lds_measurement m, chain;
        made_driven(&m, "amplifier.wav", 0.0, 0.0);
        made_driven(&chain, "loopback.wav", 0.5, table[i].chain_db);
        made_figure(&m, "sinad", 90.0, 0.05);
        made_figure(&chain, "sinad", 90.0 - table[i].chain_db, 0.05);
        not_measured(&m);
        apply(&m, &chain, 1);
        const struct lds_figure *thd = find(&m, "thd"), *sinad = find(&m, "sinad");
        assert_int_equal(sinad->flags & CHAIN, table[i].flags); /* the inverse of THD+N, limits included */
        check_close(sinad->low, -thd->high, 1e-9);
        assert_true(isnan(thd->low) == isnan(sinad->high));
        if (!isnan(thd->low))
            check_close(sinad->high, -thd->low, 1e-9);
        assert_int_equal(thd->flags & CHAIN, table[i].flags);
        double r = pow(10.0, table[i].chain_db / 20.0), own = 1.959963984540054 * 0.05;
        if (table[i].flags) {
            check_close(thd->high, -90.0 + hypot(own, 20.0 * log10(1.0 + r)), 1e-9);
            if (r < 1.0)
                check_close(thd->low, -90.0 - hypot(own, -20.0 * log10(1.0 - r)), 1e-9);
            else
                assert_true(isnan(thd->low));
        } else {
            check_close(thd->u_b, 0.0, 0.0);
        }
        lds_measurement_free(&m);
        lds_measurement_free(&chain);
    }
}

/* A shape gets the flags of the figure for its size, whatever its own value is in the chain. */
static void test_shapes(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_driven(&m, "amplifier.wav", 0.0, 0.0);
    made_driven(&chain, "loopback.wav", 0.0, -60.0);
    made_figure(&m, "residual.peak", 1e-3, 1e-6);
    made_figure(&chain, "residual.peak", 0.2e-3, 1e-6); /* 14 dB below */
    made_figure(&m, "residual.crest", 5.0, 0.01);
    made_figure(&chain, "residual.crest", 6.0, 0.01);
    made_figure(&m, "noise.band.20-20k", 100e-6, 1e-7);
    made_figure(&chain, "noise.band.20-20k", 80e-6, 1e-7); /* 2 dB below */
    made_figure(&m, "noise.slope", 0.1, 0.1);
    not_measured(&m);
    apply(&m, &chain, 1);
    assert_int_equal(find(&m, "residual.peak")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN);
    assert_int_equal(find(&m, "residual.crest")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN);
    assert_int_equal(find(&m, "noise.slope")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED);
    check_close(find(&m, "residual.crest")->high, 5.0 + 1.959963984540054 * 0.01, 1e-12);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

static void add_harmonic(struct lds_measurement *m, double level)
{
    made_line(m, "harmonics", 1, 1e3, (struct lds_cell){8.0, 8.0, 8.0}, 0.0);
    made_line(m, "harmonics", 2, 2e3, (struct lds_cell){level, 0.99 * level, 1.01 * level}, 20.0 * log10(level / 8.0));
}

static void test_harmonics(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_driven(&m, "amplifier.wav", 0.0, 0.0);
    made_driven(&chain, "loopback.wav", 0.0, -40.0);
    add_harmonic(&m, 1e-4);
    add_harmonic(&chain, 2e-5); /* 14 dB below */
    apply(&m, &chain, 1);
    const struct lds_series *lines = lds_channel_series(&m.channel[0], "harmonics");
    assert_int_equal(lines->flag[0] & CHAIN, 0); /* the tone itself is not residual */
    assert_int_equal(lines->flag[1] & CHAIN, LDS_FLAG_NEAR_CHAIN);
    struct lds_cell level = lds_series_cell(lines, 1, LDS_LINE_LEVEL);
    check_close(level.high / 1.2e-4, 1.0, 1e-3);
    check_close(level.low / 0.8e-4, 1.0, 1e-3);
    struct lds_cell relative = lds_series_cell(lines, 1, LDS_LINE_RELATIVE);
    check_close(relative.high - relative.value, 20.0 * log10(level.high / level.value), 1e-9);
    check_close(relative.low - relative.value, 20.0 * log10(level.low / level.value), 1e-9);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

/* Shorted input for noise, loopback for distortion. */
static void test_several(void **state)
{
    (void)state;
    struct lds_measurement m, chain[2];
    made_driven(&m, "amplifier.wav", 0.0, 0.0);
    made_figure(&m, "noise.band.20-20k", 100e-6, 1e-7);
    made_figure(&m, "snr", 98.0, 0.1);
    made_figure(&m, "noise.a", 50e-6, 1e-7);
    made_idle(&chain[0], "shorted.wav", -5.0, 0.0);
    made_driven(&chain[1], "loopback.wav", 0.0, -5.0);
    not_measured(&m);
    apply(&m, chain, 2);
    assert_int_equal(find(&m, "noise.band.20-20k")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN);
    assert_int_equal(find(&m, "snr")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN); /* determined by the noise */
    assert_int_equal(find(&m, "thd")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED);
    assert_int_equal(find(&m, "noise.a")->flags & CHAIN, LDS_FLAG_CHAIN_NOT_MEASURED); /* in neither recording */
    lds_measurement_free(&m);
    for (int i = 0; i < 2; i++)
        lds_measurement_free(&chain[i]);
}

/* A chain with a tone says nothing about an idle amplifier's noise. */
static void test_not_alike(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_idle(&m, "amplifier.wav", 0.0, 0.0);
    made_driven(&chain, "loopback.wav", 0.0, 0.0);
    made_figure(&chain, "noise.band.20-20k", 90e-6, 1e-7);
    not_measured(&m);
    apply(&m, &chain, 1);
    assert_int_equal(find(&m, "noise.band.20-20k")->flags & CHAIN, LDS_FLAG_CHAIN_NOT_COMPARABLE);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

static void other_rate(struct lds_measurement *chain)
{
    chain->rate_hz = 96e3;
}
static void other_range(struct lds_measurement *chain)
{
    chain->bench.full_scale_v = 2.0;
}
static void uncalibrated(struct lds_measurement *chain)
{
    chain->bench.full_scale_v = NAN;
}
static void other_range_of_channel(struct lds_measurement *chain)
{
    lds_bench_add(&chain->bench, 1)->attenuation *= 10.0;
}
static void channel_uncalibrated(struct lds_measurement *chain)
{
    lds_bench_add(&chain->bench, 1)->full_scale_v = NAN;
}
static void other_level(struct lds_measurement *chain)
{
    chain->channel[0].figure[2].value *= 1.13; /* 1.06 dB */
}
static void other_frequency(struct lds_measurement *chain)
{
    chain->channel[0].figure[1].value = 1011.0;
}
static void other_second_tone(struct lds_measurement *chain)
{
    lds_series_set(made_series(chain, "products"), 1, LDS_LINE_HZ, 8000.0);
}
static void other_second_level(struct lds_measurement *chain)
{
    lds_series_set(made_series(chain, "products"), 1, LDS_LINE_LEVEL, 0.5);
}
static void other_channel(struct lds_measurement *chain)
{
    chain->channel[0].channel = 2;
}

static void test_refused(void **state)
{
    (void)state;
    static const struct {
        void (*change)(struct lds_measurement *);
        const char *reason;
    } table[] = {{other_rate, "sampled at 96000 Hz, the capture at 48000 Hz"},
                 {other_range, "full scale is 2 V at the load, that of the capture 20 V"},
                 {uncalibrated, "calibrated and the other is not"},
                 {other_range_of_channel, "full scale is 200 V at the load, that of the capture 20 V"},
                 {channel_uncalibrated, "the capture is calibrated and the other is not"},
                 {other_level, "1.1 dB above that of the capture, and 1 dB is allowed"},
                 {other_frequency, "its tone is 1011 Hz and that of the capture 1000 Hz"},
                 {other_second_tone, "its higher tone is 8000 Hz and that of the capture 7000 Hz"},
                 {other_second_level, "its higher tone is 6 dB below that of the capture, and 1 dB is allowed"},
                 {other_channel, "none of the capture's channels"}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct lds_measurement m, chain;
        struct lds_error error = {0};
        made_driven(&m, "amplifier.wav", 0.0, 0.0);
        made_driven(&chain, "loopback.wav", 0.0, -5.0);
        not_measured(&m);
        for (int t = 0; t < 2; t++) {
            made_product(&m, t ? "f2" : "f1", 1, t ? 7000.0 : 1000.0, (struct lds_cell){1.0, 1.0, 1.0});
            made_product(&chain, t ? "f2" : "f1", 1, t ? 7000.0 : 1000.0, (struct lds_cell){1.0, 1.0, 1.0});
        }
        table[i].change(&chain);
        assert_int_equal(lds_chain_apply(&m, &chain, 1, &error), LDS_BAD_INPUT);
        if (!strstr(error.message, table[i].reason) || !strstr(error.message, "loopback.wav: chain not comparable"))
            fail_msg("\"%s\" lacks \"%s\"", error.message, table[i].reason);
        assert_int_equal(find(&m, "thd")->flags & CHAIN, LDS_FLAG_CHAIN_NOT_MEASURED); /* unchanged */
        lds_measurement_free(&m);
        lds_measurement_free(&chain);
    }
}

/* Each channel is compared by its own range: what [bench] states for others does not matter. */
static void test_ranges_of_channels(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_driven(&m, "amplifier.wav", 0.0, 0.0);
    made_driven(&chain, "loopback.wav", 0.0, -5.0);
    other_range_of_channel(&m);
    other_range_of_channel(&chain);
    chain.bench.full_scale_v *= 3.0;
    apply(&m, &chain, 1);
    assert_int_equal(find(&m, "thd")->flags & CHAIN, LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

/* An amplifier made 6 dB better, with a chain that now dominates: lower by at least that much, but the amount is
 * open. */
static void test_change_into_the_chain(void **state)
{
    (void)state;
    struct lds_measurement b, a, chain;
    struct lds_comparison c;
    struct lds_compare_options options;
    struct lds_error error;
    lds_compare_options_init(&options);
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", -6.0, 0.0);
    made_idle(&chain, "shorted.wav", -8.0, -60.0);
    apply(&b, &chain, 1);
    apply(&a, &chain, 1);
    assert_int_equal(lds_compare((struct lds_side){&b, 1}, (struct lds_side){&a, 1}, &options, &c, &error), LDS_OK);
    const struct lds_change *noise = made_find(&c, "noise.band.20-20k");
    assert_int_equal(noise->word, LDS_LOWER);
    assert_true(noise->at_least && isnan(noise->low) && noise->high < -5.5);
    lds_comparison_free(&c);
    assert_int_equal(lds_compare((struct lds_side){&a, 1}, (struct lds_side){&a, 1}, &options, &c, &error), LDS_OK);
    assert_int_equal(made_find(&c, "noise.band.20-20k")->word, LDS_HIDDEN_BY_CHAIN);
    lds_comparison_free(&c);
    lds_measurement_free(&b);
    lds_measurement_free(&a);
    lds_measurement_free(&chain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_noise_like),
        cmocka_unit_test(test_coherent),
        cmocka_unit_test(test_shapes),
        cmocka_unit_test(test_harmonics),
        cmocka_unit_test(test_several),
        cmocka_unit_test(test_not_alike),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_ranges_of_channels),
        cmocka_unit_test(test_change_into_the_chain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
