/* What is played, against closed forms: levels (AES17: a sine of 0 dBFS has a peak of full scale), the frequency of a
 * sweep, edges, length, and the lines of noise. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>

#include "loadside/signal.h"
#include "spectrum/fft.h"

static struct lds_signal_spec checked(struct lds_signal_spec spec)
{
    struct lds_error error;
    if (lds_signal_spec_check(&spec, &error))
        fail_msg("%s", error.message);
    return spec;
}

static struct lds_signal_spec of_kind(enum lds_signal_kind kind)
{
    struct lds_signal_spec spec;
    lds_signal_spec_init(&spec, kind);
    return spec;
}

static bool is_made(int kind)
{
    return lds_signal_stated((enum lds_signal_kind)kind) == LDS_STATED_BY_FILE;
}

/* Of time, and not silence. */
static bool is_function(int kind)
{
    return is_made(kind) && kind != LDS_SIGNAL_NOISE && kind != LDS_SIGNAL_SILENCE;
}

/* All samples of the signal proper; to be freed. */
static double *rendered(const struct lds_signal_spec *spec)
{
    const size_t count = (size_t)lds_signal_proper(spec);
    double *x = malloc(count * sizeof *x);
    struct lds_player *player = lds_player_new(spec);
    assert_true(x && player);
    lds_player_render(player, 0, count, x);
    lds_player_free(player);
    return x;
}

static double rms(const double *x, size_t count)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++)
        sum += x[i] * x[i];
    return sqrt(sum / (double)count);
}

static double highest(const double *x, size_t count)
{
    double peak = 0.0;
    for (size_t i = 0; i < count; i++)
        peak = fmax(peak, fabs(x[i]));
    return peak;
}

static void close_db(double value, double wanted, double db)
{
    if (!(fabs(20.0 * log10(value / wanted)) < db))
        fail_msg("%.9g instead of %.9g", value, wanted);
}

static void levels(void **state)
{
    (void)state;
    struct lds_signal_spec sine = of_kind(LDS_SIGNAL_SINE);
    sine.level_dbfs = -7.0;
    sine = checked(sine);
    double *x = rendered(&sine);
    close_db(rms(x + sine.rate_hz, 8 * (size_t)sine.rate_hz), pow(10.0, -7.0 / 20.0) * M_SQRT1_2, 1e-9);
    free(x);

    struct lds_signal_spec two = of_kind(LDS_SIGNAL_TWO_TONE);
    two.frequency_hz[0] = 60.0;
    two.frequency_hz[1] = 7000.0;
    two.ratio = 4.0;
    two.level_dbfs = 0.0;
    two = checked(two);
    x = rendered(&two);
    close_db(rms(x + two.rate_hz, 8 * (size_t)two.rate_hz), sqrt(0.5 * (0.8 * 0.8 + 0.2 * 0.2)), 1e-9);
    const double most = highest(x, (size_t)lds_signal_proper(&two));
    assert_true(most <= 1.0);
    close_db(most, 1.0, 0.02);
    free(x);
}

/* From low to high, from high to low, and back. */
static void steps(void **state)
{
    (void)state;
    for (int way = 0; way < 4; way++) {
        struct lds_signal_spec spec = of_kind(LDS_SIGNAL_STAIRCASE);
        spec.level_dbfs = way & 1 ? -10.0 : -40.0;
        spec.to_dbfs = way & 1 ? -40.0 : -10.0;
        spec.step_db = 7.0; /* does not divide 30 dB: the steps end at the last one that is not beyond the limit */
        spec.hold_s = 0.25;
        spec.and_back = way & 2;
        spec.frequency_hz[0] = 1000.0;
        spec = checked(spec);
        const int wanted[] = {5, 5, 9, 9};
        assert_int_equal(lds_signal_steps(&spec), wanted[way]);
        assert_int_equal(lds_signal_proper(&spec), wanted[way] * 12000);
        double *x = rendered(&spec);
        for (int i = 0; i < wanted[way]; i++) {
            const double up = 7.0 * (i > 4 ? 8 - i : i), dbfs = way & 1 ? -10.0 - up : -40.0 + up;
            assert_true(fabs(lds_signal_step_dbfs(&spec, i) - dbfs) < 1e-9);
            close_db(rms(x + i * 12000 + 2400, 4800), pow(10.0, dbfs / 20.0) * M_SQRT1_2, 1e-9);
        }
        free(x);
    }
}

/* No step between samples is larger than the slopes of the tone and of a fade explain. */
static void nothing_clicks(void **state)
{
    (void)state;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        if (!is_function(kind))
            continue;
        struct lds_signal_spec spec = of_kind((enum lds_signal_kind)kind);
        spec.rate_hz = 192000;
        spec.seconds = 2.003;
        spec.repeats = kind == LDS_SIGNAL_SWEEP ? 2 : 1;
        if (kind == LDS_SIGNAL_STAIRCASE) {
            spec.step_db = 39.0;
            spec.hold_s = 0.2501;
        }
        spec = checked(spec);
        const size_t count = (size_t)lds_signal_proper(&spec);
        const double peak = pow(10.0, (kind == LDS_SIGNAL_STAIRCASE ? -1.0 : spec.level_dbfs) / 20.0);
        const double hz = kind == LDS_SIGNAL_TWO_TONE || kind == LDS_SIGNAL_SWEEP ? 20000.0 : spec.frequency_hz[0];
        const double fade = fmin(spec.fade_in_s, spec.fade_out_s);
        const double most = peak * (2.0 * M_PI * hz + 0.5 * M_PI / fade) / spec.rate_hz;
        double *x = rendered(&spec);
        assert_true(x[0] == 0.0 && fabs(x[count - 1]) < most);
        for (size_t i = 1; i < count; i++)
            if (fabs(x[i] - x[i - 1]) > most)
                fail_msg("kind %d: %g at sample %zu", kind, x[i] - x[i - 1], i);
        free(x);
    }
}

/* The frequency, from the time between zeros, is from (to/from)^(t/seconds). */
static void law_of_a_sweep(void **state)
{
    (void)state;
    struct lds_signal_spec spec = of_kind(LDS_SIGNAL_SWEEP);
    spec.rate_hz = 192000;
    spec.frequency_hz[1] = 5000.0;
    spec.seconds = 4.0;
    spec.repeats = 2;
    spec = checked(spec);
    double *x = rendered(&spec);
    for (size_t repeat = 0; repeat < 2; repeat++) {
        double before = 0.0;
        const double *at = x + repeat * 4 * 192000;
        size_t zeros = 0;
        for (size_t i = 1; i + 200 < 4 * 192000; i++) {
            if ((at[i] < 0.0) == (at[i + 1] < 0.0))
                continue;
            const double zero = ((double)i + at[i] / (at[i] - at[i + 1])) / spec.rate_hz;
            /* half a cycle took this long; L (e^(b/L) - e^(a/L)) from = 1/2 */
            const double l = spec.seconds / log(1000.0);
            const double turns = 5.0 * l * (exp(zero / l) - exp(before / l));
            if (!(fabs(turns / 0.5 - 1.0) < 0.002))
                fail_msg("%g turns between zeros at %g s and %g s", turns, before, zero);
            before = zero;
            zeros++;
        }
        /* all half cycles: 2 from L (to/from - 1), less the few beyond the end of the loop */
        assert_true(fabs((double)zeros - 10.0 * 4.0 / log(1000.0) * 999.0) < 15.0);
    }
    free(x);
}

/* A sweep has power from the beginning: it reaches full level within the first cycle of its first frequency. */
static void a_sweep_begins_at_once(void **state)
{
    (void)state;
    struct lds_signal_spec spec = checked(of_kind(LDS_SIGNAL_SWEEP));
    assert_true(spec.fade_in_s <= 0.5 / spec.frequency_hz[0] && spec.fade_out_s < 0.005);
    double *x = rendered(&spec);
    assert_true(highest(x, (size_t)(0.2 * spec.rate_hz)) > 0.99 * pow(10.0, -3.0 / 20.0));
    free(x);
}

/* With a clock of its own a recorder sees the same function of time, also where the sweep is computed step by step. */
static void at_another_clock(void **state)
{
    (void)state;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        if (!is_function(kind))
            continue;
        struct lds_signal_spec spec = of_kind((enum lds_signal_kind)kind);
        spec.hold_s = kind == LDS_SIGNAL_STAIRCASE ? 0.1 : spec.hold_s;
        spec = checked(spec);
        struct lds_player *player = lds_player_new(&spec);
        enum { COUNT = 5000 };
        double x[COUNT], one;
        const double step_s = 1.0 / spec.rate_hz / (1.0 + 200e-6);
        for (double first_s = -0.01; first_s < spec.seconds + 0.1; first_s += 0.731) {
            lds_player_render_at(player, first_s, step_s, COUNT, x);
            for (int i = 0; i < COUNT; i += 37) {
                lds_player_render_at(player, first_s + i * step_s, 1.0, 1, &one);
                if (!(fabs(x[i] - one) < 1e-9))
                    fail_msg("kind %d, %g s: %g instead of %g", kind, first_s + i * step_s, x[i], one);
            }
        }
        lds_player_render_at(player, 0.0, 1.0 / spec.rate_hz, COUNT, x);
        double y[COUNT];
        lds_player_render(player, 0, COUNT, y);
        for (int i = 0; i < COUNT; i++)
            assert_true(fabs(x[i] - y[i]) < 1e-9);
        lds_player_free(player);
    }
}

static void a_burst_begins_on(void **state)
{
    (void)state;
    struct lds_signal_spec spec = of_kind(LDS_SIGNAL_BURST);
    spec.on_s = 0.05;
    spec.off_s = 0.2;
    spec.seconds = 1.02; /* the fifth burst is cut short */
    spec = checked(spec);
    double *x = rendered(&spec);
    const double peak = pow(10.0, -3.0 / 20.0);
    for (size_t burst = 0; burst < 4; burst++) {
        assert_true(highest(x + burst * 12000, 2400) > 0.99 * peak);
        assert_true(highest(x + burst * 12000 + 2401, 9599) == 0.0);
    }
    assert_true(highest(x + 48000, 960) > 0.99 * peak && fabs(x[48959]) < 0.01);
    free(x);
}

/* Lines of equal amplitude, or of one that falls with the root of frequency; the rest of the spectrum is empty. */
static void noise(void **state)
{
    (void)state;
    for (int pink = 0; pink < 2; pink++)
        for (int seed = 1; seed < 4; seed++) {
            struct lds_signal_spec spec = of_kind(LDS_SIGNAL_NOISE);
            spec.seconds = 1.0;
            spec.level_dbfs = -6.0;
            spec.pink = pink;
            spec.seed = seed;
            spec = checked(spec);
            const int n = spec.period;
            assert_true(n >= 256 && (n & (n - 1)) == 0 && 6 * n <= lds_signal_proper(&spec));
            double *x = rendered(&spec), *period = fftw_alloc_real((size_t)n);
            for (int i = n; i + n + 240 < lds_signal_proper(&spec); i++)
                assert_true(x[i] == x[i + n]);
            double complex *line = fftw_alloc_complex((size_t)n / 2 + 1);
            fftw_plan plan = lds_fft_real(n, period, line);
            for (int i = 0; i < n; i++)
                period[i] = x[n + i];
            close_db(highest(period, (size_t)n), pow(10.0, -6.0 / 20.0), 1e-9);
            const double crest_db = 20.0 * log10(highest(period, (size_t)n) / rms(period, (size_t)n));
            if (!(crest_db < 7.5))
                fail_msg("pink %d, seed %d: a crest of %.2f dB", pink, seed, crest_db);
            fftw_execute(plan);
            for (int k = 2; k < n / 2; k++)
                close_db(cabs(line[k]) * (pink ? sqrt(k) : 1.0), cabs(line[1]), 1e-6);
            assert_true(cabs(line[0]) < 1e-9 * cabs(line[1]) && cabs(line[n / 2]) < 1e-9 * cabs(line[1]));
            lds_fft_free(plan);
            fftw_free(line);
            fftw_free(period);
            free(x);
        }
}

/* Another seed makes other noise; the same seed makes the same. */
static void seeds(void **state)
{
    (void)state;
    double first[3];
    for (int i = 0; i < 3; i++) {
        struct lds_signal_spec spec = of_kind(LDS_SIGNAL_NOISE);
        spec.seconds = 0.1;
        spec.seed = i == 2 ? 8 : 7;
        spec = checked(spec);
        double *x = rendered(&spec);
        first[i] = x[1000];
        free(x);
    }
    assert_true(first[0] == first[1] && first[0] != first[2]);
}

/* Lengths that are no whole number of samples, and what lies outside. */
/* Each kind that can be made plays, all but silence are heard, and nothing else has a player. */
static void what_is_made_plays(void **state)
{
    (void)state;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        struct lds_signal_spec spec = of_kind((enum lds_signal_kind)kind);
        if (!is_made(kind)) {
            assert_null(lds_player_new(&spec));
            continue;
        }
        spec = checked(spec);
        double *x = rendered(&spec);
        const double most = highest(x, (size_t)lds_signal_proper(&spec));
        assert_true(kind == LDS_SIGNAL_SILENCE ? most == 0.0 : most > 0.5);
        free(x);
    }
}

static void lengths(void **state)
{
    (void)state;
    struct lds_signal_spec spec = of_kind(LDS_SIGNAL_SWEEP);
    spec.rate_hz = 44100;
    spec.seconds = 1.00001;
    spec.repeats = 3;
    spec.lead_s = 0.12345;
    spec.tail_s = 0.0;
    spec = checked(spec);
    assert_int_equal(lds_signal_lead(&spec), 5444);     /* 5444.145 */
    assert_int_equal(lds_signal_proper(&spec), 132301); /* 132301.323 */
    assert_int_equal(lds_signal_frames(&spec), 137745); /* 137745.468 */
    struct lds_player *player = lds_player_new(&spec);
    double x[200];
    lds_player_render(player, -100, 100, x);
    assert_true(highest(x, 100) == 0.0);
    lds_player_render(player, 132301, 200, x);
    assert_true(highest(x, 200) == 0.0);
    lds_player_free(player);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels),
        cmocka_unit_test(steps),
        cmocka_unit_test(nothing_clicks),
        cmocka_unit_test(law_of_a_sweep),
        cmocka_unit_test(lengths),
        cmocka_unit_test(a_sweep_begins_at_once),
        cmocka_unit_test(noise),
        cmocka_unit_test(at_another_clock),
        cmocka_unit_test(seeds),
        cmocka_unit_test(a_burst_begins_on),
        cmocka_unit_test(what_is_made_plays),
    };
    return cmocka_run_group_tests_name("player", tests, NULL, NULL);
}
