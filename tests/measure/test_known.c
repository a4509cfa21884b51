/* Stated sweeps and noise are found in a capture: delay, clock and polarity against what was put in. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "loadside/measure.h"
#include "measure/known/follow.h"
#include "measure/known/resample.h"
#include "measure/known/search.h"
#include "simulate/random.h"

struct scene {
    enum lds_signal_kind kind;
    double from_hz, to_hz, seconds;
    int repeats, rate_hz;
    double delay_s, ppm, gain, noise;
};

static struct lds_signal_spec make_spec(const struct scene *scene)
{
    struct lds_signal_spec spec;
    lds_signal_spec_init(&spec, scene->kind);
    spec.rate_hz = scene->rate_hz;
    spec.seconds = scene->seconds;
    spec.repeats = scene->repeats;
    if (scene->kind == LDS_SIGNAL_SWEEP) {
        spec.frequency_hz[0] = scene->from_hz;
        spec.frequency_hz[1] = scene->to_hz;
    }
    assert_int_equal(lds_signal_spec_check(&spec, NULL), LDS_OK);
    return spec;
}

/* What a recorder with a clock of its own captures, with a hum and noise. */
static double *make_capture(const struct scene *scene, const struct lds_signal_spec *spec, size_t *frames,
                            struct sim_random *random)
{
    const double ratio = 1.0 + 1e-6 * scene->ppm, rate_hz = scene->rate_hz;
    const int64_t proper = lds_signal_proper(spec);
    struct lds_player *player = lds_player_new(spec);
    *frames = (size_t)((scene->delay_s + 1.0) * rate_hz + (double)proper * ratio);
    double *x = malloc(*frames * sizeof *x);
    if (scene->kind == LDS_SIGNAL_NOISE) {
        double *played = malloc((size_t)proper * sizeof *played);
        lds_player_render(player, 0, (size_t)proper, played);
        lds_resample(played, (size_t)proper, -scene->delay_s * rate_hz / ratio, 1.0 / ratio, *frames, x);
        free(played);
    } else {
        lds_player_render_at(player, -scene->delay_s / ratio, 1.0 / (rate_hz * ratio), *frames, x);
    }
    for (size_t i = 0; i < *frames; i++)
        x[i] = scene->gain * x[i] + scene->noise * sim_random_gaussian(random) +
               0.1 * scene->noise * sin(2.0 * M_PI * 50.0 * (double)i / rate_hz);
    lds_player_free(player);
    return x;
}

static void find(const struct scene *scene, uint64_t seed)
{
    struct sim_random random;
    sim_random_seed(&random, seed);
    const struct lds_signal_spec spec = make_spec(scene);
    size_t frames;
    double *x = make_capture(scene, &spec, &frames, &random);
    struct lds_known known = {.spec = &spec};
    struct lds_search *search = lds_search_new(&spec, scene->rate_hz);
    assert_non_null(search);
    assert_true(lds_search_push(search, x, frames));
    lds_search_finish(search, &known.begin, &known.match);
    lds_search_free(search);
    const double truth = scene->delay_s * scene->rate_hz;
    print_message("seed %d %s %g-%g Hz %g s x%d: match %.3f, off by %.2f ms; ", (int)seed, lds_signal_name(scene->kind),
                  scene->from_hz, scene->to_hz, scene->seconds, scene->repeats, known.match,
                  1e3 * (known.begin - truth) / scene->rate_hz);
    const struct lds_stretch stretch = {x, frames, 0.0, scene->rate_hz};
    assert_true(scene->kind == LDS_SIGNAL_NOISE ? lds_follow_noise(&stretch, &known)
                                                : lds_follow_sweep(&stretch, &known));
    print_message("then %.5f frames (u %.5f), %.4f ppm (u %.4f), share %.3f\n", known.begin - truth, known.u_begin,
                  known.clock_ppm - scene->ppm, known.u_clock_ppm, known.match);
    assert_true(known.found);
    assert_int_equal(known.inverted, scene->gain < 0.0);
    assert_true(fabs(known.clock_ppm - scene->ppm) < (scene->noise < 1e-3 * fabs(scene->gain) ? 0.1 : 1.0));
    assert_true(fabs(known.clock_ppm - scene->ppm) < 4.0 * known.u_clock_ppm + 1e-6);
    assert_true(fabs(known.begin - truth) < 4.0 * known.u_begin + 1e-4);
    free(x);
}

static void test_sweeps(void **state)
{
    (void)state;
    const struct scene scenes[] = {
        {LDS_SIGNAL_SWEEP, 20.0, 20e3, 5.0, 1, 48000, 0.7312345, 150.0, 0.3, 1.5e-4},
        {LDS_SIGNAL_SWEEP, 5.0, 40e3, 10.0, 1, 96000, 2.2, -199.0, -0.3, 1.5e-4},
        {LDS_SIGNAL_SWEEP, 10.0, 20e3, 3.0, 3, 48000, 0.05, 42.0, 0.01, 5e-6},
        {LDS_SIGNAL_SWEEP, 20.0, 20e3, 20.0, 1, 48000, 0.7312345, 200.0, 0.3, 0.03},
        {LDS_SIGNAL_NOISE, 0.0, 0.0, 5.0, 1, 48000, 1.2345, 180.0, 0.3, 1.5e-5},
        {LDS_SIGNAL_NOISE, 0.0, 0.0, 10.0, 1, 44100, 0.2345, -180.0, -0.3, 3e-3},
    };
    for (size_t i = 0; i < sizeof scenes / sizeof *scenes; i++)
        find(&scenes[i], i + 1);
}

/* Silence around a stated tone, and its fades, are left out of its figures. */
static void test_steady_part(void **state)
{
    (void)state;
    enum { RATE = 48000, N = 3 * RATE };
    struct lds_measure_options options;
    struct lds_measurement m;
    struct lds_capture *capture;
    struct sim_random random;
    double *x = malloc(N * sizeof *x);
    sim_random_seed(&random, 11);
    lds_measure_options_init(&options);
    lds_signal_spec_init(&options.known, LDS_SIGNAL_SINE);
    options.known.seconds = 1.5;
    options.known.level_dbfs = -6.0;
    assert_int_equal(lds_signal_spec_check(&options.known, NULL), LDS_OK);
    struct lds_player *player = lds_player_new(&options.known);
    lds_player_render_at(player, -0.7, 1.0 / RATE, N, x);
    lds_player_free(player);
    for (size_t i = 0; i < N; i++)
        x[i] += 1e-5 * sim_random_gaussian(&random);
    assert_int_equal(lds_capture_from_memory(x, N, 1, RATE, &capture, NULL), LDS_OK);
    assert_int_equal(lds_measure(capture, &options, &m, NULL), LDS_OK);
    const struct lds_figure *level = lds_channel_find(&m.channel[0], LDS_FIGURE_TONE_LEVEL);
    assert_true(level && fabs(level->value + 6.0) < 2e-3 && level->low <= -6.0 && level->high >= -6.0);
    assert_true(fabs(m.channel[0].signal.delay_s - 0.7) < 1e-5);
    assert_int_equal(m.frames, N);
    lds_measurement_free(&m);
    assert_int_equal(lds_measure(capture, &options, &m, NULL), LDS_OK); /* the capture is whole again */
    lds_measurement_free(&m);
    lds_capture_close(capture);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_sweeps), cmocka_unit_test(test_steady_part)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
