/* The tracked fundamental and its harmonics on signals whose content is known. */
#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "measure/signal/scout.h"
#include "measure/tone/harmonics.h"
#include "measure/tone/tracker.h"
#include "simulate/signals.h"

static const double RATE_HZ = 48e3;
enum { N = 480000 };

static void track(const double *x, double tone_hz, struct lds_track *result)
{
    struct lds_tracker *tracker = lds_tracker_new(RATE_HZ, N / RATE_HZ, tone_hz);
    assert_non_null(tracker);
    for (size_t at = 0; at < N; at += 4801)
        assert_true(lds_tracker_push(tracker, x + at, N - at < 4801 ? N - at : 4801));
    assert_true(lds_tracker_finish(tracker, 0.0, result));
    assert_true(lds_tracker_wander(tracker, 0.0, result));
    lds_tracker_free(tracker);
}

static void test_steady(void **state)
{
    (void)state;
    const double tones[] = {20.3, 49.7, 997.0, 1000.0, 17123.4};
    for (size_t i = 0; i < sizeof tones / sizeof tones[0]; i++) {
        double *x = sim_samples(N);
        sim_add_tone(x, N, RATE_HZ, &(struct sim_tone){.frequency_hz = tones[i], .level = 0.5, .phase_rad = 1.0});
        struct lds_track t;
        track(x, tones[i] + 0.002, &t);
        assert_true(t.usable);
        assert_true(fabs(t.frequency_hz / tones[i] - 1.0) < 1e-9);
        assert_true(fabs(t.level / 0.5 - 1.0) < 1e-7);
        assert_true(fabs(t.drift_db) < 1e-6);
        assert_int_equal(t.suspects, 0);
        lds_track_free(&t);
        free(x);
    }
}

static void test_drift_and_wander(void **state)
{
    (void)state;
    double *x = sim_samples(N);
    sim_add_tone(
        x, N, RATE_HZ,
        &(struct sim_tone){
            .frequency_hz = 1000.0, .level = 0.5, .swing_ppm = 5.0, .swing_periods = 2.0, .drift_db_per_min = 0.6});
    struct lds_track t;
    track(x, 1000.0, &t);
    assert_true(fabs(t.drift_db - 0.1) < 0.001);
    /* The level is 0.5 at mid-capture, though the frames end before the capture; its mean square is sinh(d)/d of that.
     */
    const double d = 0.1 * M_LN10 / 20.0;
    assert_true(fabs(t.level / (0.5 * sqrt(sinh(d) / d)) - 1.0) < 1e-6);
    assert_true(fabs(t.wander_ppm - 10.0) < 0.1 && t.wander_u_ppm < 0.06);
    lds_track_free(&t);
    free(x);
}

/* Flutter of any rate up to 20 Hz and depth up to 1 %, and a steady creep, read their true values; a steady tone reads
 * nothing. */
static void test_wander(void **state)
{
    (void)state;
    const uint64_t seed = 23;
    struct sim_random random;
    sim_random_seed(&random, seed);
    for (int i = 0; i < 24; i++) {
        struct sim_tone tone = {.frequency_hz = 300.0 * pow(33.0, sim_random_uniform(&random)), .level = 0.5};
        double rate_hz = 0.5 * pow(40.0, sim_random_uniform(&random));
        double truth = i % 8 == 7 ? 0.0 : 20.0 * pow(1000.0, sim_random_uniform(&random));
        if (i % 4 == 3) {
            tone.creep_ppm = truth / 100.0;
            truth /= 100.0;
        } else {
            tone.swing_ppm = 0.5 * truth;
            tone.swing_periods = rate_hz * N / RATE_HZ;
        }
        double *x = sim_samples(N);
        sim_add_tone(x, N, RATE_HZ, &tone);
        sim_add_white(x, N, RATE_HZ, 0.5e-4 / sqrt(2e4), &random);
        struct lds_track t;
        track(x, tone.frequency_hz, &t);
        double off = fabs(t.wander_ppm - truth);
        if (!(off < 3.0 * t.wander_u_ppm) || !(t.wander_u_ppm < 0.006 * truth + 3.0) || t.suspects != 0)
            fail_msg("%g Hz by %g ppm at %g Hz: %g +- %g ppm, %zu jumps, seed %d", tone.frequency_hz, truth, rate_hz,
                     t.wander_ppm, t.wander_u_ppm, t.suspects, (int)seed);
        /* The phase leaves a line over half a second by up to its swing. */
        double swing = 0.5e-6 * truth * tone.frequency_hz / rate_hz;
        if (tone.swing_ppm > 0.0 && rate_hz > 2.0 && !(fabs(t.unfollowed_rad / (swing * M_SQRT1_2) - 1.0) < 0.2))
            fail_msg("%g Hz, swing %g rad at %g Hz: %g rad, seed %d", tone.frequency_hz, swing, rate_hz,
                     t.unfollowed_rad, (int)seed);
        lds_track_free(&t);
        free(x);
    }
}

/* Samples lost in the middle: one place to look at is found, within 20 ms, and no other figure is affected. */
static void test_jump(void **state)
{
    (void)state;
    double *x = sim_samples(N + 100);
    sim_add_tone(x, N + 100, RATE_HZ, &(struct sim_tone){.frequency_hz = 997.0, .level = 0.5});
    for (size_t i = 200000; i < N; i++)
        x[i] = x[i + 17];
    struct lds_track t;
    track(x, 997.0, &t);
    size_t near = 0;
    while (near < t.suspects && !(fabs(t.suspect[near].at_s - 200000 / RATE_HZ) < 0.02))
        near++;
    assert_true(near < t.suspects && t.suspects <= 2);
    assert_true(fabs(t.suspect[near].phase_rad - 2.0 * M_PI * 997.0 * 17 / RATE_HZ) < 0.05);
    assert_true(fabs(t.frequency_hz - 997.0) < 0.002);
    lds_track_free(&t);
    free(x);
}

struct bank {
    struct lds_harmonics *harmonics;
    int level;
};

static void on_frame(void *context, const struct lds_frame *frame)
{
    struct bank *bank = context;
    if (frame->level == bank->level)
        lds_harmonics_frame(bank->harmonics, frame);
}

/* A tone that creeps and drifts: its harmonics still read their true level and phase. */
static void test_harmonics(void **state)
{
    (void)state;
    struct sim_tone tone = {
        .frequency_hz = 997.3, .level = 0.5, .creep_ppm = 20.0, .drift_db_per_min = 1.0, .orders = 20};
    tone.relative[2] = 1e-3;
    tone.relative_rad[2] = M_PI;
    tone.relative[3] = 1e-7;
    tone.relative_rad[3] = 0.5;
    tone.relative[20] = 1e-5;
    double *x = sim_samples(N);
    sim_add_tone(x, N, RATE_HZ, &tone);
    struct lds_plan plan;
    assert_true(lds_plan_make(&plan, RATE_HZ, N, 997.3, 20e3));
    struct bank bank = {lds_harmonics_new(&plan.level[plan.audio], 997.31, 2, 20), plan.audio};
    struct lds_listener listener = {.context = &bank, .frame = on_frame};
    struct lds_cascade *cascade = lds_cascade_new(&plan, &listener);
    assert_non_null(cascade);
    lds_cascade_push(cascade, x, N);
    for (int k = 2; k <= 20; k++) {
        double complex got = lds_harmonics_mean(bank.harmonics, k) / 0.5;
        double complex put = tone.relative[k] * cexp(I * tone.relative_rad[k]);
        assert_true(cabs(got - put) < 2e-4 * cabs(put) + 2e-9);
    }
    lds_cascade_free(cascade);
    lds_harmonics_free(bank.harmonics);
    lds_plan_free(&plan);
    free(x);
}

static double scout(const double *x, bool in_volts, double given_hz)
{
    struct lds_scout result;
    const struct lds_scout_request request = {
        .rate_hz = RATE_HZ, .in_volts = in_volts, .volts_per_unit = in_volts ? 1.0 : NAN, .given_hz = given_hz};
    assert_true(lds_scout_look(x, 65536, &request, &result));
    assert_true(isnan(result.tone_hz) == (result.why[0] != '\0'));
    return result.tone_hz;
}

static void test_scout(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 3);
    double *x = sim_samples(65536);
    sim_add_white(x, 65536, RATE_HZ, 1e-7, &random);
    assert_true(isnan(scout(x, false, NAN))); /* noise alone */
    sim_add_mains(x, 65536, RATE_HZ,
                  &(struct sim_mains){.frequency_hz = 50.0, .orders = 3, .level = {0, 1e-3, 0, 2e-4}});
    assert_true(isnan(scout(x, false, NAN)));               /* hum is not a tone */
    assert_true(fabs(scout(x, false, 50.0) - 50.0) < 0.01); /* unless it is stated to be */
    sim_add_tone(x, 65536, RATE_HZ, &(struct sim_tone){.frequency_hz = 1234.567, .level = 1e-3});
    assert_true(fabs(scout(x, false, NAN) - 1234.567) < 0.005); /* -57 dBFS */
    assert_true(isnan(scout(x, false, 0.0)));
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_steady),    cmocka_unit_test(test_drift_and_wander),
                                       cmocka_unit_test(test_wander),    cmocka_unit_test(test_jump),
                                       cmocka_unit_test(test_harmonics), cmocka_unit_test(test_scout)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
