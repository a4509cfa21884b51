#include "ledger/history.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "job/roles.h"
#include "job/tone.h"

static enum lds_when side_of(const char *name)
{
    for (int i = LDS_WHEN_BEFORE; name && i <= LDS_WHEN_AFTER; i++)
        if (strcmp(name, lds_when_name((enum lds_when)i)) == 0)
            return (enum lds_when)i;
    return LDS_WHEN_ANY;
}

static void read_capture(struct lds_ledger *ledger, sqlite3_stmt *row, struct lds_ledger_capture *capture)
{
    const char *sha256 = (const char *)sqlite3_column_text(row, 3), *name = (const char *)sqlite3_column_text(row, 4);
    const struct lds_role *role = lds_role_find(name ? name : ""); /* it is known: checked when the file was opened */
    *capture = (struct lds_ledger_capture){.name = lds_sql_text(ledger, row, 1),
                                           .file = lds_sql_text(ledger, row, 2),
                                           .role = role ? role : &lds_role_unknown,
                                           .when = side_of((const char *)sqlite3_column_text(row, 5)),
                                           .power_w = lds_sql_real(row, 6),
                                           .channel = sqlite3_column_int(row, 7),
                                           .repeat = sqlite3_column_int(row, 8),
                                           .note = lds_sql_text(ledger, row, 9),
                                           .seconds = lds_sql_real(row, 10),
                                           .rate_hz = lds_sql_real(row, 11),
                                           .load_ohm = lds_sql_real(row, 12),
                                           .tone_hz = lds_sql_real(row, 13)};
    snprintf(capture->sha256, sizeof capture->sha256, "%s", sha256 ? sha256 : "");
}

static void read_figure(struct lds_ledger *ledger, sqlite3_stmt *row, struct lds_kept_figure *kept)
{
    struct lds_figure *figure = &kept->figure;
    kept->channel = sqlite3_column_int(row, 2);
    kept->other = sqlite3_column_int(row, 3);
    kept->place = sqlite3_column_int(row, 4);
    figure->key = lds_sql_text(ledger, row, 5);
    figure->name = lds_key_read(figure->key ? figure->key : "");
    const char *unit = (const char *)sqlite3_column_text(row, 6), *flags = (const char *)sqlite3_column_text(row, 12);
    snprintf(figure->unit, sizeof figure->unit, "%s", unit ? unit : "");
    figure->value = lds_sql_real(row, 7);
    figure->low = lds_sql_real(row, 8);
    figure->high = lds_sql_real(row, 9);
    for (int i = 0; i < 2; i++)
        figure->band_hz[i] = lds_sql_real(row, 10 + i);
    for (int i = 0; flags && i < LDS_FLAGS; i++)
        figure->flags |= strstr(flags, lds_flag_name((enum lds_flag)(1u << i))) ? 1u << i : 0;
    for (int i = 0; i < 2; i++)
        figure->orders[i] = sqlite3_column_int(row, 13 + i);
}

static void take_job(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct lds_ledger_history *history = ((struct lds_kept *)context)->history;
    struct lds_ledger_job *job = lds_sql_grow(ledger, &history->job, &history->jobs, sizeof *job);
    if (job)
        *job = (struct lds_ledger_job){.date = lds_sql_text(ledger, row, 0),
                                       .client = lds_sql_text(ledger, row, 1),
                                       .work = lds_sql_text(ledger, row, 2),
                                       .program = lds_sql_text(ledger, row, 3)};
}

/* Rows that belong to a job begin with its place among those of the unit. */
static struct lds_ledger_job *job_of(const struct lds_kept *kept, sqlite3_stmt *row)
{
    return &kept->history->job[sqlite3_column_int64(row, 0)];
}

static void take_part(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct lds_ledger_job *job = job_of(context, row);
    struct lds_part *part = lds_sql_grow(ledger, &job->part, &job->parts, sizeof *part);
    if (part)
        *part = (struct lds_part){.name = lds_sql_text(ledger, row, 1),
                                  .before = lds_sql_text(ledger, row, 2),
                                  .after = lds_sql_text(ledger, row, 3)};
}

static void take_capture(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct lds_ledger_job *job = job_of(context, row);
    struct lds_ledger_capture *capture = lds_sql_grow(ledger, &job->capture, &job->captures, sizeof *capture);
    if (capture)
        read_capture(ledger, row, capture);
}

static void take_name(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct lds_ledger_capture *capture = &job_of(context, row)->capture[sqlite3_column_int64(row, 1)];
    struct lds_channel_name *name = lds_sql_grow(ledger, &capture->channel_name, &capture->names, sizeof *name);
    if (name)
        *name = (struct lds_channel_name){sqlite3_column_int(row, 2), lds_sql_text(ledger, row, 3)};
}

static void take_figure(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct lds_kept *kept = context;
    size_t capture = (size_t)sqlite3_column_int64(row, 1);
    if (job_of(kept, row)->capture[capture].role->chain)
        return;
    struct lds_kept_figure *figure = lds_sql_grow(ledger, &kept->figure, &kept->figures, sizeof *figure);
    if (!figure)
        return;
    read_figure(ledger, row, figure);
    figure->job = (size_t)sqlite3_column_int64(row, 0);
    figure->capture = capture;
}

/* The places of jobs and captures, counted from 0 in the order of the history. */
#define JOBS                                                                                                           \
    "WITH own AS (SELECT *, row_number() OVER (ORDER BY date, id) - 1 AS at FROM job WHERE unit_id = ?1), "            \
    "taken AS (SELECT capture.*, at, row_number() OVER (PARTITION BY job_id ORDER BY place) - 1 AS nth "               \
    "FROM capture JOIN own ON own.id = job_id) "

static void read_rows(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept)
{
    static const struct {
        const char *sql;
        lds_sql_take *take;
    } part[] = {
        {JOBS "SELECT date, client, work, program FROM own ORDER BY at", take_job},
        {JOBS "SELECT at, name, before, after FROM part JOIN own ON own.id = job_id ORDER BY at, place", take_part},
        {JOBS "SELECT at, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, rate_hz, load_ohm, "
              "tone_hz FROM taken ORDER BY at, nth",
         take_capture},
        {JOBS "SELECT at, nth, channel.channel, channel.name FROM taken JOIN channel ON capture_id = taken.id "
              "ORDER BY at, nth, channel.channel",
         take_name},
        {JOBS "SELECT at, nth, figure.channel, other, figure.place, key, unit, value, low, high, band_low_hz, "
              "band_high_hz, flags, order_first, order_last FROM taken JOIN figure ON capture_id = taken.id "
              "ORDER BY at, nth, figure.channel, other, figure.place",
         take_figure},
    };
    for (size_t i = 0; i < sizeof part / sizeof *part; i++)
        lds_sql_each(ledger, part[i].sql, part[i].take, kept, "i", unit);
}

/* The tone from the figures of a capture stored before version 3. */
static double tone_of_figures(const struct lds_kept *kept, size_t job, size_t capture)
{
    struct lds_tone tone[LDS_CHANNELS_MAX];
    size_t tones = 0;
    for (size_t i = 0; i < kept->figures; i++) {
        const struct lds_kept_figure *own = &kept->figure[i];
        const struct lds_figure *figure = &own->figure;
        bool frequency = lds_figure_is(&figure->name, LDS_FIGURE_TONE_FREQUENCY),
             level = lds_figure_is(&figure->name, LDS_FIGURE_TONE_LEVEL);
        if (own->job != job || own->capture != capture || own->other != 0 || !(frequency || level))
            continue;
        if (tones == 0 || tone[tones - 1].channel != own->channel) {
            if (tones == LDS_CHANNELS_MAX)
                break;
            tone[tones++] = (struct lds_tone){.channel = own->channel, .frequency_hz = NAN, .level = NAN};
        }
        if (frequency)
            tone[tones - 1].frequency_hz = figure->value;
        else
            tone[tones - 1].level = lds_tone_level(figure);
    }
    return lds_tone_of(tone, tones);
}

static void fill_tones(const struct lds_kept *kept)
{
    for (size_t j = 0; j < kept->history->jobs; j++)
        for (size_t c = 0; c < kept->history->job[j].captures; c++) {
            struct lds_ledger_capture *capture = &kept->history->job[j].capture[c];
            if (capture->role->tone && isnan(capture->tone_hz))
                capture->tone_hz = tone_of_figures(kept, j, c);
        }
}

void lds_kept_read(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept)
{
    read_rows(ledger, unit, kept);
    if (!ledger->status)
        fill_tones(kept);
}

void lds_kept_free(struct lds_kept *kept)
{
    for (size_t i = 0; i < kept->figures; i++)
        free(kept->figure[i].figure.key);
    free(kept->figure);
    kept->figure = NULL;
    kept->figures = 0;
}

static void free_job(struct lds_ledger_job *job)
{
    for (size_t i = 0; i < job->captures; i++) {
        free(job->capture[i].name);
        free(job->capture[i].file);
        free(job->capture[i].note);
        for (size_t n = 0; n < job->capture[i].names; n++)
            free(job->capture[i].channel_name[n].name);
        free(job->capture[i].channel_name);
    }
    for (size_t i = 0; i < job->parts; i++) {
        free(job->part[i].name);
        free(job->part[i].before);
        free(job->part[i].after);
    }
    free(job->capture);
    free(job->part);
    free(job->date);
    free(job->client);
    free(job->work);
    free(job->program);
}

void lds_ledger_history_free(struct lds_ledger_history *history)
{
    free(history->unit.make);
    free(history->unit.type);
    free(history->unit.serial);
    free(history->unit.first_date);
    free(history->unit.last_date);
    for (size_t i = 0; i < history->jobs; i++)
        free_job(&history->job[i]);
    for (size_t i = 0; i < history->series; i++) {
        free(history->serie[i].key);
        free(history->serie[i].point);
    }
    free(history->job);
    free(history->serie);
    *history = (struct lds_ledger_history){0};
}
