#include "measure/tone/frame_line.h"

#include <math.h>

#include "spectrum/window.h"

void lds_frame_lines_init(struct lds_frame_lines *lines, const struct lds_plan_level *level)
{
    double sum = 0.0;
    for (int i = 0; i < level->n; i++)
        sum += level->window[i];
    *lines = (struct lds_frame_lines){level, sqrt(2.0) / sum};
}

/* The nearest bin, divided by the window's known gain there. Nearest bins of frames a quarter apart weigh the capture
 * evenly (to 2 %), so nothing finer is needed. The transform about the centre is real, and (-1)^bin moves the origin
 * there. */
double complex lds_frame_line(const struct lds_frame_lines *lines, const struct lds_frame *frame, double frequency_hz)
{
    double place = frequency_hz * lines->level->n / lines->level->rate_hz;
    int bin = (int)lround(place);
    if (bin < 1 || bin > lines->level->n / 2 - 1)
        return 0.0;
    double gain = lds_window_transform(&lds_window_analysis, place - bin);
    double complex value = frame->spectrum[bin] * (lines->scale / gain);
    return bin % 2 ? -value : value;
}

double lds_frame_tone_follow(struct lds_frame_tone *tone, const struct lds_frame_lines *lines,
                             const struct lds_frame *frame)
{
    double phase = carg(lds_frame_line(lines, frame, tone->tone_hz));
    double offset_hz = 0.0;
    if (tone->frames > 0) {
        double passed_s = frame->centre_s - tone->last_s;
        double turns = (phase - tone->phase) / (2.0 * M_PI) - tone->tone_hz * passed_s;
        offset_hz = (turns - round(turns)) / passed_s;
        if (fabs(offset_hz) > 0.5 * lines->level->rate_hz / lines->level->n)
            offset_hz = 0.0; /* the phase jumped */
    }
    tone->frames++;
    tone->phase = phase;
    tone->last_s = frame->centre_s;
    return tone->tone_hz + offset_hz;
}
