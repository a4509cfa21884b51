/* The words of a job's report, made once for the text and for the page: rows of what is known, and the standing texts.
 * Each text is one line of UTF-8, not escaped: the writer escapes it for its own format. */
#ifndef LDS_REPORT_JOB_WORDS_H
#define LDS_REPORT_JOB_WORDS_H

#include <stdio.h>

#include "loadside/job.h"
#include "report/words.h"
#include "scrap.h"

struct lds_row_of_words {
    char *name; /* "power", "THD" */
    char *text;
};

struct lds_rows_of_words {
    size_t count;
    struct lds_row_of_words *row;
};

/* A small table: texts in columns, the first of which names the row. */
enum { LDS_WORDS_COLUMNS = 8 };
struct lds_table_of_words {
    const char *caption;
    size_t columns;
    const char *heading[LDS_WORDS_COLUMNS];
    bool number[LDS_WORDS_COLUMNS]; /* aligned at the decimal point */
    size_t rows;
    struct lds_cells_of_words {
        char *text[LDS_WORDS_COLUMNS];
    } * row;
};

struct lds_job_words {
    char *title;                          /* "Measurements on the Thistlecote Sedge 25" */
    struct lds_rows_of_words unit;        /* maker, type, serial number, client, date, place, by; the rest left out */
    struct lds_remarks work, notes;       /* of the sheet, a paragraph each; work: "not stated" when there is none */
    struct lds_rows_of_words parts;       /* "C1": "10 uF before, 22 uF after" */
    struct lds_rows_of_words rating;      /* power as stated, with the conditions that it needs, or "not stated" */
    struct lds_rows_of_words powers;      /* at which power each sine was tested: "sine 10 W after, left" */
    struct lds_rows_of_words sound;       /* "All": "Capture sound: no clipping, gaps or missing bits." */
    struct lds_rows_of_words conditions;  /* bench, chain, notes */
    struct lds_table_of_words captures;   /* when and how each was recorded */
    struct lds_table_of_words scatter;    /* from capture to capture, of each group that was compared */
    struct lds_remarks method;            /* paragraphs */
    struct lds_rows_of_words definitions; /* of the figures and series that occur, with their standards */
    struct lds_remarks uncertainty;       /* paragraphs */
};

/* Memory that runs out is noted (scarce.h); words may then be missing, and title is NULL. Free *words in either
 * case. */
void lds_job_words_make(struct lds_job_words *words, const struct lds_job *job);
void lds_job_words_free(struct lds_job_words *words);

/* "left", or "channel 1" where the sheet does not name it. */
struct lds_label lds_job_channel_words(const struct lds_sheet *sheet, int channel);

/* ---- the parts, each in its own file ---- */

void lds_row_of_words(struct lds_rows_of_words *rows, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same from a scrap, which is closed and freed; nothing if it is empty. */
void lds_row_of_scrap(struct lds_rows_of_words *rows, const char *name, struct lds_scrap *scrap);
void lds_rows_of_words_free(struct lds_rows_of_words *rows);

/* As text: the limits of all groups, for each channel; nothing without limits. */
void lds_job_limits_print(FILE *out, const struct lds_job *job);

/* Adds a row of as many cells as there are columns, which are copied. */
void lds_table_of_words_add(struct lds_table_of_words *table, const char *const *cell);
void lds_table_of_words_free(struct lds_table_of_words *table);

/* "Rating: not tested: 10 W is less than the rated 25 W." of a channel with a power. */
void lds_job_rating_write(FILE *out, const struct lds_rating *rating, const struct lds_measurement *measurement,
                          const struct lds_channel *channel);
/* The powers of a tone that steps in level, each with its interval, then what they hold for. false: there are none. */
bool lds_job_steps_write(FILE *out, const struct lds_channel *channel);
/* Rows named "Beware". */
void lds_job_words_beware(struct lds_rows_of_words *rows, const struct lds_job *job);
void lds_job_words_sound(struct lds_job_words *words, const struct lds_job *job);
void lds_job_words_powers(struct lds_job_words *words, const struct lds_job *job);
void lds_job_words_conditions(struct lds_job_words *words, const struct lds_job *job);
void lds_job_words_standing(struct lds_job_words *words, const struct lds_job *job);

#endif
