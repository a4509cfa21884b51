/* Figures of whether a capture can be trusted: known faults, and their counts. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/files.h"
#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = 2 * RATE };

/* ---- clipping, gaps, few bits, twins ---- */

enum { CHANNELS = 4, CLIPPED_HZ = 100, GAPS = 3, GAP_SAMPLES = 200, BITS = 16 };

static struct judged fault_rows[] = {
    FIGURE("capture.clipped", .kind = JUDGED_EXACT, .channel = 0),
    FIGURE("capture.gaps", .kind = JUDGED_EXACT, .channel = 1),
    FIGURE("capture.bits", .kind = JUDGED_EXACT, .channel = 1),
    FIGURE("capture.identical", .kind = JUDGED_EXACT, .channel = 2),
};

static double *faulty_channel(int channel)
{
    double *x = sim_samples(SAMPLES);
    struct sim_random random;
    sim_random_seed(&random, channel == 3 ? 2 : (uint64_t)channel);
    sim_add_white(x, SAMPLES, RATE, 1e-6, &random);
    if (channel == 0) {
        sim_add_tone(x, SAMPLES, RATE, &(struct sim_tone){.frequency_hz = CLIPPED_HZ, .level = 0.9, .phase_rad = 1.0});
        sim_clip(x, SAMPLES, 1.0);
    }
    if (channel == 1) {
        sim_add_tone(x, SAMPLES, RATE, &(struct sim_tone){.frequency_hz = 997.0, .level = 0.3});
        sim_quantise(x, SAMPLES, BITS, &random);
        for (int i = 0; i < GAPS; i++)
            memset(x + (i + 1) * SAMPLES / (GAPS + 1), 0, GAP_SAMPLES * sizeof *x);
    }
    return x;
}

static void faults(struct scene *scene)
{
    double *all = sim_samples(CHANNELS * SAMPLES);
    for (int c = 0; c < CHANNELS; c++) {
        double *x = faulty_channel(c);
        for (size_t i = 0; i < SAMPLES; i++)
            all[CHANNELS * i + (size_t)c] = x[i];
        free(x);
    }
    files_setup(NULL);
    const char *path = files_sound("faults.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, RATE, CHANNELS, all, SAMPLES);
    free(all);
    judge_truth(scene, "capture.clipped", 2.0 * CLIPPED_HZ * SAMPLES / RATE);
    judge_truth(scene, "capture.gaps", GAPS);
    judge_truth(scene, "capture.bits", BITS);
    judge_truth(scene, "capture.identical", 1.0);
    struct lds_error error = {0};
    struct lds_capture *capture = NULL;
    struct lds_measurement m;
    struct lds_measure_options options;
    sim_options_init(&options);
    if (lds_capture_open(path, NULL, &capture, &error) != LDS_OK ||
        lds_measure(capture, &options, &m, &error) != LDS_OK) {
        fprintf(stderr, "%s\n", error.message);
        exit(1);
    }
    lds_capture_close(capture);
    files_teardown(NULL);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
}

/* ---- a floor that ends before the capture does ---- */

enum { EDGE_CAPTURES = 24 };

/* Accurate to four bins, half the distance between the floor's nodes; the running median falls to half some ten bins
 * before a sharp edge. */
static struct judged edge_rows[] = {
    FIGURE("capture.bandwidth", .kind = JUDGED_CLOSED, .bias = 100.0),
};

static double up_to_edge(double frequency_hz, const void *edge_hz)
{
    return frequency_hz < *(const double *)edge_hz ? 1e-12 : 1e-18;
}

static void edge(struct scene *scene)
{
    for (unsigned seed = 1; seed <= EDGE_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SAMPLES / 2);
        const double edge_hz = sim_random_between(&random, 9e3, 15e3);
        struct sim_colour *colour = sim_colour_new(SAMPLES / 2, RATE, up_to_edge, &edge_hz);
        sim_colour_add(colour, x, &random);
        sim_colour_free(colour);
        struct lds_measurement m;
        sim_measure(x, SAMPLES / 2, RATE, NULL, &m);
        judge_truth(scene, "capture.bandwidth", edge_hz);
        judge_row(scene, "capture.bandwidth")->u = 4.0 / m.window_s;
        judge_capture(scene, &m);
        lds_measurement_free(&m);
        free(x);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"faults", fault_rows, sizeof fault_rows / sizeof *fault_rows, faults},
        {"edge", edge_rows, sizeof edge_rows / sizeof *edge_rows, edge},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
