#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "measure/health/health.h"
#include "simulate/random.h"

static const double two_pi = 6.283185307179586476925;

/* The contents of a channel. */
struct channel {
    double rate_hz, level, frequency_hz, noise, offset;
    int bits;    /* of the samples, 0: floating point */
    bool dither; /* triangular, +-1 step */
    double clip; /* amplitude at which it is clipped, 0: none */
};

static double quantise(double x, int bits)
{
    double scale = ldexp(1.0, bits - 1), code = nearbyint(x * scale);
    return fmin(fmax(code, -scale), scale - 1.0) / scale;
}

static double *make(const struct channel *channel, size_t n, uint64_t seed)
{
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = malloc(n * sizeof *x);
    assert_non_null(x);
    double phase = sim_random_uniform(&random);
    for (size_t i = 0; i < n; i++) {
        double turns = phase + fmod(channel->frequency_hz / channel->rate_hz * (double)i, 1.0);
        double v =
            channel->offset + channel->level * sin(two_pi * turns) + channel->noise * sim_random_gaussian(&random);
        if (channel->dither)
            v += (sim_random_uniform(&random) - sim_random_uniform(&random)) * ldexp(1.0, 1 - channel->bits);
        if (channel->clip > 0.0)
            v = fmin(fmax(v, -channel->clip), channel->clip);
        x[i] = channel->bits ? quantise(v, channel->bits) : v;
    }
    return x;
}

/* Pushes in pieces of sizes drawn from the seed; 0: all at once. */
static struct lds_health_result look(const double *x, size_t n, double rate_hz, int bits, bool in_volts, uint64_t seed)
{
    struct lds_health *health = lds_health_new(rate_hz, bits, in_volts);
    struct lds_health_result result;
    struct sim_random random;
    sim_random_seed(&random, seed);
    assert_non_null(health);
    for (size_t at = 0; at < n;) {
        size_t part = seed ? 1 + (size_t)(sim_random_uniform(&random) * 9000.0) : n;
        if (part > n - at)
            part = n - at;
        lds_health_push(health, x + at, part);
        at += part;
    }
    assert_true(lds_health_finish(health, &result));
    lds_health_free(health);
    return result;
}

static struct lds_health_result look_at(const double *x, size_t n, const struct channel *channel)
{
    return look(x, n, channel->rate_hz, channel->bits, false, 0);
}

static int64_t place(const struct lds_health_result *result, size_t i, double rate_hz)
{
    assert_true(i < result->problems);
    return llround(result->problem[i].at_s * rate_hz);
}

static void sums_hold_beside_an_offset(void **state)
{
    (void)state;
    const size_t n = 300001;
    struct channel channel = {.rate_hz = 48e3, .level = 1e-7, .frequency_hz = 997.0, .noise = 1e-8, .offset = 0.9};
    double *x = make(&channel, n, 1);
    long double sum = 0.0L, squares = 0.0L, cubes = 0.0L;
    for (size_t i = 0; i < n; i++) {
        sum += x[i];
        cubes += (long double)x[i] * x[i] * x[i];
    }
    long double mean = sum / n;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - mean) * (x[i] - mean);
    struct lds_health_result result = look_at(x, n, &channel);
    assert_int_equal(result.samples, n);
    assert_true(fabs(result.mean - (double)mean) <= 2e-16);
    double rms = sqrt((double)(squares / n));
    assert_true(fabs(result.rms / rms - 1.0) <= 1e-9);
    assert_true(fabs(result.sum_cubes / (double)cubes - 1.0) <= 1e-15);
    free(result.problem);
    free(x);
}

static void pieces_do_not_matter(void **state)
{
    (void)state;
    const size_t n = 50000;
    struct channel channel = {.rate_hz = 48e3, .level = 1.2, .frequency_hz = 440.0, .noise = 1e-3, .bits = 24};
    double *x = make(&channel, n, 2);
    memset(x + 20000, 0, 90 * sizeof *x);
    memcpy(x + 30000, x + 29744, 256 * sizeof *x);
    struct lds_health_result whole = look_at(x, n, &channel);
    assert_true(whole.problems > 100);
    assert_int_equal(whole.gaps, 2);
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct lds_health_result parts = look(x, n, 48e3, 24, false, seed);
        assert_memory_equal(&parts, &whole, offsetof(struct lds_health_result, problem));
        assert_memory_equal(parts.problem, whole.problem, whole.problems * sizeof *whole.problem);
        free(parts.problem);
    }
    free(whole.problem);
    free(x);
}

static void bits_really_used(void **state)
{
    (void)state;
    static const struct {
        int bits, container, shown;
        double factor;
    } cases[] = {
        {8, 8, 8, 1.0},    {12, 16, 12, 1.0}, {16, 16, 16, 1.0},    {16, 24, 16, 1.0},
        {20, 24, 20, 1.0}, {24, 24, 24, 1.0}, {24, 32, 24, 1.0},    {32, 32, 32, 1.0},
        {16, 0, 16, 1.0},  {24, 0, 24, 1.0},  {16, 0, 16, 32768.0}, /* floating point that holds whole numbers */
    };
    const size_t n = 20000;
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        struct channel channel = {.rate_hz = 48e3, .level = 0.99, .frequency_hz = 997.0, .bits = cases[c].bits};
        double *x = make(&channel, n, 3 + c);
        for (size_t i = 0; i < n; i++)
            x[i] *= cases[c].factor;
        struct lds_health_result result = look(x, n, 48e3, cases[c].container, false, 0);
        assert_int_equal(result.bits, cases[c].shown);
        free(result.problem);
        free(x);
    }
    struct channel real = {.rate_hz = 48e3, .level = 0.5, .frequency_hz = 997.0};
    double *x = make(&real, n, 4);
    struct lds_health_result result = look_at(x, n, &real);
    assert_int_equal(result.bits, 0);
    free(result.problem);
    free(x);
}

static void a_dead_channel_is_constant(void **state)
{
    (void)state;
    static const double levels[] = {0.0, 0.125, -1.0};
    const size_t n = 10000;
    double *x = malloc(n * sizeof *x);
    for (size_t c = 0; c < 3; c++) {
        for (size_t i = 0; i < n; i++)
            x[i] = levels[c];
        struct lds_health_result result = look(x, n, 48e3, 16, false, 0);
        assert_true(result.constant);
        assert_true(result.rms == 0.0);
        assert_true(result.mean == levels[c]);
        assert_int_equal(result.gaps, 0);
        assert_int_equal(result.clipped, levels[c] == -1.0); /* one run at full scale from end to end */
        free(result.problem);
    }
    x[n - 1] = 0.5;
    struct lds_health_result result = look(x, n, 48e3, 16, false, 0);
    assert_false(result.constant);
    free(result.problem);
    free(x);
}

static void runs_at_full_scale(void **state)
{
    (void)state;
    const size_t n = 20000;
    for (int bits = 0; bits <= 32; bits += 8) {
        struct channel channel = {.rate_hz = 48e3, .level = 0.3, .frequency_hz = 997.0, .noise = 0.02, .bits = bits};
        double *x = make(&channel, n, 5);
        double top = bits ? 1.0 - ldexp(1.0, 1 - bits) : 1.0 - 0x1p-24;
        x[100] = x[300] = top; /* a single one is a sample that happens to be there */
        x[1000] = x[1001] = top;
        x[2000] = x[2001] = x[2002] = -1.0;
        for (size_t i = 4090; i < 4100; i++) /* across the edge of a block */
            x[i] = top;
        x[n - 2] = x[n - 1] = -1.0;
        struct lds_health_result result = look(x, n, 48e3, bits, false, 0);
        static const int64_t at[] = {1000, 2000, 4090, 19998}, length[] = {2, 3, 10, 2};
        assert_int_equal(result.clipped, 4);
        for (size_t i = 0; i < 4; i++) {
            assert_int_equal(place(&result, i, 48e3), at[i]);
            assert_true(result.problem[i].samples == (double)length[i]);
            assert_string_equal(result.problem[i].kind, "clipped");
        }
        assert_int_equal(result.gaps, 0);
        free(result.problem);
        free(x);
    }
}

/* A tone clipped below full scale: every crest is counted once, top and bottom. */
static void flat_tops_below_full_scale(void **state)
{
    (void)state;
    static const struct channel cases[] = {
        {.rate_hz = 48e3, .level = 0.7, .frequency_hz = 997.0, .bits = 24, .noise = 1e-5, .clip = 0.6},
        {.rate_hz = 192e3, .level = 0.7, .frequency_hz = 20.0, .bits = 24, .noise = 1e-6, .clip = 0.69},
        {.rate_hz = 192e3, .level = 0.7, .frequency_hz = 20.0, .bits = 16, .clip = 0.69},
        {.rate_hz = 192e3, .level = 0.5, .frequency_hz = 1000.0, .bits = 16, .dither = true, .clip = 0.45},
        {.rate_hz = 96e3, .level = 0.7, .frequency_hz = 1000.0, .clip = 0.6},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        const struct channel *channel = &cases[c];
        size_t n = (size_t)(channel->rate_hz * 0.5);
        double *x = make(channel, n, 6 + c);
        struct lds_health_result result = look_at(x, n, channel);
        double crests = 2.0 * channel->frequency_hz * 0.5;
        assert_in_range(result.clipped, (long)(crests - 2.0), (long)(crests + 2.0));
        assert_int_equal(result.gaps, 0);
        free(result.problem);
        free(x);
    }
}

static void dropouts_to_zero(void **state)
{
    (void)state;
    static const struct {
        struct channel channel;
        size_t length;
    } cases[] = {
        {{.rate_hz = 192e3, .noise = 1e-5, .bits = 24}, 16},
        {{.rate_hz = 192e3, .noise = 1e-5, .bits = 24, .level = 0.5, .frequency_hz = 1000.0}, 48},
        {{.rate_hz = 192e3, .level = 0.5, .frequency_hz = 20.0, .bits = 16, .dither = true}, 64},
        {{.rate_hz = 48e3, .level = 0.5, .frequency_hz = 997.0, .bits = 16, .dither = true}, 32},
        {{.rate_hz = 1.25e6, .level = 0.5, .frequency_hz = 1000.0, .noise = 1e-4}, 500},
        {{.rate_hz = 48e3, .noise = 20.0 / 32768.0, .bits = 16}, 5000},
    };
    const size_t n = 40000, at[] = {4090, 12288, 30005};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        double *x = make(&cases[c].channel, n, 20 + c);
        for (size_t k = 0; k < 3; k++)
            memset(x + at[k], 0, cases[c].length * sizeof *x);
        memset(x, 0, 50 * sizeof *x); /* before the recording began, and after it: not within the signal */
        memset(x + n - 77, 0, 77 * sizeof *x);
        struct lds_health_result result = look_at(x, n, &cases[c].channel);
        assert_int_equal(result.gaps, 3);
        for (size_t k = 0; k < 3; k++) {
            assert_true(llabs(place(&result, k, cases[c].channel.rate_hz) - (int64_t)at[k]) <= 1);
            assert_true(fabs(result.problem[k].samples - (double)cases[c].length) <= 2.0);
            assert_string_equal(result.problem[k].kind, "gap");
        }
        assert_int_equal(result.clipped, 0);
        free(result.problem);
        free(x);
    }
}

static void repeated_blocks(void **state)
{
    (void)state;
    static const struct channel channels[] = {
        {.rate_hz = 192e3, .noise = 1e-5, .bits = 24},
        {.rate_hz = 192e3, .noise = 1e-5, .bits = 24, .level = 0.5, .frequency_hz = 997.0},
        {.rate_hz = 192e3, .noise = 1e-4},
        {.rate_hz = 48e3, .noise = 4.0 / 32768.0, .bits = 16, .level = 0.1, .frequency_hz = 1000.0},
    };
    static const size_t lengths[] = {16, 17, 24, 31, 48, 64, 100, 441, 1024, 4096, 5000, 8192};
    const size_t n = 60000;
    for (size_t c = 0; c < sizeof channels / sizeof *channels; c++)
        for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
            size_t length = lengths[k], at = 20003 + 7 * k;
            double *x = make(&channels[c], n, 40 + c);
            memmove(x + at + length, x + at, (n - at - length) * sizeof *x); /* repeated once, then everything
                                                                              * continues */
            memcpy(x + at, x + at - length, length * sizeof *x);
            struct lds_health_result result = look_at(x, n, &channels[c]);
            if (result.gaps != 1)
                print_error("channel %zu, block of %zu, %d found\n", c, length, (int)result.gaps);
            assert_int_equal(result.gaps, 1);
            assert_string_equal(result.problem[0].kind, "repeat");
            assert_true(llabs(place(&result, 0, channels[c].rate_hz) - (int64_t)at) <= 2);
            assert_true(fabs(result.problem[0].samples - (double)length) <= 3.0);
            free(result.problem);
            free(x);
        }
}

/* Faultless captures in which nothing must be found. */
static const struct channel honest[] = {
    {.rate_hz = 192e3, .bits = 16, .noise = 0.3 / 32768.0}, /* quiet and idle */
    {.rate_hz = 192e3, .bits = 16, .noise = 0.5 / 32768.0},
    {.rate_hz = 48e3, .bits = 16, .noise = 1.0 / 32768.0},
    {.rate_hz = 192e3, .bits = 16, .noise = 3.0 / 32768.0},
    {.rate_hz = 192e3, .bits = 24, .noise = 1e-6},
    {.rate_hz = 1.25e6, .bits = 0, .noise = 1e-4},
    {.rate_hz = 192e3, .bits = 16, .level = 0.8 / 32768.0, .frequency_hz = 50.0, .noise = 0.2 / 32768.0}, /* hum */
    {.rate_hz = 192e3, .bits = 16, .level = 3.0 / 32768.0, .frequency_hz = 50.0, .noise = 0.2 / 32768.0},
    {.rate_hz = 192e3, .bits = 16, .level = 20.0 / 32768.0, .frequency_hz = 50.0, .noise = 0.5 / 32768.0},
    {.rate_hz = 192e3, .bits = 16, .level = 0.9, .frequency_hz = 20.0}, /* slow tones */
    {.rate_hz = 192e3, .bits = 16, .level = 0.9, .frequency_hz = 20.0, .dither = true},
    {.rate_hz = 2.5e6, .bits = 16, .level = 0.9, .frequency_hz = 20.0},
    {.rate_hz = 2.5e6, .bits = 0, .level = 0.9, .frequency_hz = 10.0, .noise = 1e-5},
    {.rate_hz = 192e3, .bits = 16, .level = 0.9, .frequency_hz = 50.0005}, /* nearly periodic */
    {.rate_hz = 48e3, .bits = 16, .level = 0.9, .frequency_hz = 1000.0},   /* periodic */
    {.rate_hz = 48e3, .bits = 24, .level = 0.9, .frequency_hz = 1000.01},
    {.rate_hz = 48e3, .bits = 16, .level = 0.5, .frequency_hz = 12000.0},
    {.rate_hz = 48e3, .bits = 24, .level = 0.5, .frequency_hz = 23.0, .offset = 0.3, .noise = 1e-6},
    {.rate_hz = 1e6, .bits = 8, .level = 0.8, .frequency_hz = 1000.0, .noise = 0.003}, /* oscilloscope */
    {.rate_hz = 1e6, .bits = 8, .level = 0.8, .frequency_hz = 50.0},
};

static void check_clean(const double *x, size_t n, const struct channel *channel, int container, bool in_volts,
                        size_t number, uint64_t seed)
{
    struct lds_health_result result = look(x, n, channel->rate_hz, container, in_volts, 0);
    if (result.clipped || result.gaps)
        print_error("case %zu, seed %llu: %d clipped, %d gaps, first %s at %.0f, %g samples\n", number,
                    (unsigned long long)seed, (int)result.clipped, (int)result.gaps, result.problem[0].kind,
                    result.problem[0].at_s * channel->rate_hz, result.problem[0].samples);
    assert_int_equal(result.clipped, 0);
    assert_int_equal(result.gaps, 0);
    free(result.problem);
}

static void nothing_found_in_honest_captures(void **state)
{
    (void)state;
    const size_t n = 1 << 18;
    for (size_t c = 0; c < sizeof honest / sizeof *honest; c++)
        for (uint64_t seed = 100; seed < 103; seed++) {
            double *x = make(&honest[c], n, seed);
            check_clean(x, n, &honest[c], honest[c].bits, false, c, seed);
            check_clean(x, n, &honest[c], 0, false, c, seed);
            /* The same as volts in text: a step of 0.04 V that no power of two divides. */
            for (size_t i = 0; i < n; i++)
                x[i] = honest[c].bits ? 0.04 * x[i] * ldexp(1.0, honest[c].bits - 1) : 5.0 * x[i];
            check_clean(x, n, &honest[c], 0, true, c, seed);
            free(x);
        }
}

static void nothing_found_in_dithered_tones(void **state)
{
    (void)state;
    const size_t n = 1 << 16;
    struct sim_random random;
    sim_random_seed(&random, 7);
    for (uint64_t seed = 0; seed < 150; seed++) {
        struct channel channel = {.bits = 8 * (1 + (int)(sim_random_uniform(&random) * 3.0)), .dither = true};
        channel.rate_hz = sim_random_log_between(&random, 8e3, 2.5e6);
        channel.frequency_hz = sim_random_log_between(&random, 5.0, 0.45 * channel.rate_hz);
        channel.level = sim_random_log_between(&random, ldexp(1.0, -channel.bits), 0.98);
        double *x = make(&channel, n, 1000 + seed);
        check_clean(x, n, &channel, channel.bits, false, 0, seed);
        free(x);
    }
}

static void zeros_that_are_no_gap(void **state)
{
    (void)state;
    const size_t n = 1 << 18;
    /* The dead zone of an output stage without bias: a slow tone stays at zero for 30 samples, and leaves it in
     * steps. */
    struct channel channel = {.rate_hz = 192e3, .bits = 16, .level = 0.9, .frequency_hz = 20.0};
    double *x = make(&channel, n, 10);
    for (size_t i = 0; i < n; i++)
        x[i] = quantise(x[i] > 0.01 ? x[i] - 0.01 : x[i] < -0.01 ? x[i] + 0.01 : 0.0, 16);
    check_clean(x, n, &channel, 16, false, 0, 10);
    free(x);
    /* Noise of 4 steps is at zero with a probability of 0.1: 8 times in a row may be chance, 40 times is not. */
    struct channel noise = {.rate_hz = 192e3, .bits = 16, .noise = 4.0 / 32768.0};
    x = make(&noise, n, 11);
    memset(x + 5000, 0, 8 * sizeof *x);
    check_clean(x, n, &noise, 16, false, 1, 11);
    memset(x + 6000, 0, 40 * sizeof *x);
    struct lds_health_result result = look_at(x, n, &noise);
    assert_int_equal(result.gaps, 1);
    free(result.problem);
    free(x);
}

/* A largest value held before the signal began is not clipping. */
static void an_extreme_that_is_passed(void **state)
{
    (void)state;
    struct channel channel = {.rate_hz = 48e3, .bits = 24, .level = 0.5, .frequency_hz = 997.0, .noise = 1e-5};
    const size_t n = 48000;
    double *x = make(&channel, n, 12);
    for (size_t i = 0; i < 5000; i++)
        x[i] = 0.125;
    for (size_t i = 5000; i < 9000; i++)
        x[i] = quantise(0.1 * x[i] - 0.2, 24);
    check_clean(x, n, &channel, 24, false, 0, 12);
    free(x);
}

static void cubes_tell_channels_apart(void **state)
{
    (void)state;
    const size_t n = 30000;
    struct channel channel = {.rate_hz = 48e3, .bits = 24, .level = 0.5, .frequency_hz = 997.0, .noise = 1e-5};
    double *x = make(&channel, n, 8);
    struct lds_health_result first = look_at(x, n, &channel), again = look_at(x, n, &channel);
    assert_true(first.sum_cubes == again.sum_cubes);
    x[12345] += 0x1p-23;
    struct lds_health_result other = look_at(x, n, &channel);
    assert_true(first.sum_cubes != other.sum_cubes);
    for (size_t i = 0; i < n; i++)
        x[i] = -x[i];
    struct lds_health_result inverse = look_at(x, n, &channel);
    assert_true(inverse.sum_cubes == -other.sum_cubes);
    free(first.problem);
    free(again.problem);
    free(other.problem);
    free(inverse.problem);
    free(x);
}

static void lists_the_first_and_counts_all(void **state)
{
    (void)state;
    struct channel channel = {.rate_hz = 48e3, .bits = 16, .level = 1.5, .frequency_hz = 1000.0};
    const size_t n = 48000;
    double *x = make(&channel, n, 9);
    struct lds_health_result result = look_at(x, n, &channel);
    assert_in_range(result.clipped, 1998, 2001);
    assert_int_equal(result.problems, LDS_HEALTH_LISTED);
    for (size_t i = 1; i < result.problems; i++)
        assert_true(result.problem[i].at_s >= result.problem[i - 1].at_s);
    assert_true(result.problem[LDS_HEALTH_LISTED - 1].at_s < 0.14);
    free(result.problem);
    free(x);
}

static void nothing_pushed(void **state)
{
    (void)state;
    struct lds_health_result result = look(NULL, 0, 48e3, 16, false, 0);
    assert_int_equal(result.samples, 0);
    assert_true(isnan(result.mean) && isnan(result.rms));
    assert_false(result.constant);
    free(result.problem);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sums_hold_beside_an_offset),
        cmocka_unit_test(pieces_do_not_matter),
        cmocka_unit_test(bits_really_used),
        cmocka_unit_test(a_dead_channel_is_constant),
        cmocka_unit_test(runs_at_full_scale),
        cmocka_unit_test(flat_tops_below_full_scale),
        cmocka_unit_test(dropouts_to_zero),
        cmocka_unit_test(repeated_blocks),
        cmocka_unit_test(nothing_found_in_honest_captures),
        cmocka_unit_test(nothing_found_in_dithered_tones),
        cmocka_unit_test(zeros_that_are_no_gap),
        cmocka_unit_test(an_extreme_that_is_passed),
        cmocka_unit_test(cubes_tell_channels_apart),
        cmocka_unit_test(lists_the_first_and_counts_all),
        cmocka_unit_test(nothing_pushed),
    };
    return cmocka_run_group_tests_name("health", tests, NULL, NULL);
}
