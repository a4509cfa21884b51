#include "measure/tone/harmonics.h"

#include <math.h>
#include <stdlib.h>

#include "measure/tone/frame_line.h"

struct lds_harmonics {
    struct lds_frame_lines lines;
    struct lds_frame_tone tone;
    int first, last;
    int frames;
    double complex *sum; /* [0]: level of the fundamental; order k is at [k - first + 1] */
};

struct lds_harmonics *lds_harmonics_new(const struct lds_plan_level *level, double tone_hz, int first, int last)
{
    struct lds_harmonics *h = calloc(1, sizeof *h);
    if (!h)
        return NULL;
    *h = (struct lds_harmonics){.tone = {.tone_hz = tone_hz}, .first = first, .last = last};
    h->sum = calloc((size_t)(last >= first ? last - first + 2 : 1), sizeof *h->sum);
    if (!h->sum) {
        free(h);
        return NULL;
    }
    lds_frame_lines_init(&h->lines, level);
    return h;
}

void lds_harmonics_frame(struct lds_harmonics *h, const struct lds_frame *frame)
{
    double f1 = lds_frame_tone_follow(&h->tone, &h->lines, frame);
    double complex fundamental = lds_frame_line(&h->lines, frame, f1);
    double level = cabs(fundamental);
    if (level <= 0.0)
        return;
    double phase = carg(fundamental);
    h->sum[0] += level;
    for (int k = h->first; k <= h->last; k++) {
        double angle = fmod((double)k * phase, 2.0 * M_PI);
        h->sum[k - h->first + 1] += lds_frame_line(&h->lines, frame, k * f1) * cexp(-I * angle);
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
