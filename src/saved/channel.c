#include "saved/channel.h"

#include <math.h>
#include <string.h>

#include "loadside/capture.h"
#include "record/record.h"
#include "saved/series.h"

static const double MOST_HZ = 1e9, MOST_ORDER = 1e6, MOST_S = 1e12, MOST_SAMPLES = 1e18;

/* Checks the unit of its key; keys of a later version may have any. */
static void check_unit(struct lds_saved_reader *reader, const struct lds_figure *figure, bool calibrated)
{
    bool known = figure->name.row->stem[0] != '\0';
    if (known && strcmp(figure->unit, lds_key_unit(figure->name.row, calibrated)) != 0)
        lds_saved_wrong(reader, "unit", "that of its key");
}

/* Which other captures of the file the figure was made from. */
static void read_captures(struct lds_saved_reader *reader, const json_t *object, struct lds_figure *figure)
{
    size_t count;
    const json_t *array = lds_saved_array(reader, object, "captures");
    figure->other = lds_saved_room(reader, array, sizeof *figure->other, &count);
    for (size_t i = 0; figure->other && i < count; i++) {
        const json_t *place = json_array_get(array, i);
        json_int_t ahead = json_integer_value(place) - (json_int_t)reader->capture;
        bool first = i == 0, rising = i < 2 || ahead > figure->other[i - 2];
        if (count < 2 || !json_is_integer(place) || (first ? ahead != 0 : ahead < 1) || !rising ||
            ahead >= (json_int_t)(reader->captures - reader->capture)) {
            lds_saved_wrong(reader, "captures", "this capture and others after it, in their order");
            return;
        }
        if (!first)
            figure->other[figure->others++] = (int)ahead;
    }
    if (count == 0)
        lds_saved_wrong(reader, "captures", "this capture and others after it, in their order");
}

/* Members that only some figures have. */
static void read_optional(struct lds_saved_reader *reader, const json_t *object, struct lds_figure *figure)
{
    figure->band_hz[0] = figure->band_hz[1] = figure->removed_hz = NAN;
    if (lds_saved_has(reader, object, "band_hz"))
        lds_saved_pair(reader, object, "band_hz", 0.0, MOST_HZ, figure->band_hz);
    if (lds_saved_has(reader, object, "orders"))
        lds_saved_whole_pair(reader, object, "orders", (int)MOST_ORDER, figure->orders);
    if (lds_saved_has(reader, object, "removed_hz"))
        figure->removed_hz = lds_saved_number(reader, object, "removed_hz", 0.0, MOST_HZ);
    if (lds_saved_has(reader, object, "conditions"))
        lds_saved_text_into(reader, object, "conditions", figure->conditions, sizeof figure->conditions);
    if (lds_saved_has(reader, object, "captures"))
        read_captures(reader, object, figure);
    if (lds_saved_has(reader, object, "percent")) /* computed from the value when needed */
        (void)lds_saved_number(reader, object, "percent", 0.0, LDS_SAVED_MOST);
}

static void read_figure(struct lds_saved_reader *reader, const char *key, const json_t *object, void *into,
                        const void *calibrated)
{
    struct lds_figure *figure = into;
    if (!json_is_object(object))
        lds_saved_wrong(reader, NULL, "an object");
    figure->key = strdup(key);
    figure->name = lds_key_read(key);
    if (!figure->key) {
        lds_saved_no_memory(reader);
        return;
    }
    lds_saved_text_into(reader, object, "unit", figure->unit, sizeof figure->unit);
    check_unit(reader, figure, *(const bool *)calibrated);
    bool db = strncmp(figure->unit, "dB", 2) == 0;
    double most = db ? LDS_SAVED_DB : LDS_SAVED_MOST;
    figure->value = lds_saved_number(reader, object, "value", -most, most);
    figure->low = lds_saved_number(reader, object, "low", -most, most);
    figure->high = lds_saved_number(reader, object, "high", -most, most);
    lds_saved_rising(reader, "value", figure->low, figure->value);
    lds_saved_rising(reader, "value", figure->value, figure->high);
    lds_saved_rising(reader, "low", figure->low, figure->high);
    figure->u_a = lds_saved_number(reader, object, "u_a", 0.0, most);
    figure->u_b = lds_saved_number(reader, object, "u_b", 0.0, most);
    figure->dof = lds_saved_number(reader, object, "dof", 0.0, LDS_SAVED_MOST);
    if (isnan(figure->dof) && isfinite(figure->u_a)) /* known, not estimated; JSON has no number for that */
        figure->dof = INFINITY;
    read_optional(reader, object, figure);
    figure->flags = lds_saved_flags(reader, object);
}

static void read_absent(struct lds_saved_reader *reader, const char *key, const json_t *reason, void *into,
                        const void *context)
{
    struct lds_absent *absent = into;
    (void)context;
    absent->key = strdup(key);
    absent->name = lds_key_read(key);
    absent->reason = json_is_string(reason) ? strdup(json_string_value(reason)) : NULL;
    if (!json_is_string(reason))
        lds_saved_wrong(reader, NULL, "text");
    if (!absent->key || !absent->reason)
        lds_saved_no_memory(reader);
}

static void read_problem(struct lds_saved_reader *reader, const char *key, const json_t *object, void *into,
                         const void *context)
{
    struct lds_problem *problem = into;
    const bool calibrated = *(const bool *)context;
    (void)key;
    lds_saved_text_into(reader, object, "kind", problem->kind, sizeof problem->kind);
    if (!problem->kind[0])
        lds_saved_wrong(reader, "kind", "text");
    problem->at_s = lds_saved_number(reader, object, "at_s", 0.0, MOST_S);
    problem->samples = lds_saved_number(reader, object, "samples", 0.0, MOST_SAMPLES);
    problem->ceiling = NAN;
    if (json_object_get(object, "ceiling_v"))
        problem->ceiling =
            lds_saved_level(reader, object, calibrated, "ceiling_v", "ceiling_dbfs") * (calibrated ? 1.0 : M_SQRT2);
}

static void read_frequencies(struct lds_saved_reader *reader, const json_t *object, double frequency_hz[2])
{
    const json_t *array = lds_saved_array(reader, object, "frequency_hz");
    if (json_array_size(array) > 2)
        lds_saved_wrong(reader, "frequency_hz", "an array of at most two numbers");
    for (size_t i = 0; i < 2 && i < json_array_size(array); i++) {
        const json_t *hz = json_array_get(array, i);
        frequency_hz[i] = json_number_value(hz);
        if (!json_is_number(hz))
            lds_saved_wrong(reader, "frequency_hz", "an array of at most two numbers");
        else
            (void)lds_saved_in_range(reader, "frequency_hz", frequency_hz[i], 0.0, MOST_HZ);
    }
}

void lds_saved_signal(struct lds_saved_reader *reader, const json_t *owner, struct lds_signal *signal)
{
    *signal = (struct lds_signal){.delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}};
    if (!lds_saved_has(reader, owner, "signal") || json_is_null(json_object_get(owner, "signal")))
        return;
    const json_t *object = lds_saved_object(reader, owner, "signal");
    size_t outside = lds_saved_enter(reader, "signal");
    char name[24];
    lds_saved_text_into(reader, object, "kind", name, sizeof name);
    if (!name[0])
        lds_saved_wrong(reader, "kind", "text");
    /* An unknown kind is from a later version, and ignored. */
    for (int kind = LDS_SIGNAL_NONE + 1; kind < LDS_SIGNALS; kind++)
        if (strcmp(name, lds_signal_name((enum lds_signal_kind)kind)) == 0)
            signal->kind = (enum lds_signal_kind)kind;
    signal->stated = lds_saved_yes(reader, object, "stated");
    signal->delay_s = lds_saved_number(reader, object, "delay_s", -MOST_S, MOST_S);
    signal->clock_ppm = lds_saved_number(reader, object, "clock_ppm", -1e6, 1e6);
    if (!json_is_null(json_object_get(object, "inverted")))
        signal->inverted = lds_saved_yes(reader, object, "inverted");
    read_frequencies(reader, object, signal->frequency_hz);
    lds_saved_text_into(reader, object, "words", signal->words, sizeof signal->words);
    lds_saved_leave(reader, outside);
}

void lds_saved_channel(struct lds_saved_reader *reader, const char *key, const json_t *object, void *into,
                       const void *context)
{
    struct lds_channel *channel = into;
    const struct lds_measurement *measurement = context;
    (void)key;
    channel->channel = (int)lds_saved_whole(reader, object, "channel", 1, LDS_CHANNELS_MAX);
    if (lds_saved_has(reader, object, "name"))
        channel->name = lds_saved_text(reader, object, "name");
    channel->calibrated = lds_saved_yes(reader, object, "calibrated");
    lds_saved_signal(reader, object, &channel->signal);
    lds_saved_map(reader, object, "figures", &channel->figure, &channel->figures, sizeof *channel->figure, read_figure,
                  &channel->calibrated);
    lds_saved_map(reader, object, "absent", &channel->absent, &channel->absents, sizeof *channel->absent, read_absent,
                  NULL);
    const struct lds_saved_list list = {&channel->series, &channel->series_count, channel->calibrated};
    lds_saved_lines(reader, object, &list);
    lds_saved_list(reader, object, "problems", &channel->problem, &channel->problems, sizeof *channel->problem,
                   read_problem, &channel->calibrated);
    lds_saved_curves(reader, object, &list);
    for (const struct lds_channel *before = measurement->channel; before < channel; before++)
        if (before->channel == channel->channel)
            lds_saved_wrong(reader, "channel", "another number than that of a channel before it");
}

static bool has_channel(const struct lds_measurement *measurement, int number)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].channel == number)
            return true;
    return false;
}

void lds_saved_channel_pair(struct lds_saved_reader *reader, const char *key, const json_t *object, void *into,
                            const void *context)
{
    const struct lds_measurement *measurement = context;
    struct lds_pair *pair = into;
    (void)key;
    lds_saved_whole_pair(reader, object, "channels", LDS_CHANNELS_MAX, pair->channels);
    bool both = has_channel(measurement, pair->channels[0]) && has_channel(measurement, pair->channels[1]);
    if (!both || pair->channels[0] == pair->channels[1])
        lds_saved_wrong(reader, "channels", "the numbers of two of the channels");
    bool calibrated = measurement->channels > 0 && measurement->channel[0].calibrated;
    lds_saved_map(reader, object, "figures", &pair->figure, &pair->figures, sizeof *pair->figure, read_figure,
                  &calibrated);
    lds_saved_map(reader, object, "absent", &pair->absent, &pair->absents, sizeof *pair->absent, read_absent, NULL);
    lds_saved_curves(reader, object, &(struct lds_saved_list){&pair->series, &pair->series_count, calibrated});
}
