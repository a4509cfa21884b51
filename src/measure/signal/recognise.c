/* Decides what was played, and what that means for the rest: a tone that is part of something else does not count as a
 * tone. */
#include <math.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/signal/course.h"
#include "measure/signal/signal.h"

static bool make(const struct lds_findings *start, void **state)
{
    *state = lds_course_new(start->shape->plan);
    return *state != NULL;
}

static bool finish(void *state, struct lds_findings *findings)
{
    if (findings->driven->undriven && !findings->dc.power_on) {
        findings->signal.kind = LDS_SIGNAL_SILENCE;
        findings->from_s = findings->to_s = NAN;
        return true;
    }
    struct lds_course_result course;
    lds_course_finish(state, findings->audio_start_s, &course);
    const struct lds_signal_evidence evidence = {.stated = findings->shape->stated,
                                                 .power_on = findings->dc.power_on,
                                                 .in_volts = findings->info->in_volts,
                                                 .volts_per_unit = lds_bench_volts_per_unit(findings->bench),
                                                 .seconds = findings->seconds,
                                                 .scout = &findings->scout,
                                                 .course = &course,
                                                 .density = &findings->density};
    struct lds_signal_found found;
    if (!lds_signal_recognise(&evidence, &found))
        return false;
    findings->signal = found.signal;
    /* A tone given by tone_hz only tells the search where to look. */
    findings->signal.stated = found.signal.stated && findings->options->signal.kind != LDS_SIGNAL_NONE;
    findings->from_s = found.from_s;
    findings->to_s = found.to_s;
    memcpy(findings->unsteady, found.unsteady, sizeof findings->unsteady);
    if (found.why[0])
        memcpy(findings->scout.why, found.why, sizeof findings->scout.why);
    bool tone = lds_signal_has(found.signal.kind, LDS_PLAYS_STILL | LDS_PLAYS_TONE);
    findings->has_tone = findings->track.usable && tone;
    if (findings->has_tone)
        findings->signal.frequency_hz[0] = findings->track.frequency_hz;
    return true;
}

const struct lds_analyser lds_analyse_signal = {
    .make = make, .audio = lds_course_push, .frame = lds_course_frame_push, .finish = finish, .free = lds_course_free};
