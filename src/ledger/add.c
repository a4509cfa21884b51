/* A job into the ledger. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/tone.h"
#include "ledger/digest.h"
#include "ledger/schema.h"
#include "loadside/loadside.h"

/* An adding under way. */
struct adding {
    struct lds_ledger *ledger;
    const struct lds_job *job;
    struct lds_error *error;
    int64_t job_id;
    sqlite3_stmt *capture, *figure, *part;
};

static const char *stated(const char *text)
{
    return text && text[0] ? text : NULL;
}

static enum lds_status is_there(struct lds_ledger *ledger, const char *identity, bool *there, struct lds_error *error)
{
    sqlite3_stmt *statement;
    *there = false;
    enum lds_status status = lds_sql_prepare(ledger, "SELECT 1 FROM job WHERE identity = ?1", &statement, error);
    if (status == LDS_OK) {
        lds_sql_bind_text(statement, 1, identity);
        status = lds_sql_step(ledger, statement, there, error);
    }
    sqlite3_finalize(statement);
    return status;
}

/* The unit of that make, type and serial number. */
static enum lds_status find_unit(const struct adding *adding, int64_t *unit, bool *found)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    sqlite3_stmt *statement;
    *found = false;
    if (!stated(sheet->serial)) /* cannot be known again: a unit of its own */
        return LDS_OK;
    enum lds_status status =
        lds_sql_prepare(adding->ledger, "SELECT id FROM unit WHERE make IS ?1 AND type IS ?2 AND serial = ?3",
                        &statement, adding->error);
    if (status == LDS_OK) {
        lds_sql_bind_text(statement, 1, stated(sheet->make));
        lds_sql_bind_text(statement, 2, stated(sheet->type));
        lds_sql_bind_text(statement, 3, sheet->serial);
        status = lds_sql_step(adding->ledger, statement, found, adding->error);
    }
    *unit = *found ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_finalize(statement);
    return status;
}

static enum lds_status add_unit(const struct adding *adding, int64_t *unit)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    sqlite3_stmt *statement = NULL;
    bool found = false;
    enum lds_status status = find_unit(adding, unit, &found);
    if (status != LDS_OK || found)
        return status;
    status = lds_sql_prepare(adding->ledger, "INSERT INTO unit (make, type, serial) VALUES (?1, ?2, ?3)", &statement,
                             adding->error);
    if (status == LDS_OK) {
        lds_sql_bind_text(statement, 1, stated(sheet->make));
        lds_sql_bind_text(statement, 2, stated(sheet->type));
        lds_sql_bind_text(statement, 3, stated(sheet->serial));
        status = lds_sql_insert(adding->ledger, statement, adding->error);
    }
    sqlite3_finalize(statement);
    *unit = sqlite3_last_insert_rowid(adding->ledger->db);
    return status;
}

static enum lds_status add_job(struct adding *adding, int64_t unit, const char *identity)
{
    sqlite3_stmt *statement;
    enum lds_status status = lds_sql_prepare(adding->ledger,
                                             "INSERT INTO job (unit_id, identity, digest, date, client, work, program) "
                                             "VALUES (?1, ?2, '', ?3, ?4, ?5, 'loadside " LOADSIDE_VERSION "')",
                                             &statement, adding->error);
    if (status == LDS_OK) {
        (void)sqlite3_bind_int64(statement, 1, unit);
        lds_sql_bind_text(statement, 2, identity);
        lds_sql_bind_text(statement, 3, stated(adding->job->date));
        lds_sql_bind_text(statement, 4, stated(adding->job->sheet->client));
        lds_sql_bind_text(statement, 5, stated(adding->job->sheet->work));
        status = lds_sql_insert(adding->ledger, statement, adding->error);
    }
    sqlite3_finalize(statement);
    adding->job_id = sqlite3_last_insert_rowid(adding->ledger->db);
    return status;
}

static enum lds_status add_parts(struct adding *adding)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sheet->parts; i++) {
        (void)sqlite3_bind_int64(adding->part, 1, adding->job_id);
        (void)sqlite3_bind_int64(adding->part, 2, (sqlite3_int64)i + 1);
        lds_sql_bind_text(adding->part, 3, stated(sheet->part[i].name));
        lds_sql_bind_text(adding->part, 4, stated(sheet->part[i].before));
        lds_sql_bind_text(adding->part, 5, stated(sheet->part[i].after));
        status = lds_sql_insert(adding->ledger, adding->part, adding->error);
    }
    return status;
}

/* "below floor; band cut", for whoever reads the file by other means. */
static void write_flags(unsigned flags, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (int i = 0; i < LDS_FLAGS && used < size; i++)
        if (flags & 1u << i)
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? "; " : "",
                                     lds_flag_name((enum lds_flag)(1u << i)));
}

static enum lds_status add_figure(const struct adding *adding, int64_t capture, const int channels[2], size_t place,
                                  const struct lds_figure *figure)
{
    sqlite3_stmt *statement = adding->figure;
    char flags[512];
    write_flags(figure->flags, flags, sizeof flags);
    (void)sqlite3_bind_int64(statement, 1, capture);
    (void)sqlite3_bind_int(statement, 2, channels[0]);
    (void)sqlite3_bind_int(statement, 3, channels[1]);
    (void)sqlite3_bind_int64(statement, 4, (sqlite3_int64)place + 1);
    lds_sql_bind_text(statement, 5, figure->key);
    lds_sql_bind_text(statement, 6, figure->unit);
    const double real[] = {figure->value, figure->low, figure->high,       figure->u_a,
                           figure->u_b,   figure->dof, figure->band_hz[0], figure->band_hz[1]};
    for (int i = 0; i < 8; i++)
        (void)sqlite3_bind_double(statement, 7 + i, real[i]);
    lds_sql_bind_count(statement, 15, figure->orders[0]);
    lds_sql_bind_count(statement, 16, figure->orders[1]);
    (void)sqlite3_bind_double(statement, 17, figure->removed_hz);
    lds_sql_bind_text(statement, 18, stated(flags));
    return lds_sql_insert(adding->ledger, statement, adding->error);
}

static enum lds_status add_figures(const struct adding *adding, int64_t capture, const struct lds_measurement *found)
{
    enum lds_status status = LDS_OK;
    for (size_t c = 0; c < found->channels; c++) {
        const int channels[2] = {found->channel[c].channel, 0};
        for (size_t i = 0; status == LDS_OK && i < found->channel[c].figures; i++)
            status = add_figure(adding, capture, channels, i, &found->channel[c].figure[i]);
    }
    for (size_t p = 0; p < found->pairs; p++)
        for (size_t i = 0; status == LDS_OK && i < found->pair[p].figures; i++)
            status = add_figure(adding, capture, found->pair[p].channels, i, &found->pair[p].figure[i]);
    return status;
}

static enum lds_status add_capture(const struct adding *adding, size_t index)
{
    const struct lds_sheet_capture *sheet = &adding->job->sheet->capture[index];
    const struct lds_measurement *found = &adding->job->measurement[index];
    sqlite3_stmt *statement = adding->capture;
    (void)sqlite3_bind_int64(statement, 1, adding->job_id);
    (void)sqlite3_bind_int64(statement, 2, (sqlite3_int64)index + 1);
    lds_sql_bind_text(statement, 3, sheet->name);
    lds_sql_bind_text(statement, 4, sheet->file);
    lds_sql_bind_text(statement, 5, lds_digest_of_file(adding->job, sheet->file));
    lds_sql_bind_text(statement, 6, lds_role_name(sheet->role));
    lds_sql_bind_text(statement, 7, lds_when_name(sheet->when));
    (void)sqlite3_bind_double(statement, 8, sheet->power_w);
    (void)sqlite3_bind_int(statement, 9, sheet->channel);
    (void)sqlite3_bind_int(statement, 10, sheet->repeat);
    lds_sql_bind_text(statement, 11, stated(sheet->note));
    (void)sqlite3_bind_double(statement, 12, found->seconds);
    (void)sqlite3_bind_double(statement, 13, found->rate_hz);
    (void)sqlite3_bind_double(statement, 14, found->bench.load_ohm);
    (void)sqlite3_bind_double(statement, 15, lds_tone_of_capture(sheet, found));
    enum lds_status status = lds_sql_insert(adding->ledger, statement, adding->error);
    return status == LDS_OK ? add_figures(adding, sqlite3_last_insert_rowid(adding->ledger->db), found) : status;
}

static enum lds_status prepare_rows(struct adding *adding)
{
    enum lds_status status = lds_sql_prepare(
        adding->ledger,
        "INSERT INTO capture (job_id, place, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, "
        "rate_hz, load_ohm, tone_hz) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        &adding->capture, adding->error);
    if (status == LDS_OK)
        status = lds_sql_prepare(
            adding->ledger,
            "INSERT INTO figure (capture_id, channel, other, place, key, unit, value, low, high, u_a, u_b, dof, "
            "band_low_hz, band_high_hz, order_first, order_last, removed_hz, flags) VALUES (?1, ?2, ?3, ?4, ?5, ?6, "
            "?7, "
            "?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)",
            &adding->figure, adding->error);
    if (status == LDS_OK)
        status = lds_sql_prepare(adding->ledger,
                                 "INSERT INTO part (job_id, place, name, before, after) VALUES (?1, ?2, ?3, ?4, ?5)",
                                 &adding->part, adding->error);
    return status;
}

/* The digest is of the rows as they read back. */
static enum lds_status seal(const struct adding *adding)
{
    char digest[LDS_DIGEST_TEXT];
    sqlite3_stmt *statement = NULL;
    enum lds_status status = lds_digest_rows(adding->ledger, LDS_LEDGER_VERSION, adding->job_id, digest, adding->error);
    if (status == LDS_OK)
        status = lds_sql_prepare(adding->ledger, "UPDATE job SET digest = ?1 WHERE id = ?2", &statement, adding->error);
    if (status == LDS_OK) {
        lds_sql_bind_text(statement, 1, digest);
        (void)sqlite3_bind_int64(statement, 2, adding->job_id);
        status = lds_sql_insert(adding->ledger, statement, adding->error);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum lds_status add_all(struct adding *adding, const char *identity)
{
    int64_t unit = 0;
    enum lds_status status = prepare_rows(adding);
    if (status == LDS_OK)
        status = add_unit(adding, &unit);
    if (status == LDS_OK)
        status = add_job(adding, unit, identity);
    if (status == LDS_OK)
        status = add_parts(adding);
    for (size_t i = 0; status == LDS_OK && i < adding->job->sheet->captures; i++)
        status = add_capture(adding, i);
    if (status == LDS_OK)
        status = seal(adding);
    sqlite3_finalize(adding->capture);
    sqlite3_finalize(adding->figure);
    sqlite3_finalize(adding->part);
    return status;
}

enum lds_status lds_ledger_add(struct lds_ledger *ledger, const struct lds_job *job, bool *added,
                               struct lds_error *error)
{
    char identity[LDS_DIGEST_TEXT];
    bool there = false;
    *added = false;
    if (ledger->read_only)
        return lds_fail(error, LDS_BAD_USE, "%s: this ledger is open to read only: open it to write", ledger->path);
    enum lds_status status = lds_digest_identity(job, identity, error);
    if (status == LDS_OK)
        status = lds_sql_run(ledger, "BEGIN IMMEDIATE", error);
    if (status != LDS_OK)
        return status;
    struct adding adding = {.ledger = ledger, .job = job, .error = error};
    status = is_there(ledger, identity, &there, error);
    if (status == LDS_OK && there)
        lds_sql_rollback(ledger);
    else if (status == LDS_OK)
        status = add_all(&adding, identity);
    status = lds_sql_end(ledger, status, error);
    *added = status == LDS_OK && !there;
    return status;
}

enum lds_status lds_ledger_add_job(const char *path, const struct lds_job *job, bool *added, struct lds_error *error)
{
    struct lds_ledger *ledger;
    *added = false;
    enum lds_status status = lds_ledger_open(path, LDS_LEDGER_CREATE, &ledger, error);
    if (status == LDS_OK)
        status = lds_ledger_add(ledger, job, added, error);
    lds_ledger_close(ledger);
    return status;
}
