#include "job/roles.h"

#include <math.h>
#include <stdio.h>

#include "hz_words.h"
#include "job/tone.h"

/* What the driven channels of a capture hold, the first that is not one tone before all others. */
static const struct lds_tone *telling(const struct lds_look *look)
{
    const struct lds_tone *telling = NULL;
    for (size_t c = 0; c < look->tones; c++)
        if (lds_tone_is_driven(look->tone, look->tones, c) &&
            (!telling || (telling->tones == 1 && look->tone[c].tones > 1)))
            telling = &look->tone[c];
    return telling;
}

static void write_tones(const struct lds_tone *tone, char *text, size_t size)
{
    char first[32], second[32];
    if (!tone) {
        snprintf(text, size, "no tone");
        return;
    }
    lds_hz_words(tone->frequency_hz, first, sizeof first);
    lds_hz_words(tone->second_hz, second, sizeof second);
    if (tone->tones == 1)
        snprintf(text, size, "a tone of %s", first);
    else if (tone->tones == 2)
        snprintf(text, size, "two tones, %s and %s", first, second);
    else
        snprintf(text, size, "%d tones at once", tone->tones);
}

void lds_role_by_look(const struct lds_sheet_capture *capture, const struct lds_look *look, char *words, size_t size)
{
    const struct lds_tone *tone = telling(look);
    char tones[80];
    bool fits = capture->role == LDS_ROLE_SINE ? tone && tone->tones == 1
                                               : capture->role == LDS_ROLE_CHAIN || !tone || tone->perhaps_hum;
    words[0] = '\0';
    if (fits || !look->good || look->tones == 0)
        return;
    write_tones(tone, tones, sizeof tones);
    snprintf(words, size, "role = %s, and this capture holds %s", lds_role_name(capture->role), tones);
}

void lds_role_by_signal(const struct lds_sheet_capture *capture, const struct lds_look *look,
                        const struct lds_measurement *measurement, char *words, size_t size)
{
    const struct lds_signal *signal = &measurement->signal;
    bool fits = signal->kind == LDS_SIGNAL_NONE || signal->kind == LDS_SIGNAL_SINE;
    words[0] = '\0';
    if (capture->role == LDS_ROLE_IDLE)
        lds_role_by_look(capture, look, words, size);
    else if (capture->role == LDS_ROLE_SINE && !fits)
        snprintf(words, size, "role = sine, and this capture holds %s",
                 signal->words[0]                     ? signal->words
                 : signal->kind == LDS_SIGNAL_SILENCE ? "no tone"
                                                      : lds_signal_name(signal->kind));
}
