/* Source impedance from two loads: the formula against the voltage divider it inverts, the moments of switching, what
 * is left out, and what is refused. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/impedance.h"
#include "loadside/series.h"
#include "measure/impedance/step.h"
#include "measure/impedance/two_loads.h"
#include "simulate/loads.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000 };
static const double TONE_HZ = 997.0, LEVEL = 0.5, NOISE_DENSITY = 3e-7;

/* ---- the formula ---- */

static void test_load_words(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double ohm, percent;
    } good[] = {{"8", 8.0, NAN},         {"8 ohm:1%", 8.0, 1.0}, {"1M", 1e6, NAN},  {"4.7k:0.5 %", 4700.0, 0.5},
                {"open", INFINITY, NAN}, {"inf", INFINITY, NAN}, {"0.1", 0.1, NAN}, {"8:0%", 8.0, 0.0}};
    static const char *const bad[] = {"",    "0",       "-8",      "0.05", "8:",    "8:60%", "8%",
                                      "8 V", "open:1%", "8:1%:2%", "nan",  "short", "8,4"};
    struct lds_load load;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        assert_true(lds_load_parse(good[i].text, &load));
        assert_true(load.ohm == good[i].ohm);
        assert_true(load.percent == good[i].percent || (isnan(load.percent) && isnan(good[i].percent)));
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (lds_load_parse(bad[i], &load))
            fail_msg("'%s' is taken for a load", bad[i]);
}

static double complex divided(double complex source_ohm, double ohm)
{
    return 1.0 / (1.0 + source_ohm / ohm);
}

static struct lds_load_step step_of(double complex source_ohm, const struct lds_load load[2], double u)
{
    return (struct lds_load_step){.log_ratio =
                                      clog(divided(source_ohm, load[0].ohm) / divided(source_ohm, load[1].ohm)),
                                  .u = {u, u},
                                  .dof = INFINITY};
}

/* Whatever the loads, and in either order, what was put in comes out. */
static void test_divider(void **state)
{
    (void)state;
    static const double ohm[] = {4.0, 8.0, 33.0, 1e6, INFINITY};
    static const double complex source[] = {0.02, 1e-4, 3.0, 40.0, 0.02 + 0.1257 * I, 0.5 - 2.0 * I, 0.002 + 0.9 * I};
    for (size_t a = 0; a < sizeof ohm / sizeof *ohm; a++)
        for (size_t b = 0; b < sizeof ohm / sizeof *ohm; b++)
            for (size_t i = 0; i < sizeof source / sizeof *source; i++) {
                const struct lds_load load[2] = {{ohm[a], NAN}, {ohm[b], NAN}};
                struct lds_source_impedance z;
                const struct lds_load_step step = step_of(source[i], load, 1e-14);
                if (lds_two_loads_refused(load))
                    continue;
                assert_true(lds_two_loads(load, &step, &z));
                assert_true(cabs(z.ohm - source[i]) < 1e-6 * cabs(source[i]));
                assert_true(fabs(z.value - cabs(source[i])) < 1e-5 * cabs(source[i]));
                assert_true(z.low < z.value && z.value < z.high && z.u_loads == 0.0);
            }
}

/* Limits from the loads: how the answer changes if the true load is another. The standard uncertainty from the data:
 * how it follows from that of the ratio. */
static void test_sensitivities(void **state)
{
    (void)state;
    static const double complex source[] = {0.02, 2.0, 0.3 + 1.0 * I};
    static const double percent[2] = {1.0, 3.0};
    for (size_t i = 0; i < sizeof source / sizeof *source; i++) {
        const struct lds_load load[2] = {{8.0, percent[0]}, {16.0, percent[1]}};
        const struct lds_load_step step = step_of(source[i], load, 1e-6);
        struct lds_source_impedance z, other;
        double sum = 0.0;
        assert_true(lds_two_loads(load, &step, &z));
        for (int k = 0; k < 2; k++) {
            struct lds_load moved[2] = {load[0], load[1]};
            moved[k].ohm *= 1.0 + 1e-5;
            assert_true(lds_two_loads(moved, &step, &other));
            const double part = (other.value - z.value) / 1e-5 * percent[k] / 100.0 / sqrt(3.0);
            sum += part * part;
        }
        assert_true(fabs(z.u_loads / sqrt(sum) - 1.0) < 1e-3);
        struct lds_load_step changed = step;
        changed.log_ratio += 1e-6;
        assert_true(lds_two_loads(load, &changed, &other));
        /* Both parts of the ratio have the same uncertainty, and the answer is an analytic function of it. */
        assert_true(fabs(z.u / (cabs(other.ohm - z.ohm)) - 1.0) < 1e-2);
    }
}

/* A level that rises with the heavier load; one that differs more than with a source of current; levels alone. */
static void test_sign_and_phase(void **state)
{
    (void)state;
    const struct lds_load load[2] = {{8.0, NAN}, {4.0, NAN}};
    struct lds_load_step step = step_of(-0.1, load, 1e-6);
    struct lds_source_impedance z;
    assert_true(lds_two_loads(load, &step, &z));
    assert_true(fabs(z.value + 0.1) < 1e-6 && z.low < z.value && z.value < z.high && z.high < 0.0);
    step = (struct lds_load_step){.log_ratio = log(2.1), .u = {1e-6, 1e-6}, .dof = INFINITY};
    assert_false(lds_two_loads(load, &step, &z)); /* 8 ohm takes at most twice the volts of 4 ohm */
    step.log_ratio = log(1.9);
    assert_true(lds_two_loads(load, &step, &z));
    /* An inductance changes the phase and hardly the level: without the phase it does not show. */
    step = step_of(0.02 + 0.1 * I, load, 1e-6);
    step.u[1] = NAN;
    assert_true(lds_two_loads(load, &step, &z));
    assert_true(fabs(cimag(z.ohm)) == 0.0 && z.value < 0.025);
    /* Phases too uncertain to show anything leave the resistance, and its limits. */
    step = step_of(0.02, load, 1e-6);
    step.log_ratio += 5e-4 * I;
    step.u[1] = 1e-3;
    assert_true(lds_two_loads(load, &step, &z));
    assert_true(fabs(z.value - 0.02) < 1e-4 && z.high - z.low < 1e-4);
    /* An impedance that only changes the phase does not count as negative because its resistance comes out below 0 by
     * chance. */
    step = step_of(-1e-6 + 0.1 * I, load, 1e-5);
    assert_true(lds_two_loads(load, &step, &z));
    assert_true(fabs(z.value - 0.1) < 1e-4);
}

static void test_loads_refused(void **state)
{
    (void)state;
    const struct lds_load pair[][2] = {{{8.0, NAN}, {8.1, NAN}},
                                       {{INFINITY, NAN}, {INFINITY, NAN}},
                                       {{NAN, NAN}, {8.0, NAN}},
                                       {{8.0, NAN}, {7.5, NAN}}};
    for (size_t i = 0; i < 3; i++)
        assert_non_null(lds_two_loads_refused(pair[i]));
    assert_null(lds_two_loads_refused(pair[3]));
}

/* ---- one capture ---- */

static struct sim_loads loads_of(size_t stretches, const double *seconds, double source_ohm)
{
    struct sim_loads loads = {
        .frequency_hz = TONE_HZ, .level = LEVEL, .source_ohm = source_ohm, .phase_rad = 0.7, .stretches = stretches};
    for (size_t i = 0; i < stretches; i++) {
        loads.ohm[i] = i % 2 ? (double)INFINITY : 8.0;
        loads.seconds[i] = seconds[i];
    }
    return loads;
}

struct made {
    double *x;
    size_t n;
    struct lds_measurement m;
    struct lds_error error;
    enum lds_status status;
};

static void measure_samples(struct made *made)
{
    struct lds_measure_options measuring;
    struct lds_impedance_options options;
    struct lds_capture *capture;
    sim_options_init(&measuring);
    lds_impedance_options_init(&options);
    options.load[0].ohm = 8.0;
    options.load[1].ohm = INFINITY;
    sim_measure(made->x, made->n, RATE, &measuring, &made->m);
    assert_int_equal(lds_capture_from_memory(made->x, (int64_t)made->n, 1, RATE, &capture, NULL), LDS_OK);
    made->status = lds_impedance_switched(capture, &measuring, &options, &made->m, &made->error);
    lds_capture_close(capture);
}

static void make(struct made *made, const struct sim_loads *loads, double lead_s, double tail_s)
{
    struct sim_random random;
    const size_t lead = (size_t)(lead_s * RATE), middle = sim_loads_frames(loads, RATE);
    sim_random_seed(&random, 11);
    *made = (struct made){.n = lead + middle + (size_t)(tail_s * RATE)};
    made->x = sim_samples(made->n);
    sim_add_loads(made->x + lead, RATE, loads, &random);
    sim_add_white(made->x, made->n, RATE, NOISE_DENSITY, &random);
}

static void drop(struct made *made)
{
    lds_measurement_free(&made->m);
    free(made->x);
}

static void expect(struct made *made, const char *what, double truth, double share)
{
    measure_samples(made);
    if (made->status != LDS_OK)
        fail_msg("%s: %s", what, made->error.message);
    const struct lds_figure *figure = lds_channel_figure(&made->m.channel[0], "output.impedance");
    assert_non_null(figure);
    const double most = fmax(share * fabs(truth), 2.0 * figure->u_a);
    if (!(fabs(figure->value - truth) < most && figure->high - figure->low < 6.0 * share * fabs(truth)))
        fail_msg("%s: %g (%g to %g), not %g", what, figure->value, figure->low, figure->high, truth);
}

/* Unequal parts, drift, contact bounce, silence around it, a gap, hum, rounding to 16 bits: within 0.1 % of 20 mohm. */
static void test_disturbed(void **state)
{
    (void)state;
    static const double unequal[] = {1.5, 4.0, 2.5}, equal[] = {3.0, 3.0, 3.0};
    struct made made;
    struct sim_loads loads = loads_of(3, unequal, 0.02);
    make(&made, &loads, 0.0, 0.0);
    expect(&made, "unequal parts", 0.02, 1e-3);
    drop(&made);
    loads = loads_of(3, equal, 0.02);
    loads.drift_db = 0.1; /* five times the step */
    make(&made, &loads, 0.0, 0.0);
    expect(&made, "drift", 0.02, 1e-3);
    drop(&made);
    loads.drift_db = 0.0;
    loads.bounce_s = 0.15;
    make(&made, &loads, 0.0, 0.0);
    expect(&made, "bounce", 0.02, 1e-3);
    drop(&made);
    loads.bounce_s = 0.0;
    make(&made, &loads, 0.6, 0.9);
    expect(&made, "silence around it", 0.02, 1e-3);
    drop(&made);
    make(&made, &loads, 0.0, 0.0);
    memset(made.x + 3 * RATE - RATE / 4, 0, sizeof *made.x * RATE / 2);
    expect(&made, "a gap where it is switched", 0.02, 1e-3);
    drop(&made);
    make(&made, &loads, 0.0, 0.0);
    const struct sim_tone hum = {.frequency_hz = 50.0, .level = LEVEL / 800.0};
    sim_add_tone(made.x, made.n, RATE, &hum);
    sim_quantise(made.x, made.n, 16, NULL);
    expect(&made, "hum and 16 bits", 0.02, 1e-3);
    drop(&made);
}

/* A slow wander of the phase, as between two clocks, is not taken for an inductance. */
static void test_phase_wander(void **state)
{
    (void)state;
    static const double equal[] = {3.0, 3.0, 3.0};
    const struct sim_loads loads = loads_of(3, equal, 0.02);
    struct sim_random random;
    struct made made = {.n = sim_loads_frames(&loads, RATE)};
    double phase = 0.0;
    sim_random_seed(&random, 3);
    made.x = sim_samples(made.n);
    for (size_t i = 0; i < made.n; i++) {
        const bool open = i >= 3 * RATE && i < 6 * RATE;
        phase += 1e-3 / sqrt(RATE) * sim_random_gaussian(&random);
        made.x[i] = LEVEL * (open ? 1.0 : 8.0 / 8.02) * sin(2.0 * M_PI * TONE_HZ * (double)i / RATE + phase);
    }
    sim_add_white(made.x, made.n, RATE, NOISE_DENSITY, &random);
    measure_samples(&made);
    assert_int_equal(made.status, LDS_OK);
    const struct lds_figure *figure = lds_channel_figure(&made.m.channel[0], "output.impedance");
    assert_true(figure->low <= 0.02 && 0.02 <= figure->high);
    drop(&made);
}

static void refuse(struct made *made, const char *words)
{
    measure_samples(made);
    assert_int_equal(made->status, LDS_BAD_INPUT);
    if (!strstr(made->error.message, words))
        fail_msg("'%s' does not say '%s'", made->error.message, words);
    drop(made);
}

static void test_refused(void **state)
{
    (void)state;
    static const double seconds[] = {2.0, 2.0, 2.0, 2.0, 2.0}, brief[] = {0.2, 0.2, 0.2};
    struct made made;
    struct sim_loads loads = loads_of(3, seconds, 0.0);
    make(&made, &loads, 0.0, 0.0);
    refuse(&made, "the level does not change by more than ");
    loads = loads_of(2, seconds, 0.02);
    make(&made, &loads, 0.0, 0.0);
    refuse(&made, "the level changes once, at 2.0");
    loads = loads_of(5, seconds, 0.02);
    make(&made, &loads, 0.0, 0.0);
    refuse(&made, " and again at ");
    loads = loads_of(3, brief, 0.02);
    make(&made, &loads, 0.0, 0.0);
    refuse(&made, "too little of a steady tone");
    loads = loads_of(3, seconds, 0.02);
    loads.level = 0.9;
    make(&made, &loads, 0.0, 0.0);
    sim_clip(made.x, made.n, 1.0);
    refuse(&made, "it is clipped");
    loads.level = 0.0;
    make(&made, &loads, 0.0, 0.0);
    refuse(&made, "no tone was found");
}

/* What the level shows as "no step" still limits the impedance from above: here by a step that noise hides. */
static void test_upper_limit(void **state)
{
    (void)state;
    static const double seconds[] = {2.0, 2.0, 2.0};
    const struct sim_loads loads = loads_of(3, seconds, 1e-5);
    struct made made;
    make(&made, &loads, 0.0, 0.0);
    struct sim_random random;
    sim_random_seed(&random, 5);
    sim_add_white(made.x, made.n, RATE, 3e-5, &random);
    measure_samples(&made);
    assert_int_equal(made.status, LDS_BAD_INPUT);
    const char *words = strstr(made.error.message, "is below ");
    if (!words)
        fail_msg("%s", made.error.message);
    const double mohm = strtod(words + strlen("is below "), NULL);
    assert_true(mohm > 0.01 && mohm < 5.0);
    drop(&made);
}

/* Both moments found are within the length of a frame of the truth. */
static void test_moments(void **state)
{
    (void)state;
    static const double seconds[] = {2.25, 4.5, 3.0};
    const struct sim_loads loads = loads_of(3, seconds, 0.02);
    struct lds_capture *capture;
    struct lds_phasors phasors;
    struct lds_switching switching;
    struct made made;
    make(&made, &loads, 0.0, 0.0);
    assert_int_equal(lds_capture_from_memory(made.x, (int64_t)made.n, 1, RATE, &capture, NULL), LDS_OK);
    assert_int_equal(lds_phasors_read(capture, 0, TONE_HZ, &phasors, NULL), LDS_OK);
    assert_true(lds_switching_find(&phasors, &switching));
    assert_true(switching.found && !switching.once);
    assert_true(fabs(switching.at_s[0] - 2.25) < 0.5 * phasors.frame_s);
    assert_true(fabs(switching.at_s[1] - 6.75) < 0.5 * phasors.frame_s);
    for (int i = 0; i < LDS_STRETCHES; i++) {
        static const double from_s[] = {0.0, 2.25, 6.75}, to_s[] = {2.25, 6.75, 9.75};
        const double half_s = 0.5 * phasors.frame_s;
        assert_true(lds_phasors_time(&phasors, (double)switching.first[i]) - half_s > from_s[i] - 1e-6);
        assert_true(lds_phasors_time(&phasors, (double)switching.last[i]) + half_s < to_s[i] + 1e-6);
    }
    lds_phasors_free(&phasors);
    lds_capture_close(capture);
    free(made.x);
}

/* ---- two captures ---- */

static void measure_pair(const double level[2], const double hz[2], const double ohm[2], struct lds_measurement m[2])
{
    for (int i = 0; i < 2; i++) {
        const struct sim_tone tone = {.frequency_hz = hz[i], .level = level[i] / (1.0 + 0.02 / ohm[i])};
        struct sim_random random;
        double *x = sim_samples(2 * RATE);
        sim_random_seed(&random, 7 + (unsigned)i);
        sim_add_tone(x, 2 * RATE, RATE, &tone);
        sim_add_white(x, 2 * RATE, RATE, NOISE_DENSITY, &random);
        sim_measure(x, 2 * RATE, RATE, NULL, &m[i]);
        free(x);
    }
}

static void test_two_captures(void **state)
{
    (void)state;
    static const double ohm[] = {8.0, INFINITY}, hz[] = {997.0, 997.0}, level[] = {0.5, 0.5};
    struct lds_measurement m[2];
    struct lds_impedance_options options;
    struct lds_error error;
    int which;
    lds_impedance_options_init(&options);
    for (int i = 0; i < 2; i++)
        options.load[i].ohm = ohm[i];
    for (int k = 0; k < 3; k++) {
        static const double stated[] = {NAN, NAN, 0.0}, bench[] = {NAN, 0.004, 0.004}, used[] = {0.03, 0.004, 0.0};
        measure_pair(level, hz, ohm, m);
        m[0].bench.repeat_level_db = bench[k];
        options.repeat_db = stated[k];
        assert_int_equal(lds_impedance_levels(m, &options, &which, &error), LDS_OK);
        const struct lds_figure *figure = lds_channel_figure(&m[0].channel[0], "output.impedance");
        assert_non_null(figure);
        assert_true(fabs(figure->value - 0.02) < 1e-4);
        assert_true(figure->flags & LDS_FLAG_PHASE_NOT_KNOWN);
        assert_true(figure->others == 1 && figure->other[0] == 1);
        const double u = 8.0 * sqrt(2.0) * used[k] * log(10.0) / 20.0;
        assert_true(fabs(figure->u_a - u) < 0.02 * u + 3e-5);
        const struct lds_figure *damping = lds_channel_figure(&m[0].channel[0], "output.damping");
        assert_true(fabs(damping->value - 400.0) < 2.0);
        assert_true(isnan(damping->high) == (figure->low <= 0.0));
        assert_null(lds_channel_figure(&m[1].channel[0], "output.impedance"));
        assert_true(m[0].bench.load_ohm == 8.0 && isnan(m[1].bench.load_ohm));
        lds_measurement_free(&m[0]);
        lds_measurement_free(&m[1]);
    }
}

static void test_two_refused(void **state)
{
    (void)state;
    static const double ohm[] = {8.0, INFINITY};
    static const struct {
        double hz[2], level[2];
        const char *words;
        int which;
    } row[] = {{{997.0, 1003.0}, {0.5, 0.5}, "the tone has 997 Hz with the first load and 1003 Hz", 1},
               {{997.0, 997.0}, {0.5, 0.04}, "higher with the first load than with the second, which no source", 1},
               {{997.0, 997.0}, {0.5, 0.0}, "it has no steady tone", 1},
               {{997.0, 997.0}, {0.0, 0.5}, "it has no steady tone", 0}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct lds_measurement m[2];
        struct lds_impedance_options options;
        struct lds_error error;
        int which = -1;
        lds_impedance_options_init(&options);
        for (int k = 0; k < 2; k++)
            options.load[k].ohm = ohm[k];
        measure_pair(row[i].level, row[i].hz, ohm, m);
        assert_int_equal(lds_impedance_levels(m, &options, &which, &error), LDS_BAD_INPUT);
        if (!strstr(error.message, row[i].words))
            fail_msg("'%s' does not say '%s'", error.message, row[i].words);
        assert_int_equal(which, row[i].which);
        lds_measurement_free(&m[0]);
        lds_measurement_free(&m[1]);
    }
}

/* ---- two sweeps ---- */

/* Of the low-pass that source and load make, as the bilinear transform has it: about 1 uH. */
static const double SWEEP_CORNER = 300.0;

/* What a load makes of the sweep: a divider, and a low-pass of first order by the bilinear transform, whose response at
 * a frequency is exact. The source impedance is then 8 ohm (1/G - 1), whatever G is. */
static double complex sweep_gain(double hz)
{
    const double complex z = cexp(-I * 2.0 * M_PI * hz / RATE), s = (1.0 - z) / (1.0 + z);
    return 8.0 / 8.02 / (1.0 + s / SWEEP_CORNER);
}

static void run_gain(double *x, size_t n)
{
    const double high = SWEEP_CORNER;
    double before = 0.0, y = 0.0;
    for (size_t i = 0; i < n; i++) {
        y = (high * (x[i] + before) + (1.0 - high) * y) / (1.0 + high);
        before = x[i];
        x[i] = 8.0 / 8.02 * y;
    }
}

/* later: frames by which the second capture begins later. */
static void measure_sweeps(double later, double repeat_db, struct lds_measurement m[2])
{
    struct lds_measure_options measuring;
    struct lds_impedance_options options;
    struct lds_capture *capture[2];
    struct lds_error error = {0};
    const size_t n = 4 * RATE;
    double *x[2];
    int which;
    sim_options_init(&measuring);
    lds_signal_spec_init(&measuring.known, LDS_SIGNAL_SWEEP);
    measuring.known.seconds = 3.0;
    measuring.known.frequency_hz[0] = 10.0;
    measuring.known.frequency_hz[1] = 21e3;
    assert_int_equal(lds_signal_spec_check(&measuring.known, NULL), LDS_OK);
    lds_impedance_options_init(&options);
    options.load[0].ohm = 8.0;
    options.load[1].ohm = INFINITY;
    options.repeat_db = repeat_db;
    struct lds_player *player = lds_player_new(&measuring.known);
    for (int i = 0; i < 2; i++) {
        struct sim_random random;
        sim_random_seed(&random, 21 + (unsigned)i);
        x[i] = sim_samples(n);
        lds_player_render_at(player, -0.3 - later * i / RATE, 1.0 / RATE, n, x[i]);
        if (i == 0)
            run_gain(x[i], n);
        sim_add_white(x[i], n, RATE, NOISE_DENSITY, &random);
        sim_measure(x[i], n, RATE, &measuring, &m[i]);
        assert_int_equal(lds_capture_from_memory(x[i], (int64_t)n, 1, RATE, &capture[i], NULL), LDS_OK);
    }
    const struct lds_measure_options *const both[2] = {&measuring, &measuring};
    if (lds_impedance_sweeps(capture, both, &options, m, &which, &error) != LDS_OK)
        fail_msg("%s", error.message);
    lds_player_free(player);
    for (int i = 0; i < 2; i++) {
        lds_capture_close(capture[i]);
        free(x[i]);
    }
}

/* With one clock, and a whole number of samples between the captures, the phases are used, and the magnitude is right
 * within its interval at every frequency. */
static void test_sweeps(void **state)
{
    (void)state;
    struct lds_measurement m[2];
    measure_sweeps(1234.0, 0.0, m);
    const struct lds_series *series = lds_channel_series(&m[0].channel[0], "impedance");
    const struct lds_signal *heard[2] = {&m[0].channel[0].signal, &m[1].channel[0].signal};
    if (!(series->rows > 200 && series->flags == 0))
        fail_msg("%zu rows, flags %x: clocks %g and %g ppm, %g frames apart", series->rows, series->flags,
                 heard[0]->clock_ppm, heard[1]->clock_ppm, (heard[1]->delay_s - heard[0]->delay_s) * RATE);
    size_t held = 0;
    for (size_t i = 0; i < series->rows; i++) {
        const double hz = lds_series_value(series, i, LDS_CURVE_X), truth = cabs(8.0 * (1.0 / sweep_gain(hz) - 1.0));
        const struct lds_cell cell = lds_series_cell(series, i, LDS_CURVE_Y);
        held += cell.low <= truth && truth <= cell.high;
        if (!(fabs(cell.value / truth - 1.0) < 0.02 && cell.high - cell.low < (hz < 20.0 ? 0.2 : 0.1) * truth))
            fail_msg("at %g Hz %g (%g to %g), not %g", hz, cell.value, cell.low, cell.high, truth);
    }
    assert_true((double)held > 0.93 * (double)series->rows);
    const struct lds_figure *figure = lds_channel_figure(&m[0].channel[0], "output.impedance");
    const double truth = cabs(8.0 * (1.0 / sweep_gain(1000.0) - 1.0));
    assert_non_null(figure);
    assert_true(fabs(figure->value / truth - 1.0) < 0.005 && figure->others == 1);
    assert_true(fabs(lds_channel_figure(&m[0].channel[0], "output.damping")->value * figure->value - 8.0) < 1e-9);
    assert_null(lds_series_find(m[1].channel[0].series, m[1].channel[0].series_count, "impedance")->kind);
    lds_measurement_free(&m[0]);
    lds_measurement_free(&m[1]);
}

/* With a fraction of a sample between them the clocks are different, so only the levels are used, with their
 * repeatability. */
static void test_sweeps_apart(void **state)
{
    (void)state;
    struct lds_measurement m[2];
    measure_sweeps(1234.4, 0.01, m);
    const struct lds_series *series = lds_channel_series(&m[0].channel[0], "impedance");
    assert_true(series->flags == LDS_FLAG_PHASE_NOT_KNOWN);
    for (size_t i = 0; i < series->rows; i++) {
        const double hz = lds_series_value(series, i, LDS_CURVE_X), truth = 8.0 * (1.0 / cabs(sweep_gain(hz)) - 1.0);
        const struct lds_cell cell = lds_series_cell(series, i, LDS_CURVE_Y);
        if (!(fabs(cell.value - truth) < 5e-4 * (1.0 + truth)))
            fail_msg("at %g Hz %g, not %g", hz, cell.value, truth);
        const double u = 8.0 * sqrt(2.0) * 0.01 * log(10.0) / 20.0;
        assert_true(cell.high - cell.value > 1.9 * u && cell.low >= 0.0);
    }
    lds_measurement_free(&m[0]);
    lds_measurement_free(&m[1]);
}

/* A higher level with the heavier load gives a negative impedance, and no damping factor. */
static void test_negative(void **state)
{
    (void)state;
    static const double ohm[] = {8.0, INFINITY}, hz[] = {997.0, 997.0}, level[] = {0.55, 0.5};
    struct lds_measurement m[2];
    struct lds_impedance_options options;
    struct lds_error error;
    int which;
    lds_impedance_options_init(&options);
    for (int i = 0; i < 2; i++)
        options.load[i].ohm = ohm[i];
    measure_pair(level, hz, ohm, m);
    assert_int_equal(lds_impedance_levels(m, &options, &which, &error), LDS_OK);
    const struct lds_figure *figure = lds_channel_figure(&m[0].channel[0], "output.impedance");
    /* q = 1.1 * 8/8.02: Z = (q - 1)/(-q/8) */
    const double q = 1.1 * 8.0 / 8.02;
    assert_true(fabs(figure->value + 8.0 * (q - 1.0) / q) < 1e-4 && figure->high < 0.0);
    assert_null(lds_channel_figure(&m[0].channel[0], "output.damping"));
    assert_non_null(strstr(lds_channel_absent(&m[0].channel[0], "output.damping"), "not above 0"));
    lds_measurement_free(&m[0]);
    lds_measurement_free(&m[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_load_words),    cmocka_unit_test(test_divider),
                                       cmocka_unit_test(test_sensitivities), cmocka_unit_test(test_sign_and_phase),
                                       cmocka_unit_test(test_loads_refused), cmocka_unit_test(test_disturbed),
                                       cmocka_unit_test(test_phase_wander),  cmocka_unit_test(test_refused),
                                       cmocka_unit_test(test_upper_limit),   cmocka_unit_test(test_moments),
                                       cmocka_unit_test(test_two_captures),  cmocka_unit_test(test_two_refused),
                                       cmocka_unit_test(test_sweeps),        cmocka_unit_test(test_sweeps_apart),
                                       cmocka_unit_test(test_negative)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
