/* The levels on which a capture is analysed. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "spectrum/cascade.h"
#include "spectrum/fft.h"
#include "spectrum/window.h"

static const double AUDIO_TOP_HZ = 20020.0; /* 20 kHz plus the 1e-3 by which a band's last harmonic may exceed it */
static const double USABLE = 0.4;           /* of a decimated level's rate */
static const double SLOW_RATE_HZ = 5250.0;  /* mains order 40 of 50 Hz with its wander is within 0.4 of the rate */
static const double SLOW_USED = 0.38;
enum { FRAME_MAX = 1 << 17, FRAME_MIN = 64, RAW_FRAME = 1 << 14, SLOW_FRAME_MAX = 1 << 14 };

static int floor_pow2(double x)
{
    int n = FRAME_MIN;
    while (n < FRAME_MAX && 2.0 * n <= x)
        n *= 2;
    return n;
}

static int ceil_pow2(double x)
{
    int n = FRAME_MIN;
    while (n < FRAME_MAX && n < x)
        n *= 2;
    return n;
}

static int shift_for(double rate_hz, double least_hz)
{
    int shift = 0;
    while (ldexp(rate_hz, -shift - 1) >= least_hz)
        shift++;
    return shift;
}

int lds_audio_shift(double rate_hz)
{
    return shift_for(rate_hz, AUDIO_TOP_HZ / USABLE);
}

static int longest_frame(double rate_hz, double seconds)
{
    return floor_pow2(rate_hz * seconds / 2.0);
}

double lds_plan_finest_hz(double rate_hz, int64_t frames)
{
    double audio_hz = ldexp(rate_hz, -lds_audio_shift(rate_hz));
    return (LDS_LOBE_BINS + 0.5) * audio_hz / longest_frame(audio_hz, (double)frames / rate_hz);
}

/* About 0.3 to 0.6 s, or an eighth of a short capture; but the lobe (7 bins) of a low tone must be clear of DC. */
static int audio_frame(double rate_hz, double seconds, double lowest_hz)
{
    int n = floor_pow2(rate_hz * fmin(0.6, seconds / 8.0));
    if (lowest_hz > 0.0) {
        int need = ceil_pow2((LDS_LOBE_BINS + 0.5) * rate_hz / lowest_hz);
        int most = longest_frame(rate_hz, seconds);
        if (need > n)
            n = need < most ? need : most;
    }
    return n;
}

/* A sixth of the capture. A short capture gets longer frames and so fewer averages, so that lines stay narrower than
 * the spacing of mains orders and the lobe at DC ends well below 20 Hz. */
static int slow_frame(double rate_hz, double seconds)
{
    int n = floor_pow2(rate_hz * fmax(seconds / 6.0, fmin(seconds / 2.0, 0.8)));
    return n < SLOW_FRAME_MAX ? n : SLOW_FRAME_MAX;
}

static bool level_make(struct lds_plan_level *level, const struct lds_plan *plan)
{
    level->rate_hz = ldexp(plan->rate_hz, -level->shift);
    level->window = malloc((size_t)level->n * sizeof *level->window);
    if (!level->window)
        return false;
    lds_window_fill(&lds_window_analysis, (size_t)level->n, level->window);
    double *samples = fftw_alloc_real((size_t)level->n);
    double complex *spectrum = (double complex *)fftw_alloc_complex((size_t)level->n / 2 + 1);
    if (samples && spectrum)
        level->fft = lds_fft_real(level->n, lds_fft_best_in_place(level->n) ? (double *)spectrum : samples, spectrum);
    fftw_free(samples);
    fftw_free(spectrum);
    return level->fft != NULL;
}

static void choose_levels(struct lds_plan *plan, double lowest_hz, double lines_to_hz)
{
    double seconds = (double)plan->frames / plan->rate_hz;
    int audio = lds_audio_shift(plan->rate_hz);
    plan->slow_shift = shift_for(plan->rate_hz, SLOW_RATE_HZ);
    plan->slow_rate_hz = ldexp(plan->rate_hz, -plan->slow_shift);
    double audio_rate = ldexp(plan->rate_hz, -audio);
    int audio_n = audio_frame(audio_rate, seconds, lowest_hz);
    int slow_n = slow_frame(plan->slow_rate_hz, seconds);
    struct lds_plan_level *level = plan->level;
    double low_hz = 0.0;
    if (plan->slow_shift > audio && slow_n / plan->slow_rate_hz > 1.2 * audio_n / audio_rate) {
        *level = (struct lds_plan_level){.shift = plan->slow_shift, .n = slow_n, .hop = slow_n / 4};
        low_hz = level->high_hz = SLOW_USED * plan->slow_rate_hz;
        level++;
    }
    plan->audio = (int)(level - plan->level);
    *level = (struct lds_plan_level){.shift = audio, .n = audio_n, .hop = audio_n / 4, .low_hz = low_hz};
    level->high_hz = audio ? USABLE * audio_rate : plan->end_hz;
    low_hz = level->high_hz;
    level++;
    for (int shift = audio; shift > 0;) {
        shift = shift > 5 ? shift / 2 : 0;
        double rate = ldexp(plan->rate_hz, -shift);
        bool lines = lines_to_hz > low_hz && lowest_hz > 0.0;
        int n = lines ? ceil_pow2((LDS_LOBE_BINS + 0.5) * rate / lowest_hz) : RAW_FRAME;
        n = n < RAW_FRAME ? RAW_FRAME : n;
        int most = floor_pow2(rate * seconds / 8.0);
        n = n < most ? n : most;
        *level = (struct lds_plan_level){.shift = shift, .n = n, .hop = lines ? n / 4 : n / 2, .low_hz = low_hz};
        low_hz = level->high_hz = shift ? USABLE * rate : plan->end_hz;
        level++;
    }
    plan->levels = (int)(level - plan->level);
}

bool lds_plan_make(struct lds_plan *plan, double rate_hz, int64_t frames, double lowest_hz, double lines_to_hz)
{
    memset(plan, 0, sizeof *plan);
    plan->rate_hz = rate_hz;
    plan->frames = frames;
    plan->end_hz = LDS_USABLE_SHARE * rate_hz;
    choose_levels(plan, lowest_hz, lines_to_hz);
    for (int i = 0; i < plan->levels; i++)
        if (!level_make(&plan->level[i], plan))
            return false;
    return true;
}

void lds_plan_free(struct lds_plan *plan)
{
    for (int i = 0; i < plan->levels; i++) {
        free(plan->level[i].window);
        lds_fft_free(plan->level[i].fft);
    }
    memset(plan, 0, sizeof *plan);
}
