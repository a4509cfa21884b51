/* The volts of a signal at the load and at the input, against Ohm's law. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#include "loadside/signal.h"

/* A player of 2 V peak into a gain of 20 (26.02 dB), 8 ohm; an input of 2 V behind 20:1. */
static struct lds_bench bench_of(double supply_v, double other_v)
{
    struct lds_bench bench;
    lds_bench_init(&bench);
    bench.play_full_scale_v = 2.0;
    bench.gain_db = 20.0 * log10(20.0);
    bench.load_ohm = 8.0;
    bench.full_scale_v = 2.0;
    bench.attenuation = 20.0;
    bench.supply_v[0] = supply_v;
    bench.supply_v[1] = other_v;
    return bench;
}

static struct lds_playback playback_of(enum lds_signal_kind kind, double dbfs, const struct lds_bench *bench)
{
    struct lds_signal_spec spec;
    struct lds_playback playback;
    lds_signal_spec_init(&spec, kind);
    if (kind == LDS_SIGNAL_STAIRCASE)
        spec.to_dbfs = dbfs;
    else
        spec.level_dbfs = dbfs;
    assert_int_equal(lds_signal_spec_check(&spec, NULL), LDS_OK);
    assert_true(lds_signal_playback(&spec, bench, &playback));
    return playback;
}

static void near(double value, double wanted)
{
    if (!(fabs(value - wanted) <= 1e-9 * fabs(wanted)))
        fail_msg("%.12g instead of %.12g", value, wanted);
}

static void volts(void **state)
{
    (void)state;
    const struct lds_bench bench = bench_of(NAN, NAN);
    const enum lds_signal_kind of_sine[] = {LDS_SIGNAL_SINE, LDS_SIGNAL_SWEEP, LDS_SIGNAL_STAIRCASE, LDS_SIGNAL_BURST};
    for (int i = 0; i < 4; i++) {
        const struct lds_playback p = playback_of(of_sine[i], -20.0, &bench);
        near(p.peak_v, 4.0);
        near(p.rms_v, 4.0 / sqrt(2.0));
        near(p.watts, 1.0);
        near(p.input_v, 0.2);
        near(p.takes_v, 40.0);
        assert_true(isnan(p.rail_v) && p.fits_input && p.fits_supply);
    }
    const struct lds_playback two = playback_of(LDS_SIGNAL_TWO_TONE, -20.0, &bench);
    near(two.peak_v, 4.0);
    near(two.watts, 0.5);
    const struct lds_playback silence = playback_of(LDS_SIGNAL_SILENCE, -3.0, &bench);
    assert_true(silence.peak_v == 0.0 && silence.watts == 0.0);
}

/* rms over a period of the samples; the peak may lie between them, but not much above them. */
static void volts_of_noise(void **state)
{
    (void)state;
    const struct lds_bench bench = bench_of(NAN, NAN);
    struct lds_signal_spec spec;
    struct lds_playback p;
    lds_signal_spec_init(&spec, LDS_SIGNAL_NOISE);
    spec.seconds = 0.2;
    assert_int_equal(lds_signal_spec_check(&spec, NULL), LDS_OK);
    assert_true(lds_signal_playback(&spec, &bench, &p));
    struct lds_player *player = lds_player_new(&spec);
    double x[1024], sum = 0.0;
    assert_int_equal(spec.period, 1024);
    lds_player_render(player, 1024, 1024, x);
    lds_player_free(player);
    for (int i = 0; i < 1024; i++)
        sum += x[i] * x[i];
    near(p.rms_v, 40.0 * sqrt(sum / 1024.0));
    near(p.watts, 200.0 * sum / 1024.0);
    const double samples_v = 40.0 * pow(10.0, -3.0 / 20.0);
    assert_true(p.peak_v >= samples_v * (1.0 - 1e-9) && p.peak_v < 1.12 * samples_v);
}

static void what_fits(void **state)
{
    (void)state;
    struct lds_bench bench = bench_of(35.0, -30.0);
    struct lds_playback p = playback_of(LDS_SIGNAL_SINE, 0.0, &bench);
    near(p.rail_v, 35.0);
    near(p.swing_v, 30.0);
    assert_true(p.fits_input && !p.fits_supply); /* 40 V peak: just the full scale */
    assert_true(playback_of(LDS_SIGNAL_SINE, lds_signal_level_for(30.0, &bench), &bench).fits_supply);
    assert_false(playback_of(LDS_SIGNAL_SINE, lds_signal_level_for(30.1, &bench), &bench).fits_supply);
    assert_false(playback_of(LDS_SIGNAL_STAIRCASE, 0.0, &bench).fits_supply);
    bench = bench_of(NAN, NAN);
    bench.attenuation = 19.9;
    p = playback_of(LDS_SIGNAL_SINE, 0.0, &bench);
    assert_true(!p.fits_input && p.fits_supply && isnan(p.swing_v));
    bench = bench_of(45.0, NAN);
    assert_true(playback_of(LDS_SIGNAL_SINE, 0.0, &bench).fits_supply);
}

static void what_is_not_stated(void **state)
{
    (void)state;
    struct lds_bench bench;
    lds_bench_init(&bench);
    const struct lds_playback p = playback_of(LDS_SIGNAL_SINE, 0.0, &bench);
    assert_true(isnan(p.peak_v) && isnan(p.rms_v) && isnan(p.watts) && isnan(p.input_v) && isnan(p.takes_v));
    assert_true(p.fits_input && p.fits_supply); /* not known not to */
    assert_true(isnan(lds_signal_level_for(1.0, &bench)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(volts), cmocka_unit_test(volts_of_noise),
                                       cmocka_unit_test(what_fits), cmocka_unit_test(what_is_not_stated)};
    return cmocka_run_group_tests_name("playback", tests, NULL, NULL);
}
