#include "ledger/digest.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/digest.h"

static void add_text(struct sha256_ctx *sum, const char *text)
{
    sha256_update(sum, text ? strlen(text) + 1 : 1, (const uint8_t *)(text ? text : ""));
}

const char *lds_digest_of_file(const struct lds_job *job, const char *file)
{
    for (size_t i = 0; file && i < job->files; i++)
        if (job->file[i].file && strcmp(job->file[i].file, file) == 0 && job->file[i].sha256[0])
            return job->file[i].sha256;
    return NULL;
}

static int compare_texts(const void *a, const void *b)
{
    const char *const *one = a, *const *other = b;
    return strcmp(*one, *other);
}

enum lds_status lds_digest_identity(const struct lds_job *job, char identity[LDS_DIGEST_TEXT], struct lds_error *error)
{
    const struct lds_sheet *sheet = job->sheet;
    const char **capture = malloc((sheet->captures + 1) * sizeof *capture);
    if (!capture)
        return lds_fail_memory(error, "the ledger");
    for (size_t i = 0; i < sheet->captures; i++) {
        capture[i] = lds_digest_of_file(job, sheet->capture[i].file);
        if (!capture[i]) {
            free(capture);
            return lds_fail(
                error, LDS_BAD_INPUT,
                "%s: a capture without its SHA-256 in the job, by which the ledger knows it: run the job again",
                sheet->capture[i].file ? sheet->capture[i].file : "a capture");
        }
    }
    qsort(capture, sheet->captures, sizeof *capture, compare_texts);
    struct sha256_ctx sum;
    sha256_init(&sum);
    add_text(&sum, sheet->make);
    add_text(&sum, sheet->type);
    add_text(&sum, sheet->serial);
    add_text(&sum, job->date);
    for (size_t i = 0; i < sheet->captures; i++)
        add_text(&sum, capture[i]);
    free(capture);
    lds_digest_hex(&sum, identity);
    return LDS_OK;
}

/* Columns that are not content: row numbers and the digest itself. */
static bool left_out(const char *name)
{
    static const char *const names[] = {"id", "unit_id", "job_id", "capture_id", "digest"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(name, names[i]) == 0)
            return true;
    return false;
}

static uint64_t bits_of(double number)
{
    uint64_t bits;
    memcpy(&bits, &number, sizeof bits);
    return bits;
}

/* "NAME", NUL, a letter for the kind, the value, NUL: text as it is, whole numbers in decimal, reals as the 16
 * hexadecimal digits of their IEEE 754 form, so that nothing is rounded. */
static void add_column(struct sha256_ctx *sum, sqlite3_stmt *statement, int column)
{
    const char *name = sqlite3_column_name(statement, column);
    int type = sqlite3_column_type(statement, column);
    char number[32] = "";
    if (!name || left_out(name) || type == SQLITE_NULL)
        return;
    add_text(sum, name);
    if (type == SQLITE_FLOAT)
        snprintf(number, sizeof number, "r%016" PRIx64, bits_of(sqlite3_column_double(statement, column)));
    else if (type == SQLITE_INTEGER)
        snprintf(number, sizeof number, "i%" PRId64, (int64_t)sqlite3_column_int64(statement, column));
    if (number[0]) {
        add_text(sum, number);
        return;
    }
    const uint8_t *text = sqlite3_column_text(statement, column);
    sha256_update(sum, 1, (const uint8_t *)"t");
    sha256_update(sum, (size_t)sqlite3_column_bytes(statement, column) + 1, text ? text : (const uint8_t *)"");
}

struct table { /* the table whose rows are being added */
    struct sha256_ctx *sum;
    const char *name;
};

static void add_row(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    const struct table *table = context;
    (void)ledger;
    add_text(table->sum, table->name);
    for (int column = 0; column < sqlite3_column_count(row); column++)
        add_column(table->sum, row, column);
}

void lds_digest_rows(struct lds_ledger *ledger, int version, int64_t job, char digest[LDS_DIGEST_TEXT])
{
    static const struct {
        int since;
        const char *table, *sql;
    } parts[] = {
        {1, "unit", "SELECT unit.* FROM job JOIN unit ON unit.id = job.unit_id WHERE job.id = ?1"},
        {1, "job", "SELECT * FROM job WHERE id = ?1"},
        {1, "capture", "SELECT * FROM capture WHERE job_id = ?1 ORDER BY place"},
        {1, "figure",
         "SELECT figure.* FROM capture JOIN figure ON figure.capture_id = capture.id WHERE job_id = ?1 "
         "ORDER BY capture.place, figure.channel, figure.other, figure.place"},
        {2, "part", "SELECT * FROM part WHERE job_id = ?1 ORDER BY place"},
        {5, "channel",
         "SELECT channel.* FROM capture JOIN channel ON channel.capture_id = capture.id WHERE job_id = ?1 "
         "ORDER BY capture.place, channel.channel"},
    };
    struct sha256_ctx sum;
    sha256_init(&sum);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (version >= parts[i].since)
            lds_sql_each(ledger, parts[i].sql, add_row, &(struct table){&sum, parts[i].table}, "i", job);
    lds_digest_hex(&sum, digest);
}

static void check_job(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    const int *version = context;
    char digest[LDS_DIGEST_TEXT];
    lds_digest_rows(ledger, *version, sqlite3_column_int64(row, 0), digest);
    const char *kept = (const char *)sqlite3_column_text(row, 1);
    if (!ledger->status && !(kept && strcmp(kept, digest) == 0))
        lds_ledger_damaged(ledger, "the figures of a job are not those that were added");
}

void lds_digest_check(struct lds_ledger *ledger, int version)
{
    lds_sql_each(ledger, "SELECT id, digest FROM job", check_job, &version, "");
}
