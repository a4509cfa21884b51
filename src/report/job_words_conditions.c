/* The conditions under which the captures were made and compared. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/comparison_cells.h"
#include "report/job_words.h"
#include "report/reading.h"
#include "scarce.h"

static void write_bench(FILE *out, const struct lds_measurement *measurement)
{
    lds_bench_write(out, measurement);
    lds_bench_limits_write(out, &measurement->bench);
    fputc('.', out);
}

/* NULL: no memory, which is noted. */
static char *bench_text(const struct lds_measurement *measurement)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    write_bench(scrap.out, measurement);
    (void)lds_scrap_close(&scrap);
    return scrap.text;
}

/* A row for each bench, with the names of all captures to which it applies. */
static void put_benches(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    size_t count = job->sheet->captures;
    char **text = calloc(count + 1, sizeof *text);
    if (!text)
        lds_scarce_note();
    for (size_t i = 0; text && i < count; i++)
        text[i] = bench_text(&job->measurement[i]);
    for (size_t i = 0; text && i < count; i++) {
        struct lds_scrap names;
        if (!text[i] || !lds_scrap_open(&names))
            continue;
        for (size_t k = i; k < count; k++) {
            if (!text[k] || strcmp(text[k], text[i]) != 0)
                continue;
            fprintf(names.out, "%s%s", k == i ? "" : ", ", job->sheet->capture[k].name);
            if (k > i) { /* it has its row already */
                free(text[k]);
                text[k] = NULL;
            }
        }
        fprintf(names.out, ": %s", text[i]);
        lds_row_of_scrap(rows, "bench", &names);
        free(text[i]);
    }
    free(text);
}

/* "2026-05-17 19:30" */
static void write_date(const char *date, char *text, size_t size)
{
    bool timed = strlen(date) >= 16 && date[10] == 'T';
    snprintf(text, size, "%.10s%s%.5s", date[0] ? date : "not stated", timed ? " " : "", timed ? date + 11 : "");
}

static void put_captures(struct lds_table_of_words *table, const struct lds_job *job)
{
    *table =
        (struct lds_table_of_words){.caption = "Captures",
                                    .columns = 6,
                                    .heading = {"capture", "recorded", "encoding", "rate", "length, s", "averages"},
                                    .number = {[4] = true}};
    for (size_t i = 0; i < job->sheet->captures; i++) {
        const struct lds_measurement *m = &job->measurement[i];
        char date[32], seconds[32], averages[48] = "";
        write_date(m->date, date, sizeof date);
        snprintf(seconds, sizeof seconds, "%.4g", m->seconds);
        if (m->averages > 0 && isfinite(m->window_s))
            snprintf(averages, sizeof averages, "%d × %.3g s", m->averages, m->window_s);
        lds_table_of_words_add(table, (const char *const[]){job->sheet->capture[i].name, date,
                                                            m->format[0] ? m->format : "not stated",
                                                            lds_hz(m->rate_hz).text, seconds, averages});
    }
}

/* Whether a recording of the chain was compared with the capture: then some figure that the chain affects has neither
 * of these flags. */
static bool was_held(const struct lds_measurement *measurement)
{
    for (size_t c = 0; c < measurement->channels; c++)
        for (size_t i = 0; i < measurement->channel[c].figures; i++) {
            const struct lds_figure *figure = &measurement->channel[c].figure[i];
            if (figure->name.row->chain != LDS_CHAIN_NONE &&
                !(figure->flags & (LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE)))
                return true;
        }
    return false;
}

static void put_chain(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    const struct lds_sheet *sheet = job->sheet;
    size_t chains = 0, held = 0, saved = 0;
    for (size_t i = 0; i < sheet->captures; i++)
        if (sheet->capture[i].role->chain) {
            chains++;
        } else {
            held += was_held(&job->measurement[i]);
            saved += sheet->capture[i].bench.chain != NULL;
        }
    if (chains == 0 && saved > 0)
        lds_row_of_words(rows, "capture chain",
                         "Measured by itself, as the bench states, and compared with %zu of %zu captures; what the "
                         "chain explains there is marked.",
                         held, sheet->captures);
    else if (chains == 0)
        lds_row_of_words(rows, "capture chain",
                         "Not recorded by itself: how much of noise and distortion is its own is not known.");
    else
        lds_row_of_words(
            rows, "capture chain",
            "%zu recording%s of the chain alone, compared with %zu of %zu captures; what the chain explains "
            "there is marked.",
            chains, chains == 1 ? "" : "s", held, sheet->captures - chains);
}

/* The scatter from capture to capture used in the intervals of changes. */
static void put_scatter(struct lds_job_words *words, const struct lds_job *job)
{
    static const char *const from[] = {[LDS_REPEAT_REPEATS] = "the repeats",
                                       [LDS_REPEAT_BENCH] = "the bench",
                                       [LDS_REPEAT_DEFAULT] = "assumed",
                                       [LDS_REPEAT_STATED] = "stated",
                                       [LDS_REPEAT_NONE] = "left out"};
    enum { BEFORE = 2, FAMILIES = LDS_FAMILIES - LDS_FAMILY_LEVEL };
    _Static_assert(BEFORE + FAMILIES <= LDS_WORDS_COLUMNS, "a column for each family");
    struct lds_table_of_words *table = &words->scatter;
    bool assumed = false;
    *table = (struct lds_table_of_words){.caption = "Scatter from capture to capture, in dB",
                                         .columns = BEFORE + FAMILIES,
                                         .heading = {"captures", "from"}};
    for (int i = 0; i < FAMILIES; i++) {
        table->heading[BEFORE + i] = lds_family_name(LDS_FAMILY_LEVEL + i);
        table->number[BEFORE + i] = true;
    }
    for (size_t g = 0; g < job->groups; g++) {
        const struct lds_comparison *comparison = &job->group[g].comparison;
        char number[FAMILIES][32] = {{0}};
        const char *cell[LDS_WORDS_COLUMNS] = {job->group[g].title, from[comparison->repeatability]};
        if (!job->group[g].compared)
            continue;
        for (int i = 0; i < FAMILIES; i++) {
            double db = comparison->repeat_db[LDS_FAMILY_LEVEL + i];
            if (isfinite(db))
                snprintf(number[i], sizeof number[i], "%.3g", db);
            cell[BEFORE + i] = number[i];
        }
        lds_table_of_words_add(table, cell);
        assumed = assumed || comparison->repeatability == LDS_REPEAT_DEFAULT;
    }
    if (assumed)
        lds_row_of_words(&words->conditions, "scatter", "What is assumed is common practice, without a source.");
}

void lds_job_words_conditions(struct lds_job_words *words, const struct lds_job *job)
{
    struct lds_rows_of_words *rows = &words->conditions;
    put_benches(rows, job);
    put_chain(rows, job);
    put_captures(&words->captures, job);
    put_scatter(words, job);
    for (size_t i = 0; i < job->sheet->captures; i++)
        if (job->sheet->capture[i].note)
            lds_row_of_words(rows, "note", "%s: %s", job->sheet->capture[i].name, job->sheet->capture[i].note);
}
