#include "ledger/history.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"
#include "job/roles.h"
#include "job/tone.h"

static enum lds_when side_of(const char *name)
{
    for (int i = LDS_WHEN_BEFORE; name && i <= LDS_WHEN_AFTER; i++)
        if (strcmp(name, lds_when_name((enum lds_when)i)) == 0)
            return (enum lds_when)i;
    return LDS_WHEN_ANY;
}

static bool read_capture(sqlite3_stmt *row, struct lds_ledger_capture *capture)
{
    bool enough = true;
    const char *sha256 = (const char *)sqlite3_column_text(row, 3), *name = (const char *)sqlite3_column_text(row, 4);
    const struct lds_role *role = lds_role_find(name ? name : ""); /* it is known: checked when the file was opened */
    *capture = (struct lds_ledger_capture){.name = lds_sql_text(row, 1, &enough),
                                           .file = lds_sql_text(row, 2, &enough),
                                           .role = role ? role : &lds_role_unknown,
                                           .when = side_of((const char *)sqlite3_column_text(row, 5)),
                                           .power_w = lds_sql_real(row, 6),
                                           .channel = sqlite3_column_int(row, 7),
                                           .repeat = sqlite3_column_int(row, 8),
                                           .note = lds_sql_text(row, 9, &enough),
                                           .seconds = lds_sql_real(row, 10),
                                           .rate_hz = lds_sql_real(row, 11),
                                           .load_ohm = lds_sql_real(row, 12),
                                           .tone_hz = lds_sql_real(row, 13)};
    snprintf(capture->sha256, sizeof capture->sha256, "%s", sha256 ? sha256 : "");
    return enough;
}

static bool read_figure(sqlite3_stmt *row, struct lds_kept_figure *kept)
{
    bool enough = true;
    struct lds_figure *figure = &kept->figure;
    kept->channel = sqlite3_column_int(row, 2);
    kept->other = sqlite3_column_int(row, 3);
    kept->place = sqlite3_column_int(row, 4);
    figure->key = lds_sql_text(row, 5, &enough);
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
    return enough;
}

static enum lds_status take_job(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    struct lds_ledger_history *history = ((struct lds_kept *)context)->history;
    struct lds_ledger_job *job = lds_grow(&history->job, &history->jobs, sizeof *job);
    bool enough = job != NULL;
    if (job)
        *job = (struct lds_ledger_job){.date = lds_sql_text(row, 0, &enough),
                                       .client = lds_sql_text(row, 1, &enough),
                                       .work = lds_sql_text(row, 2, &enough),
                                       .program = lds_sql_text(row, 3, &enough)};
    return enough ? LDS_OK : lds_fail_memory(error, "the ledger");
}

/* Rows that belong to a job begin with its place among those of the unit. */
static struct lds_ledger_job *job_of(const struct lds_kept *kept, sqlite3_stmt *row)
{
    return &kept->history->job[sqlite3_column_int64(row, 0)];
}

static enum lds_status take_part(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    struct lds_ledger_job *job = job_of(context, row);
    struct lds_part *part = lds_grow(&job->part, &job->parts, sizeof *part);
    bool enough = part != NULL;
    if (part)
        *part = (struct lds_part){.name = lds_sql_text(row, 1, &enough),
                                  .before = lds_sql_text(row, 2, &enough),
                                  .after = lds_sql_text(row, 3, &enough)};
    return enough ? LDS_OK : lds_fail_memory(error, "the ledger");
}

static enum lds_status take_capture(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    struct lds_ledger_job *job = job_of(context, row);
    struct lds_ledger_capture *capture = lds_grow(&job->capture, &job->captures, sizeof *capture);
    return capture && read_capture(row, capture) ? LDS_OK : lds_fail_memory(error, "the ledger");
}

static enum lds_status take_name(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    struct lds_ledger_capture *capture = &job_of(context, row)->capture[sqlite3_column_int64(row, 1)];
    struct lds_channel_name *name = lds_grow(&capture->channel_name, &capture->names, sizeof *name);
    bool enough = name != NULL;
    if (name)
        *name = (struct lds_channel_name){sqlite3_column_int(row, 2), lds_sql_text(row, 3, &enough)};
    return enough ? LDS_OK : lds_fail_memory(error, "the ledger");
}

static enum lds_status take_figure(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    struct lds_kept *kept = context;
    size_t capture = (size_t)sqlite3_column_int64(row, 1);
    if (job_of(kept, row)->capture[capture].role->chain)
        return LDS_OK;
    struct lds_kept_figure *figure = lds_grow(&kept->figure, &kept->figures, sizeof *figure);
    if (!figure || !read_figure(row, figure))
        return lds_fail_memory(error, "the ledger");
    figure->job = (size_t)sqlite3_column_int64(row, 0);
    figure->capture = capture;
    return LDS_OK;
}

/* The places of jobs and captures, counted from 0 in the order of the history. */
#define JOBS                                                                                                           \
    "WITH own AS (SELECT *, row_number() OVER (ORDER BY date, id) - 1 AS at FROM job WHERE unit_id = ?1), "            \
    "taken AS (SELECT capture.*, at, row_number() OVER (PARTITION BY job_id ORDER BY place) - 1 AS nth "               \
    "FROM capture JOIN own ON own.id = job_id) "

static enum lds_status read_rows(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept,
                                 struct lds_error *error)
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
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sizeof part / sizeof *part; i++)
        status = lds_sql_each(ledger, part[i].sql, part[i].take, kept, error, "i", unit);
    return status;
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

enum lds_status lds_kept_read(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept, struct lds_error *error)
{
    enum lds_status status = read_rows(ledger, unit, kept, error);
    if (status == LDS_OK)
        fill_tones(kept);
    return status;
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
