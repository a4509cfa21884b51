#include "measure/signal/signal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "measure/signal/course_levels.h"
#include "measure/signal/course_lines.h"

/* Common practice, no source. */
static const double STAYS = 0.8;       /* share of the frames in which a single tone has its line at the same place */
static const double STAYS_LOUD = 0.95; /* share of their power: frames at the edge of a burst have no clear line */
static const double BURST_LINE = 1.0;  /* half the width of a burst's line, over 1/length */
static const double LINE_SHARE = 0.3;  /* smallest share of the power in a tone's line while it is on */
static const double MOSTLY = 0.6;      /* of the power: a tone with less may be a voice */
static const double TONE_DBFS = -66.0; /* as for the tone that the look searches */
static const double LOUD_DBFS = -40.0; /* broad sound below this is noise of an idle output; */
static const double LOUD_V = 0.02;     /* the same at the load */
static const double CHANGES_DB = 1.0;  /* over eighths of the capture: music or speech */
static const double BROAD = 0.5;       /* share of the power that is spread like noise */

enum { HUM_ORDERS = 40 };

static double rms_power(const struct lds_course_result *course)
{
    double sum = 0.0;
    for (size_t i = 0; i < course->stretches; i++)
        sum += course->power[i] / (double)course->stretches;
    return sum;
}

static double loudest(const struct lds_course_result *course)
{
    double most = 0.0;
    for (size_t i = 0; i < course->frames; i++)
        most = fmax(most, course->frame[i].line);
    return most;
}

static bool is_loud(const struct lds_signal_evidence *e)
{
    double power = rms_power(e->course);
    bool volts = isnan(e->volts_per_unit) || sqrt(power) * e->volts_per_unit >= LOUD_V;
    return volts && (e->in_volts || 10.0 * log10(2.0 * power) >= LOUD_DBFS);
}

static void words(struct lds_signal *signal, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void words(struct lds_signal *signal, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    vsnprintf(signal->words, sizeof signal->words, format, list);
    va_end(list);
}

/* "997.3 Hz", "19 kHz" */
static const char *hz(double frequency_hz, char text[24])
{
    if (frequency_hz >= 1e3)
        snprintf(text, 24, "%.5g kHz", frequency_hz / 1e3);
    else
        snprintf(text, 24, "%.4g Hz", frequency_hz);
    return text;
}

/* For frequencies known only to some bins of a frame. */
static const char *about_hz(double frequency_hz, char text[24])
{
    bool kilo = frequency_hz >= 995.0;
    double number = kilo ? frequency_hz / 1e3 : frequency_hz;
    double step = number > 0.0 ? pow(10.0, floor(log10(number)) - 1.0) : 1.0; /* two significant digits */
    snprintf(text, 24, "%.4g %sHz", step * round(number / step), kilo ? "k" : "");
    return text;
}

static void decide(struct lds_signal *signal, enum lds_signal_kind kind, double first_hz, double second_hz)
{
    signal->kind = kind;
    signal->frequency_hz[0] = first_hz;
    signal->frequency_hz[1] = second_hz;
}

static void as_looked(const struct lds_scout *scout, struct lds_signal *signal)
{
    char a[24], b[24];
    bool tone = !isnan(scout->tone_hz);
    if (!tone || scout->tones < 2) {
        decide(signal, tone ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE, scout->tone_hz, NAN);
        if (tone && scout->hum_order > 0)
            words(signal,
                  "a tone of %s, or hum of the mains: there is no telling which (state --tone %.4g or --tone 0)",
                  hz(scout->tone_hz, a), scout->tone_hz);
    } else if (scout->tones == 2) {
        decide(signal, LDS_SIGNAL_TWO_TONE, scout->tone_hz, scout->second_hz);
        words(signal, "two strong tones, %s and %s", hz(fmin(scout->tone_hz, scout->second_hz), a),
              hz(fmax(scout->tone_hz, scout->second_hz), b));
    } else {
        decide(signal, LDS_SIGNAL_PROGRAMME, NAN, NAN);
        words(signal, "%d strong tones at once", scout->tones);
    }
}

/* For what is neither a single tone nor a sweep, or has several lines: does its spectrum stay the same, and is it
 * noise? */
static bool judge_spectrum(const struct lds_signal_evidence *e, struct lds_signal *signal)
{
    struct lds_spectrum_course spectrum;
    if (!lds_spectrum_course_find(e->density, &spectrum))
        return false;
    as_looked(e->scout, signal);
    bool tone = !isnan(e->scout->tone_hz);
    if (spectrum.change_db > CHANGES_DB) {
        decide(signal, LDS_SIGNAL_PROGRAMME, NAN, NAN);
        words(signal, "music, speech, or something else that changes all the time");
    } else if (!tone && spectrum.broad >= BROAD) {
        decide(signal, LDS_SIGNAL_NOISE, NAN, NAN);
        words(signal, "broad and steady noise, so loud that it was hardly the amplifier's own");
    } else if (!tone && !e->scout->hum) {
        decide(signal, LDS_SIGNAL_PROGRAMME, NAN, NAN);
        words(signal, "many lines at once");
    }
    return true;
}

static void name_bursts(const struct lds_levels *levels, double tone_hz, struct lds_signal *signal)
{
    char text[24];
    decide(signal, LDS_SIGNAL_BURST, tone_hz, NAN);
    words(signal, "a tone of about %s in bursts, %d of them", about_hz(tone_hz, text), levels->count);
}

/* For one tone throughout, or two: how its level changes. */
static bool judge_level(const struct lds_signal_evidence *e, double tone_hz, double share,
                        struct lds_signal_found *found)
{
    struct lds_levels levels;
    char text[24];
    if (!lds_levels_find(e->course, tone_hz, &levels))
        return false;
    switch (levels.kind) {
    case LDS_LEVELS_WHOLE:
        if (e->scout->tones > 1 || (share < MOSTLY && is_loud(e)))
            return judge_spectrum(e, &found->signal);
        as_looked(e->scout, &found->signal);
        break;
    case LDS_LEVELS_BURSTS:
        name_bursts(&levels, tone_hz, &found->signal);
        break;
    case LDS_LEVELS_STEPS:
        decide(&found->signal, LDS_SIGNAL_STAIRCASE, tone_hz, NAN);
        words(&found->signal, "a tone of %s that steps in level", hz(tone_hz, text));
        break;
    case LDS_LEVELS_PART:
        as_looked(e->scout, &found->signal);
        found->from_s = levels.from_s;
        found->to_s = levels.to_s;
        if (found->signal.kind == LDS_SIGNAL_SILENCE)
            decide(&found->signal, LDS_SIGNAL_SINE, tone_hz, NAN);
        if (found->signal.kind == LDS_SIGNAL_SINE)
            words(&found->signal, "a tone of %s from %.4g to %.4g s, with silence around it", hz(tone_hz, text),
                  levels.from_s, levels.to_s);
        break;
    }
    return true;
}

/* The shorter a burst, the wider its line, and the peak may be anywhere within that width. */
static bool judge_short_bursts(const struct lds_signal_evidence *e, const struct lds_line_course *line,
                               struct lds_signal_found *found, bool *bursts)
{
    struct lds_levels levels;
    struct lds_line_course wide;
    if (!lds_levels_find(e->course, line->frequency_hz, &levels))
        return false;
    if (levels.kind != LDS_LEVELS_BURSTS)
        return true;
    if (!lds_line_course_find(e->course, NAN, BURST_LINE / levels.longest_s, &wide))
        return false;
    *bursts = wide.stays >= STAYS;
    if (*bursts)
        name_bursts(&levels, line->frequency_hz, &found->signal);
    return true;
}

static bool is_order(double frequency_hz, double mains_hz, double bin_hz)
{
    double order = round(frequency_hz / mains_hz);
    return order <= HUM_ORDERS && fabs(frequency_hz - order * mains_hz) < 2.0 * bin_hz;
}

static bool judge(const struct lds_signal_evidence *e, struct lds_signal_found *found)
{
    struct lds_line_course line;
    char a[24], b[24];
    if (!lds_line_course_find(e->course, e->scout->second_hz, 0.0, &line))
        return false;
    bool tone = !isnan(e->scout->tone_hz);
    bool audible = e->in_volts || 10.0 * log10(2.0 * loudest(e->course)) >= TONE_DBFS;
    bool hum = e->scout->hum && is_order(line.frequency_hz, e->scout->mains_hz, e->course->bin_hz);
    if ((line.stays >= STAYS || line.power_stays >= STAYS_LOUD) &&
        (tone || (audible && line.share >= LINE_SHARE && !hum)))
        return judge_level(e, tone ? e->scout->tone_hz : line.frequency_hz, line.share, found);
    bool bursts = false;
    if (audible && !line.sweeps && !judge_short_bursts(e, &line, found, &bursts))
        return false;
    if (bursts)
        return true;
    if (line.sweeps && audible) {
        decide(&found->signal, LDS_SIGNAL_SWEEP, line.from_hz, line.to_hz);
        words(&found->signal, "a sweep from about %s to %s", about_hz(line.from_hz, a), about_hz(line.to_hz, b));
        return true;
    }
    if (is_loud(e))
        return judge_spectrum(e, &found->signal);
    as_looked(e->scout, &found->signal);
    return true;
}

/* Why there are no figures of a single steady tone. */
static void give_reason(struct lds_signal_found *found)
{
    enum lds_signal_kind kind = found->signal.kind;
    if (!lds_signal_has(kind, LDS_PLAYS_ONE))
        snprintf(found->why, sizeof found->why, "%s: this needs one steady tone", found->signal.words);
    const bool played = !lds_signal_has(kind, LDS_PLAYS_STILL) && found->signal.stated; /* not the amplifier's own */
    if (!lds_signal_is_steady(kind) || played || !isnan(found->from_s))
        snprintf(found->unsteady, sizeof found->unsteady, "%s: this needs an idle output or one steady tone",
                 found->signal.words);
}

/* For a stated signal. The look has already found a stated tone, or that it is not there. */
static void as_stated(const struct lds_signal_evidence *e, struct lds_signal *signal)
{
    enum lds_signal_kind kind = e->stated.kind;
    if (lds_signal_has(kind, LDS_PLAYS_STILL)) {
        as_looked(e->scout, signal);
        signal->stated = signal->kind == kind;
        return;
    }
    signal->stated = true;
    const bool tone = lds_signal_has(kind, LDS_PLAYS_TONE);
    const bool stated = !isnan(e->stated.frequency_hz[0]);
    decide(signal, kind, tone && !stated ? e->scout->tone_hz : e->stated.frequency_hz[0], e->stated.frequency_hz[1]);
    words(signal, "%s, as stated", lds_signal_phrase(kind));
}

static void as_power_on(struct lds_signal *signal)
{
    decide(signal, LDS_SIGNAL_POWER_ON, NAN, NAN);
    words(signal, "%s", lds_signal_phrase(LDS_SIGNAL_POWER_ON));
}

bool lds_signal_recognise(const struct lds_signal_evidence *e, struct lds_signal_found *found)
{
    *found = (struct lds_signal_found){.from_s = NAN, .to_s = NAN};
    found->signal = (struct lds_signal){.delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}};
    if (e->stated.kind != LDS_SIGNAL_NONE)
        as_stated(e, &found->signal);
    else if (e->power_on)
        as_power_on(&found->signal);
    else if (!judge(e, found))
        return false;
    give_reason(found);
    return true;
}
