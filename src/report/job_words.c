#include "report/job_words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "job/remarks.h"
#include "report/figures.h"

static bool put_title(struct lds_job_words *words, const struct lds_sheet *sheet)
{
    const char *make = sheet->make ? sheet->make : "", *type = sheet->type ? sheet->type : "";
    const char *space = *make && *type ? " " : "", *the = *make || *type ? "the " : "an amplifier";
    if (asprintf(&words->title, "Measurements on %s%s%s%s", the, make, space, type) < 0)
        words->title = NULL;
    return words->title != NULL;
}

static bool put_stated(struct lds_rows_of_words *rows, const char *name, const char *text)
{
    return !text || !*text || lds_row_of_words(rows, name, "%s", text);
}

static bool put_unit(struct lds_job_words *words, const struct lds_job *job)
{
    const struct lds_sheet *sheet = job->sheet;
    return put_stated(&words->unit, "maker", sheet->make) && put_stated(&words->unit, "type", sheet->type) &&
           put_stated(&words->unit, "serial number", sheet->serial) &&
           put_stated(&words->unit, "client", sheet->client) && put_stated(&words->unit, "date", job->date) &&
           put_stated(&words->unit, "place", sheet->place) && put_stated(&words->unit, "measured by", sheet->by);
}

/* A paragraph for each line of the text; empty lines part them only. */
static bool put_lines(struct lds_remarks *remarks, const char *text)
{
    bool enough = true;
    while (enough && text && *text) {
        size_t length = strcspn(text, "\n");
        if (length > 0)
            enough = lds_remark(remarks, "%.*s", (int)length, text);
        text += length + (text[length] == '\n');
    }
    return enough;
}

static bool put_work(struct lds_job_words *words, const struct lds_sheet *sheet)
{
    bool enough = put_lines(&words->work, sheet->work) && put_lines(&words->notes, sheet->notes);
    if (enough && words->work.count == 0)
        enough = lds_remark(&words->work, "The sheet does not state what was done.");
    for (size_t i = 0; enough && i < sheet->parts; i++)
        enough = lds_row_of_words(&words->parts, sheet->part[i].name, "%s before, %s after", sheet->part[i].before,
                                  sheet->part[i].after);
    return enough;
}

bool lds_job_words_make(struct lds_job_words *words, const struct lds_job *job)
{
    struct lds_point_locale locale;
    *words = (struct lds_job_words){0};
    if (!lds_point_locale_enter(&locale))
        return false;
    bool enough = put_title(words, job->sheet) && put_unit(words, job) && put_work(words, job->sheet) &&
                  lds_job_words_powers(words, job) && lds_job_words_conditions(words, job) &&
                  lds_job_words_standing(words, job) && lds_job_words_summary(words, job);
    lds_point_locale_leave(&locale);
    return enough;
}

void lds_job_words_free(struct lds_job_words *words)
{
    struct lds_rows_of_words *const rows[] = {&words->unit,   &words->parts,      &words->summary,    &words->rating,
                                              &words->powers, &words->conditions, &words->definitions};
    struct lds_remarks *const lines[] = {&words->work, &words->notes, &words->method, &words->uncertainty,
                                         &words->cautions};
    free(words->title);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        lds_rows_of_words_free(rows[i]);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        lds_remarks_free(lines[i]);
    *words = (struct lds_job_words){0};
}
