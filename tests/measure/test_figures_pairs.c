/* Figures of a pair of channels. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = 3 * RATE / 2 };
static const double DENSITY = 1e-6, LEVEL = 0.3;

static void options_init(struct lds_measure_options *options)
{
    sim_options_init(options);
    options->mains_hz = 50.0; /* there is no mains: a narrow search is a quick one */
}

/* Two channels side by side, freed. */
static void measure(struct scene *scene, double *left, double *right, size_t n, double rate_hz,
                    const struct lds_measure_options *options)
{
    double *both = sim_samples(2 * n);
    for (size_t i = 0; i < n; i++) {
        both[2 * i] = left[i];
        both[2 * i + 1] = right[i];
    }
    struct lds_error error = {0};
    struct lds_capture *capture = NULL;
    struct lds_measurement m;
    if (lds_capture_from_memory(both, (int64_t)n, 2, rate_hz, &capture, &error) != LDS_OK ||
        lds_measure(capture, options, &m, &error) != LDS_OK) {
        fprintf(stderr, "%s\n", error.message);
        exit(1);
    }
    lds_capture_close(capture);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(both);
    free(left);
    free(right);
}

/* Noise of one density in both channels, of which `shared` of the power is common to them. */
static void add_noise(double *left, double *right, size_t n, double rate_hz, double shared, struct sim_random *random)
{
    const double sigma = DENSITY * sqrt(0.5 * rate_hz), common = sqrt(shared), own = sqrt(1.0 - shared);
    for (size_t i = 0; i < n; i++) {
        const double c = common * sim_random_gaussian(random);
        left[i] += sigma * (c + own * sim_random_gaussian(random));
        right[i] += sigma * (c + own * sim_random_gaussian(random));
    }
}

/* ---- both channels driven ---- */

enum { BOTH_CAPTURES = 30 };
static const double BALANCE_DB = -1.3, SHARED = 0.7;

static struct judged both_rows[] = {
    FIGURE("balance", .pair = true),
    FIGURE("noise.coherence.20-20k", .pair = true, .spread = {0.55, 1.05}),
    FIGURE("noise.coherence.2k-8k", .pair = true, .spread = {0.55, 1.05}),
};

static void both(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    options.band[options.bands++] = (struct lds_band){2e3, 8e3};
    judge_truth(scene, "balance", BALANCE_DB);
    judge_truth(scene, "noise.coherence.20-20k", SHARED * SHARED);
    judge_truth(scene, "noise.coherence.2k-8k", SHARED * SHARED);
    for (unsigned seed = 1; seed <= BOTH_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *left = sim_samples(SAMPLES), *right = sim_samples(SAMPLES);
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 950.0, 1050.0), .level = LEVEL};
        sim_add_tone(left, SAMPLES, RATE, &tone);
        tone.level *= pow(10.0, BALANCE_DB / 20.0);
        tone.phase_rad = 0.5 * M_PI; /* where the common noise of the two channels counts in only one of them */
        sim_add_tone(right, SAMPLES, RATE, &tone);
        add_noise(left, right, SAMPLES, RATE, SHARED, &random);
        measure(scene, left, right, SAMPLES, RATE, &options);
    }
}

/* ---- the first holds the amplifier's input ---- */

static const double GAIN_DB = -6.5;

static struct judged gain_rows[] = {FIGURE("gain", .channel = 1)};

static void gain(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    options.reference = 1;
    judge_truth(scene, "gain", GAIN_DB);
    for (unsigned seed = 1; seed <= BOTH_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *left = sim_samples(SAMPLES), *right = sim_samples(SAMPLES);
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 300.0, 5000.0), .level = LEVEL};
        sim_add_tone(left, SAMPLES, RATE, &tone);
        tone.level *= pow(10.0, GAIN_DB / 20.0);
        tone.phase_rad = sim_random_between(&random, -M_PI, M_PI);
        sim_add_tone(right, SAMPLES, RATE, &tone);
        add_noise(left, right, SAMPLES, RATE, 0.0, &random);
        measure(scene, left, right, SAMPLES, RATE, &options);
    }
}

/* ---- one channel driven with a sweep ---- */

enum { SWEEP_CAPTURES = 24 };
static const double SWEEP_CROSSTALK_DB = -66.0, SWEEP_BALANCE_DB = 0.7;

/* The local fit has some tens of degrees of freedom. */
#define SWEPT(name)                                                                                                    \
    FIGURE(name, .pair = true, .dof = 100.0, .or_infinite = true, .share = {0.05, 1e4}, .spread = {0.4, 1.6})
static struct judged swept_rows[] = {SWEPT("crosstalk.1-2")}, swept_both_rows[] = {SWEPT("balance")};

static void swept_at(struct scene *scene, double other_db, double density)
{
    struct lds_measure_options options;
    options_init(&options);
    lds_signal_spec_init(&options.known, LDS_SIGNAL_SWEEP);
    options.known.seconds = 2.0;
    options.known.frequency_hz[0] = 50.0;
    options.known.frequency_hz[1] = 20e3;
    if (lds_signal_spec_check(&options.known, NULL) != LDS_OK)
        abort();
    for (unsigned seed = 1; seed <= SWEEP_CAPTURES; seed++) {
        enum { N = 4 * RATE };
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *left = sim_samples(N), *right = sim_samples(N);
        struct lds_player *player = lds_player_new(&options.known);
        lds_player_render_at(player, -0.5, 1.0 / RATE, N, left);
        lds_player_free(player);
        for (size_t i = 0; i < N; i++)
            right[i] = pow(10.0, other_db / 20.0) * left[i];
        sim_add_white(left, N, RATE, density, &random);
        sim_add_white(right, N, RATE, density, &random);
        measure(scene, left, right, N, RATE, &options);
    }
}

static void swept(struct scene *scene)
{
    judge_truth(scene, "crosstalk.1-2", SWEEP_CROSSTALK_DB);
    swept_at(scene, SWEEP_CROSSTALK_DB, 3e-8);
}

static void swept_both(struct scene *scene)
{
    judge_truth(scene, "balance", SWEEP_BALANCE_DB);
    swept_at(scene, SWEEP_BALANCE_DB, 1e-6);
}

/* ---- one channel driven ---- */

enum { ONE_CAPTURES = 30 };
static const double CROSSTALK_DB = -78.0;

static struct judged one_rows[] = {
    FIGURE("crosstalk.1-2", .pair = true),
    FIGURE("noise.coherence.20-20k", .pair = true, .spread = {0.55, 1.05}),
};

static void one(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    judge_truth(scene, "crosstalk.1-2", CROSSTALK_DB);
    judge_truth(scene, "noise.coherence.20-20k", SHARED * SHARED);
    for (unsigned seed = 1; seed <= ONE_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *left = sim_samples(SAMPLES), *right = sim_samples(SAMPLES);
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 950.0, 1050.0), .level = LEVEL};
        sim_add_tone(left, SAMPLES, RATE, &tone);
        tone.level *= pow(10.0, CROSSTALK_DB / 20.0);
        tone.phase_rad = sim_random_between(&random, -M_PI, M_PI);
        sim_add_tone(right, SAMPLES, RATE, &tone);
        add_noise(left, right, SAMPLES, RATE, SHARED, &random);
        measure(scene, left, right, SAMPLES, RATE, &options);
    }
}

/* ---- the second driven, so that the first shows more of it than a tone of its own would need ---- */

enum { BACK_CAPTURES = 24 };
static const double NEAR_DB = -44.0;

static struct judged back_rows[] = {FIGURE("crosstalk.2-1", .pair = true)};

static void back(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    judge_truth(scene, "crosstalk.2-1", NEAR_DB);
    for (unsigned seed = 1; seed <= BACK_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, 100 + seed);
        double *left = sim_samples(SAMPLES), *right = sim_samples(SAMPLES);
        struct sim_tone tone = {.frequency_hz = sim_random_between(&random, 950.0, 1050.0), .level = LEVEL};
        sim_add_tone(right, SAMPLES, RATE, &tone);
        tone.level *= pow(10.0, NEAR_DB / 20.0);
        tone.phase_rad = sim_random_between(&random, -M_PI, M_PI);
        sim_add_tone(left, SAMPLES, RATE, &tone);
        add_noise(left, right, SAMPLES, RATE, SHARED, &random);
        measure(scene, left, right, SAMPLES, RATE, &options);
    }
}

/* ---- each driven with a tone of its own ---- */

enum { TWO_CAPTURES = 24 };
static const double THERE_DB = -65.0, BACK_DB = -95.0;

static struct judged two_rows[] = {
    FIGURE("crosstalk.1-2", .pair = true),
    FIGURE("crosstalk.2-1", .pair = true),
};

static void two(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    judge_truth(scene, "crosstalk.1-2", THERE_DB);
    judge_truth(scene, "crosstalk.2-1", BACK_DB);
    for (unsigned seed = 1; seed <= TWO_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, 200 + seed);
        double *side[2] = {sim_samples(SAMPLES), sim_samples(SAMPLES)};
        for (int i = 0; i < 2; i++) {
            struct sim_tone tone = {.frequency_hz = i ? sim_random_between(&random, 2400.0, 2700.0)
                                                      : sim_random_between(&random, 950.0, 1050.0),
                                    .level = i ? 1.5 * LEVEL : LEVEL};
            sim_add_tone(side[i], SAMPLES, RATE, &tone);
            tone.level *= pow(10.0, (i ? BACK_DB : THERE_DB) / 20.0);
            tone.phase_rad = sim_random_between(&random, -M_PI, M_PI);
            sim_add_tone(side[!i], SAMPLES, RATE, &tone);
        }
        add_noise(side[0], side[1], SAMPLES, RATE, SHARED, &random);
        measure(scene, side[0], side[1], SAMPLES, RATE, &options);
    }
}

/* ---- bands that only fast captures hold ---- */

enum { FAST_RATE = 1000000, FAST_SAMPLES = FAST_RATE / 5, FAST_CAPTURES = 12 };

static struct judged fast_rows[] = {
    FIGURE("noise.coherence.20k-100k", .pair = true, .spread = {0.55, 1.05}),
    FIGURE("noise.coherence.100k-500k", .pair = true, .spread = {0.55, 1.05}),
};

static void fast(struct scene *scene)
{
    struct lds_measure_options options;
    options_init(&options);
    options.tone_hz = 0.0;
    for (int i = 0; i < 2; i++)
        judge_truth(scene, i ? "noise.coherence.100k-500k" : "noise.coherence.20k-100k", SHARED * SHARED);
    for (unsigned seed = 1; seed <= FAST_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *left = sim_samples(FAST_SAMPLES), *right = sim_samples(FAST_SAMPLES);
        add_noise(left, right, FAST_SAMPLES, FAST_RATE, SHARED, &random);
        measure(scene, left, right, FAST_SAMPLES, FAST_RATE, &options);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"both driven", both_rows, sizeof both_rows / sizeof *both_rows, both},
        {"input and output", gain_rows, sizeof gain_rows / sizeof *gain_rows, gain},
        {"sweep in one", swept_rows, sizeof swept_rows / sizeof *swept_rows, swept},
        {"sweep in both", swept_both_rows, sizeof swept_both_rows / sizeof *swept_both_rows, swept_both},
        {"one driven", one_rows, sizeof one_rows / sizeof *one_rows, one},
        {"second driven", back_rows, sizeof back_rows / sizeof *back_rows, back},
        {"two tones", two_rows, sizeof two_rows / sizeof *two_rows, two},
        {"fast", fast_rows, sizeof fast_rows / sizeof *fast_rows, fast},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
