/* Adds a job to the ledger. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/tone.h"
#include "ledger/digest.h"
#include "ledger/schema.h"
#include "loadside/loadside.h"

/* A job while it is added. */
struct adding {
    struct lds_ledger *ledger;
    const struct lds_job *job;
    struct lds_error *error;
    int64_t job_id;
    sqlite3_stmt *figure;
};

static const char *stated(const char *text)
{
    return text && text[0] ? text : NULL;
}

static enum lds_status take_id(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    (void)error;
    *(int64_t *)context = sqlite3_column_int64(row, 0);
    return LDS_OK;
}

/* The unit of that make, type and serial number; adds it if there is none. */
static enum lds_status add_unit(const struct adding *adding, int64_t *unit)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    const char *make = stated(sheet->make), *type = stated(sheet->type), *serial = stated(sheet->serial);
    enum lds_status status = LDS_OK;
    *unit = 0;
    if (serial) /* one without cannot be recognised again, so it is a unit of its own */
        status = lds_sql_each(adding->ledger, "SELECT id FROM unit WHERE make IS ?1 AND type IS ?2 AND serial = ?3",
                              take_id, unit, adding->error, "ttt", make, type, serial);
    if (status != LDS_OK || *unit)
        return status;
    status = lds_sql_insert_one(adding->ledger, "INSERT INTO unit (make, type, serial) VALUES (?1, ?2, ?3)",
                                adding->error, "ttt", make, type, serial);
    *unit = sqlite3_last_insert_rowid(adding->ledger->db);
    return status;
}

static enum lds_status add_job(struct adding *adding, int64_t unit, const char *identity)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    enum lds_status status = lds_sql_insert_one(
        adding->ledger,
        "INSERT INTO job (unit_id, identity, digest, date, client, work, program) "
        "VALUES (?1, ?2, '', ?3, ?4, ?5, 'loadside " LOADSIDE_VERSION "')",
        adding->error, "itttt", unit, identity, stated(adding->job->date), stated(sheet->client), stated(sheet->work));
    adding->job_id = sqlite3_last_insert_rowid(adding->ledger->db);
    return status;
}

static enum lds_status add_parts(struct adding *adding)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sheet->parts; i++)
        status = lds_sql_insert_one(adding->ledger,
                                    "INSERT INTO part (job_id, place, name, before, after) VALUES (?1, ?2, ?3, ?4, ?5)",
                                    adding->error, "iittt", adding->job_id, (int64_t)i + 1, stated(sheet->part[i].name),
                                    stated(sheet->part[i].before), stated(sheet->part[i].after));
    return status;
}

/* "below floor; band cut", for other programs that read the file. */
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
    char flags[512];
    write_flags(figure->flags, flags, sizeof flags);
    return lds_sql_insert(adding->ledger, adding->figure, adding->error, "innittrrrrrrrrccrt", capture, channels[0],
                          channels[1], (int64_t)place + 1, figure->key, figure->unit, figure->value, figure->low,
                          figure->high, figure->u_a, figure->u_b, figure->dof, figure->band_hz[0], figure->band_hz[1],
                          figure->orders[0], figure->orders[1], figure->removed_hz, stated(flags));
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

static enum lds_status add_names(const struct adding *adding, int64_t capture, const struct lds_measurement *found)
{
    enum lds_status status = LDS_OK;
    for (size_t c = 0; status == LDS_OK && c < found->channels; c++)
        if (stated(found->channel[c].name))
            status = lds_sql_insert_one(
                adding->ledger, "INSERT INTO channel (capture_id, channel, name) VALUES (?1, ?2, ?3)", adding->error,
                "iit", capture, (int64_t)found->channel[c].channel, found->channel[c].name);
    return status;
}

static enum lds_status add_capture(const struct adding *adding, size_t index)
{
    const struct lds_sheet_capture *sheet = &adding->job->sheet->capture[index];
    const struct lds_measurement *found = &adding->job->measurement[index];
    enum lds_status status = lds_sql_insert_one(
        adding->ledger,
        "INSERT INTO capture (job_id, place, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, "
        "rate_hz, load_ohm, tone_hz) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        adding->error, "iitttttrnntrrrr", adding->job_id, (int64_t)index + 1, sheet->name, sheet->file,
        lds_digest_of_file(adding->job, sheet->file), sheet->role->name, lds_when_name(sheet->when), sheet->power_w,
        sheet->channel, sheet->repeat, stated(sheet->note), found->seconds, found->rate_hz, lds_load_of_capture(found),
        lds_tone_of_capture(sheet, found));
    const int64_t capture = sqlite3_last_insert_rowid(adding->ledger->db);
    if (status == LDS_OK)
        status = add_names(adding, capture, found);
    return status == LDS_OK ? add_figures(adding, capture, found) : status;
}

/* The digest is computed from the rows as they read back. */
static enum lds_status seal(const struct adding *adding)
{
    char digest[LDS_DIGEST_TEXT];
    enum lds_status status = lds_digest_rows(adding->ledger, LDS_LEDGER_VERSION, adding->job_id, digest, adding->error);
    if (status != LDS_OK)
        return status;
    return lds_sql_insert_one(adding->ledger, "UPDATE job SET digest = ?1 WHERE id = ?2", adding->error, "ti", digest,
                              adding->job_id);
}

static enum lds_status add_all(struct adding *adding, const char *identity)
{
    int64_t unit;
    enum lds_status status = add_unit(adding, &unit);
    if (status == LDS_OK)
        status = add_job(adding, unit, identity);
    if (status == LDS_OK)
        status = add_parts(adding);
    if (status == LDS_OK)
        status = lds_sql_prepare(
            adding->ledger,
            "INSERT INTO figure (capture_id, channel, other, place, key, unit, value, low, high, u_a, u_b, dof, "
            "band_low_hz, band_high_hz, order_first, order_last, removed_hz, flags) VALUES (?1, ?2, ?3, ?4, ?5, ?6, "
            "?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)",
            &adding->figure, adding->error);
    for (size_t i = 0; status == LDS_OK && i < adding->job->sheet->captures; i++)
        status = add_capture(adding, i);
    sqlite3_finalize(adding->figure);
    return status == LDS_OK ? seal(adding) : status;
}

enum lds_status lds_ledger_add(struct lds_ledger *ledger, const struct lds_job *job, bool *added,
                               struct lds_error *error)
{
    char identity[LDS_DIGEST_TEXT];
    int64_t there = 0;
    *added = false;
    if (ledger->read_only)
        return lds_fail(error, LDS_BAD_USE, "%s: this ledger is open to read only: open it to write", ledger->path);
    enum lds_status status = lds_digest_identity(job, identity, error);
    if (status == LDS_OK)
        status = lds_sql_run(ledger, "BEGIN IMMEDIATE", error);
    if (status != LDS_OK)
        return status;
    struct adding adding = {.ledger = ledger, .job = job, .error = error};
    status = lds_sql_each(ledger, "SELECT id FROM job WHERE identity = ?1", take_id, &there, error, "t", identity);
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
