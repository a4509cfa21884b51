#include "spectrum/fft.h"

#include <pthread.h>
#include <stdlib.h>

enum { LONGER = 16 /* a length may be longer by this fraction where the plan is then made faster */ };
static pthread_mutex_t planner = PTHREAD_MUTEX_INITIALIZER;

/* FFTW aborts the program when it finds no memory for a plan. So this first tries to allocate as much as the planner
 * may need: tables of some 2n numbers and a few hundred small pieces. */
static bool has_room(int n)
{
    void *room = malloc(((size_t)1 << 20) + (size_t)n * 64);
    void *volatile kept = room; /* otherwise the compiler may remove malloc and free */
    free(kept);
    return room;
}

fftw_plan lds_fft_real(int n, double *in, double complex *out)
{
    if (!has_room(n))
        return NULL;
    pthread_mutex_lock(&planner);
    fftw_plan plan = fftw_plan_dft_r2c_1d(n, in, (fftw_complex *)out, FFTW_ESTIMATE);
    pthread_mutex_unlock(&planner);
    return plan;
}

bool lds_fft_best_in_place(int n)
{
    enum { SHORT = 1 << 14 };
    return n <= SHORT;
}

fftw_plan lds_fft_to_real(int n, double complex *in, double *out)
{
    if (!has_room(n))
        return NULL;
    pthread_mutex_lock(&planner);
    fftw_plan plan = fftw_plan_dft_c2r_1d(n, (fftw_complex *)in, out, FFTW_ESTIMATE);
    pthread_mutex_unlock(&planner);
    return plan;
}

fftw_plan lds_fft_complex(int n, double complex *points, int sign)
{
    if (!has_room(n))
        return NULL;
    pthread_mutex_lock(&planner);
    fftw_plan plan = fftw_plan_dft_1d(n, (fftw_complex *)points, (fftw_complex *)points, sign, FFTW_ESTIMATE);
    pthread_mutex_unlock(&planner);
    return plan;
}

void lds_fft_again(fftw_plan plan, double *x)
{
    fftw_execute_dft_r2c(plan, x, (fftw_complex *)x);
}

/* A measure of the time that planning takes. FFTW tries the ways to divide a length, above all by two, and that takes
 * longer than a transform. */
static size_t effort(size_t n)
{
    static const size_t prime[] = {2, 3, 5};
    size_t times[3] = {0};
    for (int i = 0; i < 3; i++)
        for (; n % prime[i] == 0; n /= prime[i])
            times[i]++;
    return (times[0] * times[0] + 1) * (times[1] + 1) * (times[2] + 1);
}

size_t lds_fft_length(size_t least)
{
    const size_t most = least + least / LONGER + 2;
    size_t best = 0, two = 2;
    while (two < least)
        two *= 2;
    for (size_t five = 1; five <= most; five *= 5)
        for (size_t three = five; three <= most; three *= 3)
            for (size_t n = 2 * three; n <= most; n *= 2)
                if (n >= least && (best == 0 || effort(n) < effort(best)))
                    best = n;
    return best > 0 ? best : two;
}

fftw_plan lds_fft_cosine(int n, double *points, bool back)
{
    if (!has_room(2 * n))
        return NULL;
    pthread_mutex_lock(&planner);
    fftw_plan plan = fftw_plan_r2r_1d(n, points, points, back ? FFTW_REDFT01 : FFTW_REDFT10, FFTW_ESTIMATE);
    pthread_mutex_unlock(&planner);
    return plan;
}

void lds_fft_free(fftw_plan plan)
{
    if (!plan)
        return;
    pthread_mutex_lock(&planner);
    fftw_destroy_plan(plan);
    pthread_mutex_unlock(&planner);
}
