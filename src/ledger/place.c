/* Where a capture that belongs to no job stands among the units of a type: a history with only that capture. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"
#include "job/roles.h"
#include "job/tone.h"
#include "ledger/history.h"

/* A sheet states a round power, and somebody sets a knob to it: the measured power may differ by this much. */
static const double POWER_WITHIN = 0.03;

/* A capture with a tone counts as a sine, at the power of its channel with the highest power. */
static void find_role(const struct lds_measurement *measurement, struct lds_ledger_capture *capture)
{
    struct lds_tone tone[LDS_CHANNELS_MAX];
    capture->role = lds_role_leading(LDS_SIGNAL_SILENCE);
    capture->power_w = NAN;
    capture->tone_hz = lds_tone_of(tone, lds_tones_measured(measurement, tone));
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_figure *power = lds_channel_find(&measurement->channel[i], LDS_FIGURE_TONE_POWER);
        if (!lds_channel_find(&measurement->channel[i], LDS_FIGURE_TONE_LEVEL))
            continue;
        capture->role = lds_role_leading(LDS_SIGNAL_SINE);
        capture->power_w = power ? fmax(capture->power_w, power->value) : capture->power_w;
    }
}

static bool copy_names(struct lds_ledger_capture *capture, const struct lds_measurement *measurement)
{
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_channel *channel = &measurement->channel[i];
        if (!channel->name)
            continue;
        struct lds_channel_name *name = lds_grow(&capture->channel_name, &capture->names, sizeof *name);
        if (!name)
            return false;
        *name = (struct lds_channel_name){channel->channel, strdup(channel->name)};
        if (!name->name)
            return false;
    }
    return true;
}

static bool fill_history(struct lds_ledger_history *history, const char *make, const char *type,
                         const struct lds_measurement *measurement)
{
    struct lds_ledger_job *job = calloc(1, sizeof *job);
    history->job = job;
    history->jobs = job ? 1 : 0;
    history->unit.make = make ? strdup(make) : NULL;
    history->unit.type = strdup(type);
    struct lds_ledger_capture *capture = job ? calloc(1, sizeof *capture) : NULL;
    if (!capture || !history->unit.type || (make && !history->unit.make)) {
        free(capture);
        return false;
    }
    history->unit.jobs = 1;
    job->capture = capture;
    job->captures = 1;
    *capture = (struct lds_ledger_capture){.file = measurement->file ? strdup(measurement->file) : NULL,
                                           .seconds = measurement->seconds,
                                           .rate_hz = measurement->rate_hz,
                                           .load_ohm = lds_load_of_capture(measurement)};
    find_role(measurement, capture);
    return (capture->file || !measurement->file) && copy_names(capture, measurement);
}

static void add_figures(struct lds_kept *kept, int channel, int other, const struct lds_figure *figure, size_t figures)
{
    for (size_t i = 0; i < figures; i++)
        kept->figure[kept->figures++] =
            (struct lds_kept_figure){.channel = channel, .other = other, .place = (int)i + 1, .figure = figure[i]};
}

/* The keys still belong to the measurement: only the array must be freed. */
static bool fill_figures(struct lds_kept *kept, const struct lds_measurement *measurement)
{
    size_t room = 1;
    for (size_t i = 0; i < measurement->channels; i++)
        room += measurement->channel[i].figures;
    for (size_t i = 0; i < measurement->pairs; i++)
        room += measurement->pair[i].figures;
    kept->figure = calloc(room, sizeof *kept->figure);
    if (!kept->figure)
        return false;
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_channel *channel = &measurement->channel[i];
        add_figures(kept, channel->channel, 0, channel->figure, channel->figures);
    }
    for (size_t i = 0; i < measurement->pairs; i++) {
        const struct lds_pair *pair = &measurement->pair[i];
        add_figures(kept, pair->channels[0], pair->channels[1], pair->figure, pair->figures);
    }
    return true;
}

static void take_power(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    (void)ledger;
    *(double *)context = lds_sql_real(row, 0);
}

/* Replaces the measured power by one that a sheet stated: the nearest of the same tone into the same load at the same
 * rate. */
static void find_power(struct lds_ledger *ledger, const struct lds_ledger_history *history)
{
    static const char sql[] =
        "SELECT power_w FROM capture JOIN job ON job.id = capture.job_id JOIN unit ON unit.id = job.unit_id "
        "WHERE make IS ?1 AND type = ?2 AND role = ?7 AND power_w IS NOT NULL "
        "AND (load_ohm IS ?4 OR abs(load_ohm - ?4) <= 0.01 * ?4) AND abs(rate_hz - ?5) <= 0.01 * ?5 "
        "AND (?6 IS NULL OR abs(ifnull(tone_hz, (SELECT value FROM figure WHERE capture_id = capture.id AND "
        "figure.key = 'tone.frequency' ORDER BY figure.channel LIMIT 1)) - ?6) <= 0.01 * ?6) "
        "ORDER BY abs(power_w - ?3) LIMIT 1";
    struct lds_ledger_capture *capture = history->job->capture;
    double stated_w = NAN;
    if (isnan(capture->power_w))
        return;
    lds_sql_each(ledger, sql, take_power, &stated_w, "ttrrrrt", history->unit.make, history->unit.type,
                 capture->power_w, capture->load_ohm, capture->rate_hz, capture->tone_hz, capture->role->name);
    if (fabs(capture->power_w - stated_w) <= POWER_WITHIN * stated_w)
        capture->power_w = stated_w;
}

enum lds_status lds_ledger_place(struct lds_ledger *ledger, const char *make, const char *type,
                                 const struct lds_measurement *measurement, struct lds_ledger_history *history,
                                 struct lds_error *error)
{
    struct lds_kept kept = {.history = history};
    *history = (struct lds_ledger_history){0};
    if (!fill_history(history, make, type, measurement) || !fill_figures(&kept, measurement))
        return lds_fail_memory(error, "the capture");
    lds_sql_start(ledger, error);
    lds_sql_run(ledger, "BEGIN"); /* so that everything is read from one state of the file */
    find_power(ledger, history);
    lds_series_make(ledger, &kept);
    lds_standing_make(ledger, history);
    free(kept.figure);
    return lds_sql_end(ledger);
}
