#include "report/saved_channel.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/capture.h"

static void read_figure(struct lds_saved_reader *reader, const char *key, const json_t *object,
                        struct lds_figure *figure)
{
    double orders[2];
    figure->key = strdup(key);
    if (!figure->key)
        lds_saved_no_memory(reader);
    lds_saved_text_into(reader, object, "unit", figure->unit, sizeof figure->unit);
    figure->value = lds_saved_number(reader, object, "value");
    figure->low = lds_saved_number(reader, object, "low");
    figure->high = lds_saved_number(reader, object, "high");
    figure->u_a = lds_saved_number(reader, object, "u_a");
    figure->u_b = lds_saved_number(reader, object, "u_b");
    figure->dof = lds_saved_number(reader, object, "dof");
    if (isnan(figure->dof) && isfinite(figure->u_a)) /* known, not estimated, which JSON has no number for */
        figure->dof = INFINITY;
    lds_saved_pair(reader, object, "band_hz", figure->band_hz);
    lds_saved_pair(reader, object, "orders", orders);
    for (int i = 0; i < 2; i++) {
        if (orders[i] < 0.0 || orders[i] > 1e6)
            lds_saved_wrong(reader, "orders", "two orders of harmonics");
        else if (isfinite(orders[i]))
            figure->orders[i] = (int)orders[i];
    }
    figure->removed_hz = lds_saved_number(reader, object, "removed_hz");
    figure->flags = lds_saved_flags(reader, object);
}

static struct lds_figure *read_figures(struct lds_saved_reader *reader, const json_t *owner, size_t *count)
{
    *count = 0;
    const json_t *object = lds_saved_object(reader, owner, "figures");
    size_t wanted = json_object_size(object);
    struct lds_figure *figures = calloc(wanted + 1, sizeof *figures);
    if (!figures) {
        lds_saved_no_memory(reader);
        return NULL;
    }
    size_t outside = lds_saved_enter(reader, "figures");
    const char *key;
    json_t *figure;
    json_object_foreach((json_t *)(uintptr_t)object, key, figure)
    {
        size_t here = lds_saved_enter(reader, key);
        if (!json_is_object(figure))
            lds_saved_wrong(reader, NULL, "an object");
        read_figure(reader, key, figure, &figures[(*count)++]);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
    return figures;
}

static struct lds_absent *read_absents(struct lds_saved_reader *reader, const json_t *owner, size_t *count)
{
    *count = 0;
    const json_t *object = lds_saved_object(reader, owner, "absent");
    struct lds_absent *absents = calloc(json_object_size(object) + 1, sizeof *absents);
    if (!absents) {
        lds_saved_no_memory(reader);
        return NULL;
    }
    size_t outside = lds_saved_enter(reader, "absent");
    const char *key;
    json_t *reason;
    json_object_foreach((json_t *)(uintptr_t)object, key, reason)
    {
        struct lds_absent *absent = &absents[(*count)++];
        absent->key = strdup(key);
        absent->reason = lds_saved_text(reader, object, key);
        if (!absent->reason)
            absent->reason = strdup("");
        if (!absent->key || !absent->reason)
            lds_saved_no_memory(reader);
    }
    lds_saved_leave(reader, outside);
    return absents;
}

static void read_line(struct lds_saved_reader *reader, const json_t *object, bool calibrated, struct lds_line *line)
{
    line->order = (int)lds_saved_whole(reader, object, "order", 0, INT_MAX, 0);
    line->frequency_hz = lds_saved_number(reader, object, "frequency_hz");
    line->level = lds_saved_level(reader, object, calibrated, "level_v", "level_dbfs");
    line->low = lds_saved_level(reader, object, calibrated, "low_v", "low_dbfs");
    line->high = lds_saved_level(reader, object, calibrated, "high_v", "high_dbfs");
    line->relative_db = lds_saved_number(reader, object, "relative_db");
    line->low_db = lds_saved_number(reader, object, "low_db");
    line->high_db = lds_saved_number(reader, object, "high_db");
    line->phase_deg = lds_saved_number(reader, object, "phase_deg");
    line->flags = lds_saved_flags(reader, object);
}

static void read_spur(struct lds_saved_reader *reader, const json_t *object, bool calibrated, struct lds_spur *spur)
{
    spur->frequency_hz = lds_saved_number(reader, object, "frequency_hz");
    spur->level = lds_saved_level(reader, object, calibrated, "level_v", "level_dbfs");
    spur->margin_db = lds_saved_number(reader, object, "margin_db");
    lds_saved_text_into(reader, object, "origin", spur->origin, sizeof spur->origin);
}

static void read_floor_band(struct lds_saved_reader *reader, const json_t *object, bool calibrated,
                            struct lds_floor_band *band)
{
    band->frequency_hz = lds_saved_number(reader, object, "frequency_hz");
    band->low_hz = lds_saved_number(reader, object, "low_hz");
    band->high_hz = lds_saved_number(reader, object, "high_hz");
    band->density = lds_saved_level(reader, object, calibrated, "density_v_rthz", "density_dbfs_hz");
    band->mean = lds_saved_level(reader, object, calibrated, "mean_v_rthz", "mean_dbfs_hz");
    double dof = lds_saved_number(reader, object, "dof");
    band->dof = isfinite(dof) ? dof : 0.0;
}

static void read_problem(struct lds_saved_reader *reader, const json_t *object, bool calibrated,
                         struct lds_problem *problem)
{
    (void)calibrated;
    lds_saved_text_into(reader, object, "kind", problem->kind, sizeof problem->kind);
    problem->at_s = lds_saved_number(reader, object, "at_s");
    problem->samples = lds_saved_number(reader, object, "samples");
}

/* Reads each object of a channel's array into an array of its own:
 * channel->MEMBER, channel->COUNT from the member NAME by READ. */
#define READ_ARRAY(name, member, count, read)                                                                          \
    do {                                                                                                               \
        const json_t *array = lds_saved_array(reader, object, name);                                                   \
        size_t outside = lds_saved_enter(reader, name);                                                                \
        channel->member = lds_saved_room(reader, array, sizeof *channel->member, &channel->count);                     \
        for (size_t i = 0; i < channel->count; i++) {                                                                  \
            size_t here = lds_saved_enter_element(reader, i);                                                          \
            const json_t *element = json_array_get(array, i);                                                          \
            if (!json_is_object(element))                                                                              \
                lds_saved_wrong(reader, NULL, "an object");                                                            \
            read(reader, element, channel->calibrated, &channel->member[i]);                                           \
            lds_saved_leave(reader, here);                                                                             \
        }                                                                                                              \
        lds_saved_leave(reader, outside);                                                                              \
    } while (0)

static void read_curve(struct lds_saved_reader *reader, const json_t *curves, const char *name, const char *x_name,
                       const char *y_name, struct lds_curve *curve)
{
    const json_t *object = lds_saved_object(reader, curves, name);
    size_t outside = lds_saved_enter(reader, name);
    const json_t *x = lds_saved_array(reader, object, x_name), *y = lds_saved_array(reader, object, y_name);
    if (json_array_size(x) != json_array_size(y))
        lds_saved_wrong(reader, y_name, "as long as its frequencies, phases or times");
    curve->point = lds_saved_room(reader, x, sizeof *curve->point, &curve->points);
    for (size_t i = 0; i < curve->points; i++) {
        const json_t *one = json_array_get(x, i), *other = json_array_get(y, i);
        if (!json_is_number(one))
            lds_saved_wrong(reader, x_name, "an array of numbers");
        if (!json_is_number(other) && !json_is_null(other))
            lds_saved_wrong(reader, y_name, "an array of numbers");
        curve->point[i] =
            (struct lds_point){json_number_value(one), json_is_number(other) ? json_number_value(other) : NAN};
    }
    lds_saved_leave(reader, outside);
}

static void read_curves(struct lds_saved_reader *reader, const json_t *object, struct lds_channel *channel)
{
    const json_t *curves = lds_saved_object(reader, object, "curves");
    if (!curves)
        return;
    bool volts = channel->calibrated;
    size_t outside = lds_saved_enter(reader, "curves");
    read_curve(reader, curves, "spectrum", "frequency_hz", volts ? "level_v" : "level_full_scale_rms",
               &channel->spectrum);
    read_curve(reader, curves, "density", "frequency_hz", volts ? "density_v_rthz" : "density_full_scale_rms_rthz",
               &channel->density);
    read_curve(reader, curves, "residual", "phase_deg", volts ? "residual_v" : "residual_full_scale",
               &channel->residual);
    read_curve(reader, curves, "mains_waveform", "time_ms", volts ? "waveform_v" : "waveform_full_scale",
               &channel->mains_waveform);
    lds_saved_leave(reader, outside);
}

void lds_saved_signal(struct lds_saved_reader *reader, const json_t *owner, struct lds_signal *signal)
{
    const json_t *object = lds_saved_object(reader, owner, "signal");
    *signal = (struct lds_signal){.delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}};
    if (!object)
        return;
    size_t outside = lds_saved_enter(reader, "signal");
    char name[24];
    lds_saved_text_into(reader, object, "kind", name, sizeof name);
    /* One that is not known is of a later version, and let pass. */
    for (int kind = LDS_SIGNAL_NONE + 1; kind < LDS_SIGNALS; kind++)
        if (strcmp(name, lds_signal_name((enum lds_signal_kind)kind)) == 0)
            signal->kind = (enum lds_signal_kind)kind;
    signal->stated = lds_saved_yes(reader, object, "stated");
    signal->delay_s = lds_saved_number(reader, object, "delay_s");
    signal->clock_ppm = lds_saved_number(reader, object, "clock_ppm");
    const json_t *inverted = json_object_get(object, "inverted");
    if (inverted && !json_is_null(inverted))
        signal->inverted = lds_saved_yes(reader, object, "inverted");
    const json_t *frequencies = lds_saved_array(reader, object, "frequency_hz");
    for (size_t i = 0; i < json_array_size(frequencies); i++) {
        const json_t *hz = json_array_get(frequencies, i);
        if (i >= 2 || !json_is_number(hz))
            lds_saved_wrong(reader, "frequency_hz", "an array of at most two numbers");
        else
            signal->frequency_hz[i] = json_number_value(hz);
    }
    lds_saved_text_into(reader, object, "words", signal->words, sizeof signal->words);
    lds_saved_leave(reader, outside);
}

void lds_saved_channel(struct lds_saved_reader *reader, const json_t *object, struct lds_channel *channel)
{
    channel->channel = (int)lds_saved_whole(reader, object, "channel", 1, LDS_CHANNELS_MAX, 0);
    if (channel->channel == 0)
        lds_saved_wrong(reader, "channel", "the number of a channel");
    channel->calibrated = lds_saved_yes(reader, object, "calibrated");
    lds_saved_signal(reader, object, &channel->signal);
    channel->figure = read_figures(reader, object, &channel->figures);
    channel->absent = read_absents(reader, object, &channel->absents);
    READ_ARRAY("harmonics", harmonic, harmonics, read_line);
    READ_ARRAY("mains", main, mains, read_line);
    READ_ARRAY("spurs", spur, spurs, read_spur);
    READ_ARRAY("floor", floor, floor_bands, read_floor_band);
    READ_ARRAY("problems", problem, problems, read_problem);
    read_curves(reader, object, channel);
}

void lds_saved_channel_pair(struct lds_saved_reader *reader, const json_t *object, struct lds_pair *pair)
{
    double channels[2];
    lds_saved_pair(reader, object, "channels", channels);
    for (int i = 0; i < 2; i++) {
        if (!(channels[i] >= 1.0 && channels[i] <= LDS_CHANNELS_MAX))
            lds_saved_wrong(reader, "channels", "the numbers of two channels");
        else
            pair->channels[i] = (int)channels[i];
    }
    pair->figure = read_figures(reader, object, &pair->figures);
    pair->absent = read_absents(reader, object, &pair->absents);
}
