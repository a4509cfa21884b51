/* Source impedance from one capture in which the load was switched there and back. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "constants.h"
#include "fail.h"
#include "measure/impedance/result.h"
#include "measure/impedance/step.h"
#include "record/record.h"
#include "scarce.h"

struct work {
    struct lds_capture *capture;
    const struct lds_measure_options *measuring;
    struct lds_load load[2];
    double damping_ohm;
    size_t made;
    char why[320]; /* of the first channel without a figure */
    struct lds_error *error;
};

/* What the measurement of the whole capture says about a channel's tone. */
struct tone {
    double hum_u;
    unsigned flags;
};

/* The tone as it was measured, or the strongest line of a short look. NAN: there is none. */
static enum lds_status tone_of(struct work *w, const struct lds_channel *channel, double *tone_hz)
{
    const struct lds_figure *frequency = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
    struct lds_tone tone[LDS_CHANNELS_MAX];
    size_t tones = 0;
    *tone_hz = frequency ? frequency->value : (double)NAN;
    if (frequency)
        return LDS_OK;
    enum lds_status status = lds_measure_tones(w->capture, w->measuring, tone, &tones, w->error);
    for (size_t i = 0; !status && i < tones; i++)
        if (tone[i].channel == channel->channel && tone[i].tones < 2)
            *tone_hz = tone[i].frequency_hz;
    return status;
}

/* Says that no step was found, and how large a source impedance would have shown. */
static void say_no_step(const struct work *w, const struct lds_step_fit *fit, char *why, size_t size)
{
    const double most = fabs(creal(fit->step.log_ratio)) + LDS_COVERAGE * fit->step.u[0];
    const bool heavier = w->load[0].ohm < w->load[1].ohm; /* the first load gives the lower level */
    const struct lds_load_step step = {
        .log_ratio = heavier ? -most : most, .u = {fit->step.u[0], NAN}, .dof = fit->step.dof};
    struct lds_source_impedance least;
    const bool known = lds_two_loads(w->load, &step, &least);
    int length = snprintf(why, size,
                          "the level does not change by more than %.2g dB: no step from one load to the other "
                          "and back is found; switch the load during the capture",
                          most * 20.0 / M_LN10);
    if (known && length > 0 && (size_t)length < size)
        snprintf(why + length, size - (size_t)length, "; if it was switched, the source impedance is below %.2g %s",
                 least.value < 1.0 ? 1e3 * least.value : least.value, least.value < 1.0 ? "mohm" : "ohm");
}

/* Why the switching cannot be used; false: it can. */
static bool refused(const struct work *w, const struct lds_switching *s, const struct lds_step_fit *fit, char *why,
                    size_t size)
{
    if (s->found && fit->there && isnan(fit->again_s))
        return false;
    if (s->found && !isnan(fit->again_s))
        snprintf(why, size,
                 "the level changes at %.2f s, %.2f s and again at %.2f s; two changes expected, from the first load "
                 "to the second and back; cut the capture to those",
                 s->at_s[0], s->at_s[1], fit->again_s);
    else if (s->found)
        say_no_step(w, fit, why, size);
    else if (s->once)
        snprintf(
            why, size,
            "the level changes once, at %.2f s, and not back; from the first load to the second and back expected; "
            "record all three parts, each a second or longer",
            s->at_s[0]);
    else
        snprintf(
            why, size,
            "too little of a steady tone is there; three parts of a second or longer expected: the first load, the "
            "second, the first again");
    return true;
}

static bool add_absent(struct work *w, struct lds_channel *channel, const char *why)
{
    if (!w->why[0])
        snprintf(w->why, sizeof w->why, "%s", why);
    return lds_add_no_impedance(channel, why);
}

/* false: no memory. */
static bool add_from(struct work *w, const struct lds_phasors *phasors, const struct tone *tone,
                     struct lds_channel *channel)
{
    struct lds_switching switching;
    struct lds_step_fit fit = {.again_s = NAN};
    struct lds_source_impedance impedance;
    char why[320];
    if (!lds_switching_find(phasors, &switching) || (switching.found && !lds_step_fit(phasors, &switching, &fit)))
        return false;
    if (refused(w, &switching, &fit, why, sizeof why))
        return add_absent(w, channel, why);
    for (int i = 0; i < 2; i++)
        fit.step.u[i] = hypot(fit.step.u[i], M_SQRT2 * tone->hum_u);
    if (!lds_two_loads(w->load, &fit.step, &impedance))
        return add_absent(w, channel, LDS_NO_SUCH_SOURCE);
    w->made++;
    return lds_add_impedance(channel, &impedance, 0.0, w->damping_ohm, false, tone->flags);
}

static enum lds_status measure(struct work *w, struct lds_channel *channel, const struct tone *tone)
{
    struct lds_phasors phasors = {0};
    double tone_hz;
    const char *reason = lds_tone_refused(channel);
    enum lds_status status = tone_of(w, channel, &tone_hz);
    if (!status && !reason && !(tone_hz > 0.0))
        reason = "no tone was found; one sine, played all the time, expected";
    if (!status && !reason)
        status = lds_phasors_read(w->capture, channel->channel - 1, tone_hz, &phasors, w->error);
    if (!status && !(reason ? add_absent(w, channel, reason) : add_from(w, &phasors, tone, channel)))
        status = lds_fail_memory(w->error, "the record");
    lds_phasors_free(&phasors);
    return status;
}

/* The steps of the level may have passed for another kind of signal, but it is one tone. */
static void set_signal(struct lds_signal *signal)
{
    signal->kind = LDS_SIGNAL_SINE;
    signal->words[0] = '\0';
}

enum lds_status lds_impedance_switched(struct lds_capture *capture, const struct lds_measure_options *measuring,
                                       const struct lds_impedance_options *options, struct lds_measurement *measurement,
                                       struct lds_error *error)
{
    struct work w = {.capture = capture, .measuring = measuring, .damping_ohm = options->damping_ohm, .error = error};
    const struct lds_bench *const bench[2] = {&measurement->bench, NULL};
    struct tone tone[LDS_CHANNELS_MAX];
    enum lds_status status = lds_loads_take(options, bench, w.load, error);
    if (status)
        return status;
    for (size_t c = 0; c < measurement->channels; c++)
        tone[c] = (struct tone){lds_tone_hum_u(&measurement->channel[c]), lds_tone_flags(&measurement->channel[c])};
    lds_keep_tone(measurement, w.load[0].ohm, false);
    for (size_t c = 0; !status && c < measurement->channels; c++)
        status = measure(&w, &measurement->channel[c], &tone[c]);
    if (lds_scarce_take() && !status)
        status = lds_fail_memory(error, "the record");
    if (status)
        return status;
    if (w.made == 0)
        return lds_fail(error, LDS_BAD_INPUT, "%s", w.why);
    set_signal(&measurement->signal);
    for (size_t c = 0; c < measurement->channels; c++)
        if (lds_channel_find(&measurement->channel[c], LDS_FIGURE_IMPEDANCE))
            set_signal(&measurement->channel[c].signal);
    return LDS_OK;
}
