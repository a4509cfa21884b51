/* The conditions under which the captures were made and compared. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/comparison.h"
#include "report/job_words.h"
#include "scarce.h"

static void write_bench(FILE *out, const struct lds_measurement *measurement)
{
    lds_bench_write(out, measurement);
    lds_bench_limits_write(out, &measurement->bench);
    fputc('.', out);
}

static void write_recording(FILE *out, const struct lds_measurement *measurement)
{
    lds_recording_write(out, measurement);
    fputs("; ", out);
    lds_analysis_write(out, measurement);
    fputc('.', out);
}

typedef void (*writer)(FILE *out, const struct lds_measurement *measurement);

/* NULL: no memory, which is noted. */
static char *text_of(writer write, const struct lds_measurement *measurement)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    write(scrap.out, measurement);
    (void)lds_scrap_close(&scrap);
    return scrap.text;
}

/* A row for each text, with the names of all captures to which it applies. */
static void put_by_capture(struct lds_rows_of_words *rows, const struct lds_job *job, const char *name, writer write)
{
    size_t count = job->sheet->captures;
    char **text = calloc(count + 1, sizeof *text);
    if (!text)
        lds_scarce_note();
    for (size_t i = 0; text && i < count; i++)
        text[i] = text_of(write, &job->measurement[i]);
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
        lds_row_of_scrap(rows, name, &names, "");
        free(text[i]);
    }
    free(text);
}

/* Whether any recording of the chain was compared with the capture: some figure that the chain affects shows it. */
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
    size_t chains = 0, held = 0;
    for (size_t i = 0; i < sheet->captures; i++)
        if (sheet->capture[i].role->chain)
            chains++;
        else
            held += was_held(&job->measurement[i]);
    if (chains == 0)
        lds_row_of_words(rows, "capture chain",
                         "Not recorded by itself: how much of noise and distortion is its own is not known.");
    else
        lds_row_of_words(
            rows, "capture chain",
            "%zu recording%s of the chain alone, held against %zu of %zu captures; what the chain explains "
            "there is marked.",
            chains, chains == 1 ? "" : "s", held, sheet->captures - chains);
}

/* The scatter from capture to capture used in the intervals of changes, once for all groups with the same values. */
static void put_repeatability(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    static const char *const words[] = {
        [LDS_REPEAT_REPEATS] = "seen in the repeats of each side",
        [LDS_REPEAT_BENCH] = "as the bench states it",
        [LDS_REPEAT_DEFAULT] = "assumed (common practice, no source)",
        [LDS_REPEAT_STATED] = "as stated",
        [LDS_REPEAT_NONE] = "left out",
    };
    for (size_t i = 0; i < job->groups; i++) {
        const struct lds_job_group *group = &job->group[i];
        struct lds_scrap scrap;
        if (!group->compared || !lds_scrap_open(&scrap))
            continue;
        fprintf(scrap.out, "from capture to capture, %s: %s", group->title, words[group->comparison.repeatability]);
        for (int family = LDS_FAMILY_LEVEL; family < LDS_FAMILIES; family++)
            if (isfinite(group->comparison.repeat_db[family]))
                fprintf(scrap.out, ", %s %.3g dB", lds_family_name(family), group->comparison.repeat_db[family]);
        lds_row_of_scrap(rows, "scatter", &scrap, ".");
    }
}

void lds_job_words_conditions(struct lds_job_words *words, const struct lds_job *job)
{
    struct lds_rows_of_words *rows = &words->conditions;
    put_by_capture(rows, job, "bench", write_bench);
    put_by_capture(rows, job, "recording", write_recording);
    put_chain(rows, job);
    put_repeatability(rows, job);
    for (size_t i = 0; i < job->sheet->captures; i++)
        if (job->sheet->capture[i].note)
            lds_row_of_words(rows, "note", "%s: %s", job->sheet->capture[i].name, job->sheet->capture[i].note);
}
