#include "ledger/history.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/tone.h"

/* Grows an array by one element, set to zero. */
static void *grow(void *array, size_t count, size_t size, void **element)
{
    char *grown = realloc(array, (count + 1) * size);
    *element = grown ? grown + count * size : NULL;
    if (grown)
        memset(*element, 0, size);
    return grown ? grown : array;
}

/* ---- reading ---- */

static int word_of(const char *word, const char *(*name)(int), int last)
{
    for (int i = 0; word && i <= last; i++)
        if (strcmp(word, name(i)) == 0)
            return i;
    return 0;
}

static const char *role_name(int i)
{
    return lds_role_name((enum lds_role)i);
}

static const char *when_name(int i)
{
    return lds_when_name((enum lds_when)i);
}

static bool read_capture(sqlite3_stmt *row, struct lds_ledger_capture *capture)
{
    bool enough = true;
    const char *sha256 = (const char *)sqlite3_column_text(row, 3);
    *capture = (struct lds_ledger_capture){
        .name = lds_sql_text(row, 1, &enough),
        .file = lds_sql_text(row, 2, &enough),
        .role = (enum lds_role)word_of((const char *)sqlite3_column_text(row, 4), role_name, LDS_ROLE_CHAIN),
        .when = (enum lds_when)word_of((const char *)sqlite3_column_text(row, 5), when_name, LDS_WHEN_AFTER),
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
    kept->channel = sqlite3_column_int(row, 0);
    kept->other = sqlite3_column_int(row, 1);
    kept->place = sqlite3_column_int(row, 2);
    figure->key = lds_sql_text(row, 3, &enough);
    figure->name = lds_key_read(figure->key ? figure->key : "");
    const char *unit = (const char *)sqlite3_column_text(row, 4), *flags = (const char *)sqlite3_column_text(row, 10);
    snprintf(figure->unit, sizeof figure->unit, "%s", unit ? unit : "");
    figure->value = lds_sql_real(row, 5);
    figure->low = lds_sql_real(row, 6);
    figure->high = lds_sql_real(row, 7);
    for (int i = 0; i < 2; i++)
        figure->band_hz[i] = lds_sql_real(row, 8 + i);
    for (int i = 0; flags && i < LDS_FLAGS; i++)
        figure->flags |= strstr(flags, lds_flag_name((enum lds_flag)(1u << i))) ? 1u << i : 0;
    for (int i = 0; i < 2; i++)
        figure->orders[i] = sqlite3_column_int(row, 11 + i);
    return enough;
}

/* The rows of a statement with one whole number bound, each handed to take. */
static enum lds_status each_row(struct lds_ledger *ledger, const char *sql, int64_t number,
                                bool (*take)(void *context, sqlite3_stmt *row), void *context, struct lds_error *error)
{
    sqlite3_stmt *statement;
    bool row = true;
    enum lds_status status = lds_sql_prepare(ledger, sql, &statement, error);
    if (status == LDS_OK)
        (void)sqlite3_bind_int64(statement, 1, number);
    while (status == LDS_OK) {
        status = lds_sql_step(ledger, statement, &row, error);
        if (status != LDS_OK || !row)
            break;
        if (!take(context, statement))
            status = lds_fail_memory(error, "the ledger");
    }
    sqlite3_finalize(statement);
    return status;
}

/* What is filled while rows are read; numbers of rows beside what they became. */
struct reading {
    struct lds_kept *kept;
    size_t rows;
    struct {
        int64_t id;
        size_t job, capture;
        enum lds_role role;
    } * row;
    size_t job, capture;
};

static bool take_job(void *context, sqlite3_stmt *row)
{
    struct reading *reading = context;
    struct lds_ledger_history *history = reading->kept->history;
    bool enough = true;
    void *job, *noted;
    history->job = grow(history->job, history->jobs, sizeof *history->job, &job);
    reading->row = grow(reading->row, reading->rows, sizeof *reading->row, &noted);
    if (!job || !noted)
        return false;
    history->jobs++;
    reading->row[reading->rows++].id = sqlite3_column_int64(row, 0);
    *(struct lds_ledger_job *)job = (struct lds_ledger_job){.date = lds_sql_text(row, 1, &enough),
                                                            .client = lds_sql_text(row, 2, &enough),
                                                            .work = lds_sql_text(row, 3, &enough),
                                                            .program = lds_sql_text(row, 4, &enough)};
    return enough;
}

static bool take_part(void *context, sqlite3_stmt *row)
{
    struct reading *reading = context;
    struct lds_ledger_job *job = &reading->kept->history->job[reading->job];
    bool enough = true;
    void *part;
    job->part = grow(job->part, job->parts, sizeof *job->part, &part);
    if (!part)
        return false;
    job->parts++;
    *(struct lds_part *)part = (struct lds_part){.name = lds_sql_text(row, 0, &enough),
                                                 .before = lds_sql_text(row, 1, &enough),
                                                 .after = lds_sql_text(row, 2, &enough)};
    return enough;
}

static bool take_capture(void *context, sqlite3_stmt *row)
{
    struct reading *reading = context;
    struct lds_ledger_job *job = &reading->kept->history->job[reading->job];
    void *capture, *noted;
    job->capture = grow(job->capture, job->captures, sizeof *job->capture, &capture);
    reading->row = grow(reading->row, reading->rows, sizeof *reading->row, &noted);
    if (!capture || !noted)
        return false;
    reading->row[reading->rows].id = sqlite3_column_int64(row, 0);
    reading->row[reading->rows].job = reading->job;
    reading->row[reading->rows].capture = job->captures++;
    bool enough = read_capture(row, capture);
    reading->row[reading->rows++].role = ((struct lds_ledger_capture *)capture)->role;
    return enough;
}

static bool take_figure(void *context, sqlite3_stmt *row)
{
    struct reading *reading = context;
    struct lds_kept *kept = reading->kept;
    void *figure;
    kept->figure = grow(kept->figure, kept->figures, sizeof *kept->figure, &figure);
    if (!figure)
        return false;
    kept->figures++;
    struct lds_kept_figure *filled = figure;
    filled->job = reading->job;
    filled->capture = reading->capture;
    return read_figure(row, filled);
}

static enum lds_status read_jobs(struct lds_ledger *ledger, int64_t unit, struct reading *reading,
                                 struct lds_error *error)
{
    enum lds_status status =
        each_row(ledger, "SELECT id, date, client, work, program FROM job WHERE unit_id = ?1 ORDER BY date, id", unit,
                 take_job, reading, error);
    size_t jobs = reading->rows;
    for (reading->job = 0; status == LDS_OK && reading->job < jobs; reading->job++) {
        int64_t id = reading->row[reading->job].id;
        status = each_row(ledger, "SELECT name, before, after FROM part WHERE job_id = ?1 ORDER BY place", id,
                          take_part, reading, error);
        if (status == LDS_OK)
            status = each_row(ledger,
                              "SELECT id, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, "
                              "rate_hz, load_ohm, tone_hz FROM capture WHERE job_id = ?1 ORDER BY place",
                              id, take_capture, reading, error);
    }
    for (size_t i = jobs; status == LDS_OK && i < reading->rows; i++) {
        reading->job = reading->row[i].job;
        reading->capture = reading->row[i].capture;
        if (reading->row[i].role != LDS_ROLE_CHAIN)
            status = each_row(ledger,
                              "SELECT channel, other, place, key, unit, value, low, high, band_low_hz, band_high_hz, "
                              "flags, order_first, order_last FROM figure WHERE capture_id = ?1 "
                              "ORDER BY channel, other, place",
                              reading->row[i].id, take_figure, reading, error);
    }
    return status;
}

/* The tone by the figures of a capture, as kept before version 3. */
static double tone_of_figures(const struct lds_kept *kept, size_t job, size_t capture)
{
    struct lds_tone tone[LDS_CHANNELS_MAX];
    size_t tones = 0;
    for (size_t i = 0; i < kept->figures; i++) {
        const struct lds_kept_figure *own = &kept->figure[i];
        const struct lds_figure *figure = &own->figure;
        bool frequency = strcmp(figure->key, "tone.frequency") == 0, level = strcmp(figure->key, "tone.level") == 0;
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
            if (capture->role == LDS_ROLE_SINE && isnan(capture->tone_hz))
                capture->tone_hz = tone_of_figures(kept, j, c);
        }
}

enum lds_status lds_kept_read(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept, struct lds_error *error)
{
    struct reading reading = {.kept = kept};
    enum lds_status status = read_jobs(ledger, unit, &reading, error);
    if (status == LDS_OK)
        fill_tones(kept);
    free(reading.row);
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
