#include "job/look.h"

#include <stdio.h>

#include "hz_words.h"
#include "job/roles.h"
#include "job/tone.h"

/* The tone of the first driven channel, or of the first one with several tones, if there is one. */
static const struct lds_tone *telling(const struct lds_look *look)
{
    const struct lds_tone *telling = NULL;
    for (size_t c = 0; c < look->tones; c++)
        if (lds_tone_is_driven(look->tone, look->tones, c) &&
            (!telling || (telling->tones == 1 && look->tone[c].tones > 1)))
            telling = &look->tone[c];
    return telling;
}

/* A short look cannot see a signal move or stop. NONE: it does not tell. */
static enum lds_signal_kind kind_of(const struct lds_tone *tone)
{
    if (!tone || tone->perhaps_hum)
        return LDS_SIGNAL_SILENCE;
    return tone->tones == 1 ? LDS_SIGNAL_SINE : tone->tones == 2 ? LDS_SIGNAL_TWO_TONE : LDS_SIGNAL_NONE;
}

/* Whether a capture that should hold such a signal may have that tone. */
static bool may_hold(enum lds_signal_kind holds, const struct lds_tone *tone)
{
    switch (holds) {
    case LDS_SIGNAL_SILENCE:
        return !tone || tone->perhaps_hum;
    case LDS_SIGNAL_SINE:
        return tone && tone->tones == 1;
    case LDS_SIGNAL_TWO_TONE:
        return tone && tone->tones == 2;
    default:
        return true;
    }
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

const struct lds_role *lds_role_of_look(const struct lds_look *look, char *words, size_t size)
{
    const struct lds_tone *tone = telling(look);
    char tones[80];
    write_tones(tone, tones, sizeof tones);
    snprintf(words, size, "%s%s", tones, tone && tone->perhaps_hum ? ", which may be hum" : "");
    return lds_role_leading(kind_of(tone));
}

void lds_role_by_look(const struct lds_sheet_capture *capture, const struct lds_look *look, char *words, size_t size)
{
    const struct lds_tone *tone = telling(look);
    char tones[80];
    words[0] = '\0';
    if (may_hold(capture->role->holds, tone) || !look->good || look->tones == 0)
        return;
    write_tones(tone, tones, sizeof tones);
    snprintf(words, size, "role = %s, and this capture holds %s", capture->role->name, tones);
}

void lds_role_by_signal(const struct lds_sheet_capture *capture, const struct lds_look *look,
                        const struct lds_measurement *measurement, char *words, size_t size)
{
    const struct lds_signal *signal = &measurement->signal;
    enum lds_signal_kind holds = capture->role->holds;
    words[0] = '\0';
    if (holds == LDS_SIGNAL_SILENCE)
        lds_role_by_look(capture, look, words, size);
    else if (holds != LDS_SIGNAL_NONE && signal->kind != LDS_SIGNAL_NONE && signal->kind != holds)
        snprintf(words, size, "role = %s, and this capture holds %s", capture->role->name,
                 signal->words[0]                     ? signal->words
                 : signal->kind == LDS_SIGNAL_SILENCE ? "no tone"
                 : signal->kind == LDS_SIGNAL_SINE    ? "one tone"
                                                      : lds_signal_name(signal->kind));
}
