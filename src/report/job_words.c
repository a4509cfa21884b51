#include "report/job_words.h"

#include <stdlib.h>
#include <string.h>

#include "job/remarks.h"

static void put_title(struct lds_job_words *words, const struct lds_sheet *sheet)
{
    const char *make = sheet->make ? sheet->make : "", *type = sheet->type ? sheet->type : "";
    const char *space = *make && *type ? " " : "", *the = *make || *type ? "the " : "an amplifier";
    words->title = lds_made("Measurements on %s%s%s%s", the, make, space, type);
}

static void put_unit(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    const struct lds_sheet *sheet = job->sheet;
    const char *const stated[][2] = {
        {"maker", sheet->make}, {"type", sheet->type},   {"serial number", sheet->serial}, {"client", sheet->client},
        {"date", job->date},    {"place", sheet->place}, {"measured by", sheet->by},
    };
    for (size_t i = 0; i < sizeof stated / sizeof *stated; i++)
        if (stated[i][1] && stated[i][1][0])
            lds_row_of_words(rows, stated[i][0], "%s", stated[i][1]);
}

/* A paragraph for each line of the text; empty lines only separate them. */
static void put_lines(struct lds_remarks *remarks, const char *text)
{
    while (text && *text) {
        size_t length = strcspn(text, "\n");
        if (length > 0)
            (void)lds_remark(remarks, "%.*s", (int)length, text);
        text += length + (text[length] == '\n');
    }
}

static void put_work(struct lds_job_words *words, const struct lds_sheet *sheet)
{
    put_lines(&words->work, sheet->work);
    put_lines(&words->notes, sheet->notes);
    if (words->work.count == 0)
        (void)lds_remark(&words->work, "The sheet does not state what was done.");
    for (size_t i = 0; i < sheet->parts; i++)
        lds_row_of_words(&words->parts, sheet->part[i].name, "%s before, %s after", sheet->part[i].before,
                         sheet->part[i].after);
}

void lds_job_words_make(struct lds_job_words *words, const struct lds_job *job)
{
    *words = (struct lds_job_words){0};
    put_title(words, job->sheet);
    put_unit(&words->unit, job);
    put_work(words, job->sheet);
    lds_job_words_powers(words, job);
    lds_job_words_sound(words, job);
    lds_job_words_conditions(words, job);
    lds_job_words_standing(words, job);
}

void lds_job_words_free(struct lds_job_words *words)
{
    struct lds_rows_of_words *const rows[] = {&words->unit,       &words->parts,       &words->rating, &words->powers,
                                              &words->conditions, &words->definitions, &words->sound};
    struct lds_remarks *const lines[] = {&words->work, &words->notes, &words->method, &words->uncertainty};
    free(words->title);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        lds_rows_of_words_free(rows[i]);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        lds_remarks_free(lines[i]);
    lds_table_of_words_free(&words->captures);
    lds_table_of_words_free(&words->scatter);
    *words = (struct lds_job_words){0};
}
