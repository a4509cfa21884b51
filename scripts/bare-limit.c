/* The least that any Welch spectrum of a capture costs: libsndfile reads every frame once, and every channel goes
 * through a windowed 2^16-point real FFT at 50 % overlap whose power is summed. Two threads share the work in the
 * simplest way that keeps both busy: each opens the file itself and takes one half of the segments.
 *
 * usage: bare-limit CAPTURE [THREADS]      prints the mean power of each channel, so that nothing can be left out */
#include <fftw3.h>
#include <math.h>
#include <pthread.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LENGTH = 1 << 16, HOP = LENGTH / 2, BINS = LENGTH / 2 + 1, THREADS_MAX = 16 };

struct half {
    const char *path;
    const double *window;
    fftw_plan plan;
    sf_count_t first; /* segments first .. end - 1 */
    sf_count_t end;
    int channels;
    double *power; /* channels x BINS */
    int failed;
};

/* One channel of LENGTH frames, windowed, transformed, its power added. */
static void add_segment(const struct half *half, const double *frames, int channel, double *x, fftw_complex *y)
{
    for (int i = 0; i < LENGTH; i++)
        x[i] = half->window[i] * frames[(size_t)i * (size_t)half->channels + (size_t)channel];
    fftw_execute_dft_r2c(half->plan, x, y);
    double *power = half->power + (size_t)channel * BINS;
    for (int i = 0; i < BINS; i++)
        power[i] += y[i][0] * y[i][0] + y[i][1] * y[i][1];
}

static void *run_half(void *argument)
{
    struct half *half = argument;
    SF_INFO info = {0};
    SNDFILE *file = sf_open(half->path, SFM_READ, &info);
    const size_t stride = (size_t)half->channels;
    double *frames = malloc(LENGTH * stride * sizeof *frames);
    double *x = fftw_alloc_real(LENGTH);
    fftw_complex *y = fftw_alloc_complex(BINS);
    half->failed = !file || !frames || !x || !y || sf_seek(file, half->first * HOP, SEEK_SET) < 0 ||
                   sf_readf_double(file, frames, HOP) != HOP;
    for (sf_count_t segment = half->first; !half->failed && segment < half->end; segment++) {
        half->failed = sf_readf_double(file, frames + HOP * stride, HOP) != HOP;
        for (int channel = 0; channel < half->channels; channel++)
            add_segment(half, frames, channel, x, y);
        memcpy(frames, frames + HOP * stride, HOP * stride * sizeof *frames);
    }
    if (file)
        sf_close(file);
    free(frames);
    fftw_free(x);
    fftw_free(y);
    return NULL;
}

static fftw_plan make_plan(double *window)
{
    double *x = fftw_alloc_real(LENGTH);
    fftw_complex *y = fftw_alloc_complex(BINS);
    fftw_plan plan = fftw_plan_dft_r2c_1d(LENGTH, x, y, FFTW_ESTIMATE);
    fftw_free(x);
    fftw_free(y);
    for (int i = 0; i < LENGTH; i++)
        window[i] = 0.5 - 0.5 * cos(2 * M_PI * i / LENGTH);
    return plan;
}

static int run(const char *path, const SF_INFO *info, int threads)
{
    static double window[LENGTH];
    struct half half[THREADS_MAX];
    pthread_t thread[THREADS_MAX];
    fftw_plan plan = make_plan(window);
    const sf_count_t segments = info->frames / HOP - 1;
    int failed = 0;
    for (int i = 0; i < threads; i++) {
        half[i] = (struct half){path,
                                window,
                                plan,
                                segments * i / threads,
                                segments * (i + 1) / threads,
                                info->channels,
                                calloc((size_t)info->channels * BINS, sizeof(double)),
                                0};
        pthread_create(&thread[i], NULL, run_half, &half[i]);
    }
    for (int i = 0; i < threads; i++) {
        pthread_join(thread[i], NULL);
        failed |= half[i].failed;
    }
    for (int channel = 0; channel < info->channels; channel++) {
        double sum = 0;
        for (int i = 0; i < threads; i++)
            for (int bin = 0; bin < BINS; bin++)
                sum += half[i].power[channel * BINS + bin];
        printf("channel %d: mean power %.6e\n", channel + 1, sum / (double)segments);
    }
    for (int i = 0; i < threads; i++)
        free(half[i].power);
    fftw_destroy_plan(plan);
    return failed;
}

int main(int argc, char **argv)
{
    const int threads = argc > 2 ? (int)strtol(argv[2], NULL, 10) : 2;
    SF_INFO info = {0};
    SNDFILE *file = argc > 1 ? sf_open(argv[1], SFM_READ, &info) : NULL;
    if (!file || info.frames < LENGTH || threads < 1 || threads > THREADS_MAX) {
        fprintf(stderr, "usage: bare-limit CAPTURE [THREADS 1..%d]\n", (int)THREADS_MAX);
        return 2;
    }
    sf_close(file);
    if (run(argv[1], &info, threads)) {
        fprintf(stderr, "bare-limit: %s: read failed\n", argv[1]);
        return 2;
    }
    return 0;
}
