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
    int64_t job_id;
    sqlite3_stmt *figure;
};

static const char *stated(const char *text)
{
    return text && text[0] ? text : NULL;
}

/* The unit of that make, type and serial number; adds it if there is none. */
static int64_t add_unit(const struct adding *adding)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    const char *make = stated(sheet->make), *type = stated(sheet->type), *serial = stated(sheet->serial);
    int64_t unit = 0;
    if (serial) /* one without cannot be recognised again, so it is a unit of its own */
        unit = lds_sql_number(adding->ledger, "SELECT id FROM unit WHERE make IS ?1 AND type IS ?2 AND serial = ?3",
                              "ttt", make, type, serial);
    if (unit)
        return unit;
    lds_sql_each(adding->ledger, "INSERT INTO unit (make, type, serial) VALUES (?1, ?2, ?3)", NULL, NULL, "ttt", make,
                 type, serial);
    return sqlite3_last_insert_rowid(adding->ledger->db);
}

static void add_job(struct adding *adding, int64_t unit, const char *identity)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    lds_sql_each(adding->ledger,
                 "INSERT INTO job (unit_id, identity, digest, date, client, work, program) "
                 "VALUES (?1, ?2, '', ?3, ?4, ?5, 'loadside " LOADSIDE_VERSION "')",
                 NULL, NULL, "itttt", unit, identity, stated(adding->job->date), stated(sheet->client),
                 stated(sheet->work));
    adding->job_id = sqlite3_last_insert_rowid(adding->ledger->db);
}

static void add_parts(const struct adding *adding)
{
    const struct lds_sheet *sheet = adding->job->sheet;
    for (size_t i = 0; i < sheet->parts; i++)
        lds_sql_each(adding->ledger,
                     "INSERT INTO part (job_id, place, name, before, after) VALUES (?1, ?2, ?3, ?4, ?5)", NULL, NULL,
                     "iittt", adding->job_id, (int64_t)i + 1, stated(sheet->part[i].name),
                     stated(sheet->part[i].before), stated(sheet->part[i].after));
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

static void add_figures(const struct adding *adding, int64_t capture, const int channels[2],
                        const struct lds_figure *all, size_t figures)
{
    for (size_t i = 0; i < figures; i++) {
        const struct lds_figure *figure = &all[i];
        char flags[512];
        write_flags(figure->flags, flags, sizeof flags);
        lds_sql_insert(adding->ledger, adding->figure, "innittrrrrrrrrccrt", capture, channels[0], channels[1],
                       (int64_t)i + 1, figure->key, figure->unit, figure->value, figure->low, figure->high, figure->u_a,
                       figure->u_b, figure->dof, figure->band_hz[0], figure->band_hz[1], figure->orders[0],
                       figure->orders[1], figure->removed_hz, stated(flags));
    }
}

/* With the name of the channel, if it has one. */
static void add_channel(const struct adding *adding, int64_t capture, const struct lds_channel *channel)
{
    if (stated(channel->name))
        lds_sql_each(adding->ledger, "INSERT INTO channel (capture_id, channel, name) VALUES (?1, ?2, ?3)", NULL, NULL,
                     "iit", capture, (int64_t)channel->channel, channel->name);
    add_figures(adding, capture, (const int[2]){channel->channel, 0}, channel->figure, channel->figures);
}

static void add_capture(const struct adding *adding, size_t index)
{
    const struct lds_sheet_capture *sheet = &adding->job->sheet->capture[index];
    const struct lds_measurement *found = &adding->job->measurement[index];
    lds_sql_each(
        adding->ledger,
        "INSERT INTO capture (job_id, place, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, "
        "rate_hz, load_ohm, tone_hz) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        NULL, NULL, "iitttttrnntrrrr", adding->job_id, (int64_t)index + 1, sheet->name, sheet->file,
        lds_digest_of_file(adding->job, sheet->file), sheet->role->name, lds_when_name(sheet->when), sheet->power_w,
        sheet->channel, sheet->repeat, stated(sheet->note), found->seconds, found->rate_hz, lds_load_of_capture(found),
        lds_tone_of_capture(sheet, found));
    const int64_t capture = sqlite3_last_insert_rowid(adding->ledger->db);
    for (size_t c = 0; c < found->channels; c++)
        add_channel(adding, capture, &found->channel[c]);
    for (size_t p = 0; p < found->pairs; p++)
        add_figures(adding, capture, found->pair[p].channels, found->pair[p].figure, found->pair[p].figures);
}

/* At the end the digest is computed from the rows as they read back. */
static void add_all(struct adding *adding, const char *identity)
{
    char digest[LDS_DIGEST_TEXT];
    add_job(adding, add_unit(adding), identity);
    add_parts(adding);
    adding->figure = lds_sql_prepare(
        adding->ledger,
        "INSERT INTO figure (capture_id, channel, other, place, key, unit, value, low, high, u_a, u_b, dof, "
        "band_low_hz, band_high_hz, order_first, order_last, removed_hz, flags) VALUES (?1, ?2, ?3, ?4, ?5, ?6, "
        "?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)");
    for (size_t i = 0; i < adding->job->sheet->captures; i++)
        add_capture(adding, i);
    sqlite3_finalize(adding->figure);
    lds_digest_rows(adding->ledger, LDS_LEDGER_VERSION, adding->job_id, digest);
    lds_sql_each(adding->ledger, "UPDATE job SET digest = ?1 WHERE id = ?2", NULL, NULL, "ti", digest, adding->job_id);
}

enum lds_status lds_ledger_add(struct lds_ledger *ledger, const struct lds_job *job, bool *added,
                               struct lds_error *error)
{
    char identity[LDS_DIGEST_TEXT];
    *added = false;
    if (ledger->read_only)
        return lds_fail(error, LDS_BAD_USE, "%s: this ledger is open to read only: open it to write", ledger->path);
    enum lds_status status = lds_digest_identity(job, identity, error);
    if (status != LDS_OK)
        return status;
    struct adding adding = {.ledger = ledger, .job = job};
    lds_sql_start(ledger, error);
    lds_sql_run(ledger, "BEGIN IMMEDIATE");
    bool there = lds_sql_number(ledger, "SELECT id FROM job WHERE identity = ?1", "t", identity) != 0;
    if (there)
        lds_sql_rollback(ledger);
    else
        add_all(&adding, identity);
    status = lds_sql_end(ledger);
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
