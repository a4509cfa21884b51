/* What a capture holds, for a proposed sheet. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "job/look.h"
#include "job/propose.h"
#include "job/roles.h"
#include "job/tone.h"

/* The short look cannot see a signal move or stop, so the capture is measured. Only the look can tell that the tone may
 * be hum. */
static enum lds_status recognise(struct lds_capture *capture, const struct lds_measure_options *options,
                                 struct lds_proposed *one, struct lds_error *error)
{
    struct lds_measurement measurement;
    enum lds_status status = lds_measure(capture, options, &measurement, error);
    const struct lds_signal *signal = &measurement.signal;
    bool hum = one->role->holds == LDS_SIGNAL_SILENCE && signal->kind == LDS_SIGNAL_SINE;
    if (!status && signal->kind != LDS_SIGNAL_NONE && signal->kind != one->role->holds && !hum) {
        one->role = lds_role_leading(signal->kind);
        snprintf(one->holds, sizeof one->holds, "%s", signal->words[0] ? signal->words : lds_signal_name(signal->kind));
    }
    if (!status && one->role->tone)
        one->tone_hz =
            lds_tone_of_capture(&(struct lds_sheet_capture){.role = one->role, .frequency_hz = NAN}, &measurement);
    lds_measurement_free(&measurement);
    return status;
}

/* The power of the strongest channel, and the only driven channel of several. */
static void levels(const struct lds_proposal *proposal, struct lds_proposed *one)
{
    const struct lds_look *look = &one->look;
    size_t driven = 0;
    for (size_t c = 0; c < look->tones; c++) {
        if (!lds_tone_is_driven(look->tone, look->tones, c))
            continue;
        driven++;
        one->driven = look->tone[c].channel;
        double watts = look->tone[c].level * look->tone[c].level / proposal->bench.load_ohm;
        if (lds_look_calibrated(look, &proposal->bench) && !(watts <= one->power_w)) {
            one->power_w = watts;
            one->power_channel = look->tone[c].channel;
        }
    }
    if (driven != 1 || look->info.channels < 2)
        one->driven = 0;
}

static enum lds_status look_into(const struct lds_proposal *proposal, struct lds_capture *capture,
                                 struct lds_proposed *one, struct lds_error *error)
{
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    options.bench = proposal->bench; /* not owned */
    enum lds_status status = lds_measure_tones(capture, &options, one->look.tone, &one->look.tones, error);
    if (status)
        return status;
    one->role = lds_role_of_look(&one->look, one->holds, sizeof one->holds);
    status = recognise(capture, &options, one, error);
    if (!status && one->role->power)
        levels(proposal, one);
    return status;
}

enum lds_status lds_propose_look(const struct lds_proposal *proposal, struct lds_proposed *one, struct lds_error *error)
{
    char *path = NULL;
    struct lds_capture *capture = NULL;
    if (asprintf(&path, "%s/%s", proposal->folder, one->file) < 0)
        return LDS_NO_MEMORY;
    enum lds_status status = lds_capture_open(path, NULL, &capture, error);
    free(path);
    if (status)
        return status;
    one->look.info = *lds_capture_info(capture);
    one->look.good = true;
    one->tone_hz = one->nominal_hz = one->power_w = one->nominal_w = NAN;
    status = look_into(proposal, capture, one, error);
    lds_capture_close(capture);
    return status;
}
