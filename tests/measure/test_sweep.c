/* Distortion over frequency from sweeps: where harmonics stand on orders of the mains; from sweeps that repeat; and of
 * chains that have none. Truth: sin^2 = (1 - cos 2)/2, sin^3 = (3 sin - sin 3)/4. */
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
#include "loadside/signal.h"
#include "measure/known/part_window.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, CAPTURES = 12 };
static const double SQUARE = 6e-4, CUBE = 8e-4;

/* Sums of the samples, one by one. */
static void the_window_and_its_transform(void **state)
{
    (void)state;
    const struct lds_part_window window = {3000, 800};
    for (double cycles = -0.02; cycles < 0.02; cycles += 0.000037) {
        double complex sum = 0.0;
        for (size_t i = 0; i < window.length; i++)
            sum += lds_part_window_at(&window, i) * cexp(I * 2.0 * M_PI * cycles * ((double)i - (double)window.before));
        const double complex transform = lds_part_window_transform(&window, cycles);
        assert_true(cabs(sum - transform) < 1e-3 * (double)window.length);
        assert_true(cabs(sum) <= 1.001 * lds_part_window_bound(&window, cycles) + 1e-3);
    }
    assert_true(fabs(lds_part_window_bound(&window, 0.0) - 2700.0) < 1e-9);
}

struct scene {
    double from_hz, to_hz, seconds;
    int repeats;
    double square, cube, hum, noise;
};

/* A sweep through a curve with a square and a cube, with noise, and with hum whose frequency wanders. */
static void measure_sweep(const struct scene *scene, uint64_t seed, struct lds_measurement *m)
{
    struct lds_measure_options options;
    struct sim_random random;
    sim_random_seed(&random, seed);
    sim_options_init(&options);
    options.bench.play_full_scale_v = 1.0;
    lds_signal_spec_init(&options.known, LDS_SIGNAL_SWEEP);
    options.known.seconds = scene->seconds;
    options.known.repeats = scene->repeats;
    options.known.level_dbfs = -6.0;
    options.known.frequency_hz[0] = scene->from_hz;
    options.known.frequency_hz[1] = scene->to_hz;
    assert_int_equal(lds_signal_spec_check(&options.known, NULL), LDS_OK);
    const size_t n = (size_t)((scene->repeats * scene->seconds + 2.5) * RATE);
    double *x = sim_samples(n);
    struct lds_player *player = lds_player_new(&options.known);
    lds_player_render_at(player, -0.6, 1.0 / RATE, n, x);
    lds_player_free(player);
    const double curve[] = {0.0, 1.0, scene->square, scene->cube};
    sim_polynomial(x, n, curve, 4);
    struct sim_mains mains = {.frequency_hz = 49.98 + 0.04 * sim_random_uniform(&random),
                              .wander_hz = 0.01,
                              .wander_periods = 0.7,
                              .orders = 40};
    for (int k = 1; k <= mains.orders; k++) {
        mains.level[k] = scene->hum / k;
        mains.phase_rad[k] = 2.0 * M_PI * sim_random_uniform(&random);
    }
    sim_add_mains(x, n, RATE, &mains);
    sim_add_white(x, n, RATE, scene->noise, &random);
    sim_measure(x, n, RATE, &options, m);
    free(x);
}

struct count {
    int points, held, known, flagged;
    double off_db; /* sum of the values' errors */
};

static double truth_db(void)
{
    const double peak = pow(10.0, -6.0 / 20.0), first = peak + 0.75 * CUBE * pow(peak, 3.0);
    return 20.0 * log10(hypot(0.5 * SQUARE * peak * peak, 0.25 * CUBE * pow(peak, 3.0)) / first);
}

static void look_at(const struct lds_measurement *m, struct count *count, int *at_100_flagged)
{
    const double truth = truth_db();
    const struct lds_series *thd = lds_channel_series(&m->channel[0], "distortion.by_frequency.thd");
    assert_true(thd->rows > 60);
    for (size_t i = 0; i < thd->rows; i++) {
        const struct lds_cell cell = lds_series_cell(thd, i, 1);
        const double hz = lds_series_value(thd, i, 0);
        if (hz < 45.0 || hz > 6e3)
            continue;
        count->points++;
        count->known += !isnan(cell.value);
        count->off_db += isnan(cell.value) ? 0.0 : cell.value - truth;
        count->held += !(cell.low > truth) && !(cell.high < truth);
        count->flagged += (lds_series_flags(thd, i) & LDS_FLAG_NEAR_LINE) != 0;
    }
    *at_100_flagged += (sim_figure(m, "thd.at.100")->flags & LDS_FLAG_NEAR_LINE) != 0;
}

static void distortion_under_hum(void **state)
{
    (void)state;
    static const double hums[] = {0.0, 3e-6, 3e-5, 1e-3};
    for (size_t h = 0; h < sizeof hums / sizeof *hums; h++) {
        struct count count = {0};
        int at_100 = 0;
        for (uint64_t seed = 1; seed <= CAPTURES; seed++) {
            struct lds_measurement m;
            const struct scene scene = {10.0, 7e3, 6.0, 1, SQUARE, CUBE, hums[h], 1e-7};
            measure_sweep(&scene, seed, &m);
            look_at(&m, &count, &at_100);
            lds_measurement_free(&m);
        }
        print_message("hum %g: %d points, %.1f %% held, %.1f %% known, %.1f %% near a line; 100 Hz near one in %d\n",
                      hums[h], count.points, 100.0 * count.held / count.points, 100.0 * count.known / count.points,
                      100.0 * count.flagged / count.points, at_100);
        assert_true(count.held >= 0.93 * count.points);
        if (h == 0)
            assert_true(count.flagged == 0 && at_100 == 0 && count.known == count.points);
        else
            assert_int_equal(at_100, CAPTURES);
        if (h == 1)
            assert_true(count.known == count.points);
        if (h == 2)
            assert_true(count.known >= 0.8 * count.points);
    }
}

/* Two and three sweeps in a row give the same results as one. */
static void repeats(void **state)
{
    (void)state;
    int clocks = 0; /* whose interval holds the truth: player and recorder share it */
    for (int count = 1; count <= 3; count++) {
        struct count points = {0};
        int at_100 = 0;
        for (uint64_t seed = 1; seed <= CAPTURES / 2; seed++) {
            const struct scene scene = {10.0, 7e3, 4.0, count, SQUARE, CUBE, 0.0, 1e-7};
            struct lds_measurement m;
            measure_sweep(&scene, seed, &m);
            assert_true(fabs(sim_value(&m, "gain")) < 0.003); /* the cube's share of the fundamental is 0.0013 dB */
            assert_true(fabs(sim_value(&m, "thd.at.1k") - truth_db()) < 0.3);
            look_at(&m, &points, &at_100);
            const struct lds_figure *clock = sim_figure(&m, "signal.clock");
            clocks += clock->low <= 0.0 && clock->high >= 0.0;
            lds_measurement_free(&m);
        }
        print_message("%d in a row: %d points, %.1f %% held\n", count, points.points,
                      100.0 * points.held / points.points);
        assert_true(points.held >= 0.93 * points.points);
        assert_true(fabs(points.off_db / points.points) < 0.1);
    }
    print_message("%d of %d clocks held\n", clocks, 3 * CAPTURES / 2);
    assert_true(clocks >= 0.75 * 3 * CAPTURES / 2);
}

/* What the method itself leaves in a chain without distortion is not taken for distortion. */
static void no_distortion(void **state)
{
    (void)state;
    static const struct scene scenes[] = {{10.0, 7e3, 4.0, 1, 0.0, 0.0, 0.0, 1e-10},
                                          {5.0, 20e3, 10.0, 1, 0.0, 0.0, 0.0, 1e-10},
                                          {2.0, 10e3, 15.0, 1, 0.0, 0.0, 0.0, 1e-10},
                                          {20.0, 20e3, 3.0, 1, 0.0, 0.0, 0.0, 1e-10},
                                          {50.0, 10e3, 4.0, 1, 0.0, 0.0, 0.0, 1e-10}};
    size_t points = 0, found = 0;
    for (size_t i = 0; i < sizeof scenes / sizeof *scenes; i++) {
        struct lds_measurement m;
        measure_sweep(&scenes[i], i + 1, &m);
        for (int order = 2; order <= 9; order++) {
            char key[48];
            snprintf(key, sizeof key, "distortion.by_frequency.order%d", order);
            const struct lds_series *series = lds_channel_series(&m.channel[0], key);
            points += series->rows;
            for (size_t r = 0; r < series->rows; r++)
                found += isnan(lds_series_value(series, r, 1)) ? 0 : 1;
        }
        lds_measurement_free(&m);
    }
    print_message("without distortion: %zu of %zu points found\n", found, points);
    assert_true((double)found < 0.03 * (double)points); /* noise alone passes once in a hundred */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_window_and_its_transform),
                                       cmocka_unit_test(distortion_under_hum), cmocka_unit_test(repeats),
                                       cmocka_unit_test(no_distortion)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
