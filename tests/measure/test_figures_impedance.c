/* Source impedance and damping factor as they leave the library: a source behind a voltage divider, whose truth is what
 * was put in. */
#include <math.h>
#include <stdlib.h>

#include "loadside/impedance.h"
#include "measure/judge.h"
#include "simulate/loads.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, CAPTURES = 40 };
static const double SOURCE_OHM = 0.02, LOAD_OHM = 8.0, TONE_HZ = 997.0, LEVEL = 0.5, NOISE_DENSITY = 3e-7;
static const double INDUCTIVE_HZ = 15e3, HENRY = 1e-6, REPEAT_DB = 0.02;

static struct sim_loads switched(double hz, double complex source_ohm, double seconds)
{
    return (struct sim_loads){.frequency_hz = hz,
                              .level = LEVEL,
                              .source_ohm = source_ohm,
                              .stretches = 3,
                              .ohm = {LOAD_OHM, INFINITY, LOAD_OHM},
                              .seconds = {seconds, seconds, seconds}};
}

static double *samples(const struct sim_loads *loads, struct sim_random *random, size_t *n)
{
    *n = sim_loads_frames(loads, RATE);
    double *x = sim_samples(*n);
    sim_add_loads(x, RATE, loads, random);
    sim_add_white(x, *n, RATE, NOISE_DENSITY, random);
    return x;
}

static void options_init(struct lds_impedance_options *options)
{
    lds_impedance_options_init(options);
    options->load[0].ohm = LOAD_OHM;
    options->load[1].ohm = INFINITY;
}

static void run_switched(struct scene *scene, struct sim_loads loads, const struct lds_impedance_options *options)
{
    struct lds_measure_options measuring;
    sim_options_init(&measuring);
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct lds_measurement m;
        struct lds_capture *capture;
        struct sim_random random;
        struct lds_error error = {0};
        size_t n;
        sim_random_seed(&random, seed);
        loads.phase_rad = sim_random_between(&random, 0.0, 6.28);
        double *x = samples(&loads, &random, &n);
        sim_measure(x, n, RATE, &measuring, &m);
        if (lds_capture_from_memory(x, (int64_t)n, 1, RATE, &capture, &error) != LDS_OK)
            abort();
        (void)lds_impedance_switched(capture, &measuring, options, &m, &error); /* a figure that is missing is judged */
        judge_capture(scene, &m);
        lds_capture_close(capture);
        lds_measurement_free(&m);
        free(x);
    }
}

/* Sixteen parts of each of three stretches, less two levels and a slope. */
#define OF_PARTS(name, ...) FIGURE(name, .dof = 45.0, .spread = {0.6, 1.4}, __VA_ARGS__)

static struct judged switched_rows[] = {OF_PARTS("output.impedance"), OF_PARTS("output.damping")};

static void one_capture(struct scene *scene)
{
    struct lds_impedance_options options;
    struct sim_loads loads = switched(TONE_HZ, SOURCE_OHM, 2.0);
    loads.drift_db = 0.1;
    options_init(&options);
    judge_truth(scene, "output.impedance", SOURCE_OHM);
    judge_truth(scene, "output.damping", 8.0 / SOURCE_OHM);
    run_switched(scene, loads, &options);
}

static struct judged inductive_rows[] = {OF_PARTS("output.impedance"), OF_PARTS("output.damping")};

static void inductive(struct scene *scene)
{
    struct lds_impedance_options options;
    const double complex source_ohm = SOURCE_OHM + I * 2.0 * M_PI * INDUCTIVE_HZ * HENRY;
    options_init(&options);
    options.damping_ohm = 4.0;
    judge_truth(scene, "output.impedance", cabs(source_ohm));
    judge_truth(scene, "output.damping", 4.0 / cabs(source_ohm));
    run_switched(scene, switched(INDUCTIVE_HZ, source_ohm, 2.0), &options);
}

/* With limits of the load the bench's part is far larger than the scatter: +-1 % of 8 ohm, rectangular, and nothing of
 * what is open. dZ/dR_A = Z/R_A for an open second load. */
static struct judged tolerance_rows[] = {FIGURE("output.impedance", .dof = 35.0, .kind = JUDGED_CLOSED),
                                         FIGURE("output.damping", .dof = 35.0, .kind = JUDGED_CLOSED)};

static void tolerance(struct scene *scene)
{
    struct lds_impedance_options options;
    options_init(&options);
    options.load[0].percent = 1.0;
    judge_truth(scene, "output.impedance", SOURCE_OHM);
    judge_truth(scene, "output.damping", 8.0 / SOURCE_OHM);
    judge_row(scene, "output.impedance")->u = SOURCE_OHM * 0.01 / sqrt(3.0);
    judge_row(scene, "output.damping")->u = 8.0 / SOURCE_OHM * 0.01 / sqrt(3.0);
    run_switched(scene, switched(TONE_HZ, SOURCE_OHM, 1.5), &options);
}

/* Two captures whose levels are off at random, each with the standard deviation that is stated. A larger impedance, so
 * that the damping factor is nearly linear in it. */
static struct judged levels_rows[] = {FIGURE("output.impedance"), FIGURE("output.damping", .bias = 0.2)};

static void two_captures(struct scene *scene)
{
    const double source_ohm = 0.5;
    struct lds_impedance_options options;
    struct lds_error error = {0};
    options_init(&options);
    options.repeat_db = REPEAT_DB;
    judge_truth(scene, "output.impedance", source_ohm);
    judge_truth(scene, "output.damping", 8.0 / source_ohm);
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct lds_measurement m[2];
        struct sim_random random;
        int which;
        sim_random_seed(&random, seed);
        for (int i = 0; i < 2; i++) {
            struct sim_loads loads = switched(TONE_HZ, source_ohm, 1.0);
            size_t n;
            loads.stretches = 1;
            loads.ohm[0] = i == 0 ? LOAD_OHM : (double)INFINITY;
            loads.level *= pow(10.0, REPEAT_DB * sim_random_gaussian(&random) / 20.0);
            double *x = samples(&loads, &random, &n);
            sim_measure(x, n, RATE, NULL, &m[i]);
            free(x);
        }
        (void)lds_impedance_levels(m, &options, &which, &error);
        judge_capture(scene, &m[0]);
        lds_measurement_free(&m[0]);
        lds_measurement_free(&m[1]);
    }
}

static struct scene scenes[] = {
    {"switched", switched_rows, sizeof switched_rows / sizeof *switched_rows, one_capture},
    {"inductive", inductive_rows, sizeof inductive_rows / sizeof *inductive_rows, inductive},
    {"tolerance", tolerance_rows, sizeof tolerance_rows / sizeof *tolerance_rows, tolerance},
    {"two captures", levels_rows, sizeof levels_rows / sizeof *levels_rows, two_captures},
};

int main(int argc, char **argv)
{
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
