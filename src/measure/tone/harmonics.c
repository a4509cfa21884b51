#include "measure/tone/harmonics.h"

#include <math.h>
#include <stdlib.h>

#include "spectrum/window.h"

struct lds_harmonics {
    const struct lds_plan_level *level;
    double tone_hz;
    int first, last;
    double scale; /* from |X| to the rms of a sine: sqrt(2)/sum w */
    int frames;
    double last_phase, last_centre_s;
    double complex *sum; /* [0]: level of the fundamental; order k is at [k - first + 1] */
};

struct lds_harmonics *lds_harmonics_new(const struct lds_plan_level *level, double tone_hz, int first, int last)
{
    struct lds_harmonics *h = calloc(1, sizeof *h);
    if (!h)
        return NULL;
    *h = (struct lds_harmonics){.level = level, .tone_hz = tone_hz, .first = first, .last = last};
    h->sum = calloc((size_t)(last >= first ? last - first + 2 : 1), sizeof *h->sum);
    if (!h->sum) {
        free(h);
        return NULL;
    }
    double sum = 0.0;
    for (int i = 0; i < level->n; i++)
        sum += level->window[i];
    h->scale = sqrt(2.0) / sum;
    return h;
}

/* The line at frequency_hz in this frame: the nearest bin, divided by the window's known gain there. Nearest bins of
 * frames a quarter apart weigh the capture evenly (to 2 %), so nothing finer is needed. The phase is that at the
 * frame's centre: the transform about the centre is real, and (-1)^bin moves the origin there. */
static double complex pick(const struct lds_harmonics *h, const struct lds_frame *frame, double frequency_hz)
{
    double place = frequency_hz * h->level->n / h->level->rate_hz;
    int bin = (int)lround(place);
    if (bin < 1 || bin > h->level->n / 2 - 1)
        return 0.0;
    double gain = lds_window_transform(&lds_window_analysis, place - bin);
    double complex value = frame->spectrum[bin] * (h->scale / gain);
    return bin % 2 ? -value : value;
}

/* Frequency in this frame, from the phase by which the tone has advanced since the previous one. */
static double frame_frequency(struct lds_harmonics *h, const struct lds_frame *frame)
{
    double phase = carg(pick(h, frame, h->tone_hz));
    double offset_hz = 0.0;
    if (h->frames > 0) {
        double passed_s = frame->centre_s - h->last_centre_s;
        double turns = (phase - h->last_phase) / (2.0 * M_PI) - h->tone_hz * passed_s;
        offset_hz = (turns - round(turns)) / passed_s;
        if (fabs(offset_hz) > 0.5 * h->level->rate_hz / h->level->n)
            offset_hz = 0.0; /* the phase jumped */
    }
    h->last_phase = phase;
    h->last_centre_s = frame->centre_s;
    return h->tone_hz + offset_hz;
}

void lds_harmonics_frame(struct lds_harmonics *h, const struct lds_frame *frame)
{
    double f1 = frame_frequency(h, frame);
    double complex fundamental = pick(h, frame, f1);
    double level = cabs(fundamental);
    if (level <= 0.0)
        return;
    double phase = carg(fundamental);
    h->sum[0] += level;
    for (int k = h->first; k <= h->last; k++) {
        double angle = fmod((double)k * phase, 2.0 * M_PI);
        h->sum[k - h->first + 1] += pick(h, frame, k * f1) * cexp(-I * angle);
    }
    h->frames++;
}

double complex lds_harmonics_mean(const struct lds_harmonics *harmonics, int order)
{
    if (harmonics->frames == 0)
        return 0.0;
    int index = order == 1 ? 0 : order - harmonics->first + 1;
    return harmonics->sum[index] / harmonics->frames;
}

int lds_harmonics_last(const struct lds_harmonics *harmonics)
{
    return harmonics->last;
}

void lds_harmonics_free(struct lds_harmonics *harmonics)
{
    if (!harmonics)
        return;
    free(harmonics->sum);
    free(harmonics);
}
