/* The client's page: what the unit is, what was done, the verdict, one table, limits, the power it was tested at, how
 * sure it all is. Made once for the page and for the text. Each text is one line of UTF-8, not escaped. */
#ifndef LDS_REPORT_CLIENT_H
#define LDS_REPORT_CLIENT_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/answer.h"
#include "loadside/job.h"
#include "report/words.h"

/* What a channel shows of a figure. */
struct lds_client_cell {
    struct lds_short before, after; /* "474"; "" where it is not known */
    struct lds_short change;        /* "-18.8"; "" where it is not known */
    struct lds_short interval;      /* "±2.8" */
    const struct lds_change *of;    /* NULL: the channel has none */
};

struct lds_client_row {
    struct lds_label label;                        /* "Hum, total" */
    char unit[24];                                 /* of all its values, "µV" */
    char word[64];                                 /* "lower", "same", "lower, same" */
    bool decibels;                                 /* its changes are in dB; else in the unit */
    struct lds_client_cell cell[LDS_CHANNELS_MAX]; /* by the place of the channel */
};

struct lds_client {
    char *heading; /* "Thistlecote Sedge 25, serial 0025" */
    char *about;   /* "for the village hall, 17 May 2026" */
    char *verdict;
    char *done;   /* the work in a paragraph */
    char *limits; /* "All 16 limits of this job are met."; "" without limits */
    char *power;  /* at which power it was tested, and what that says of the rating; "" without a tone */
    char *beware; /* what is wrong with the captures; "" when nothing is */
    char *sure;   /* what ± and "same" mean */
    char *by;     /* "Measured by NAME, 17 May 2026" */
    size_t channels;
    int channel[LDS_CHANNELS_MAX];
    size_t rows;
    struct lds_client_row row[LDS_ANSWER_FIGURES];
    bool compared; /* false: only one side is there, and after holds what was found */
};

/* Memory that runs out is noted (scarce.h); texts may then be NULL. To be freed either way. */
void lds_client_make(struct lds_client *client, const struct lds_job *job);
void lds_client_free(struct lds_client *client);

/* The page as text. */
void lds_client_print(FILE *out, const struct lds_job *job);

/* ---- its parts ---- */

/* The table: one row for each figure of the answer. */
void lds_client_rows(struct lds_client *client, const struct lds_answer *answer);

/* "Hum, total at 10 W"; where: " at 10 W", or "". */
struct lds_label lds_client_label(const char *key, const char *where);

/* Where one side alone is there: what its captures show. */
void lds_client_measured(struct lds_client *client, const struct lds_job *job);

/* Limits, power, what to beware of, what the intervals mean, who measured. */
void lds_client_words(struct lds_client *client, const struct lds_job *job);

#endif
