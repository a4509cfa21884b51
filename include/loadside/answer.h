/* The answer of one comparison, or of all groups of a job: its few most important figures, and sentences that state
 * it. */
#ifndef LOADSIDE_ANSWER_H
#define LOADSIDE_ANSWER_H

#include "loadside/capture.h"
#include "loadside/compare.h"

#ifdef __cplusplus
extern "C" {
#endif

/* One of the comparisons that the answer sums up. */
struct lds_answer_group {
    const struct lds_comparison *comparison;
    const char *title; /* "10 W": its figures are "THD at 10 W"; NULL: nothing is added */
    bool idle;         /* nothing was played: hum and noise are taken from here first */
    const char *name;  /* "idle": tells its figures from those that another group has too; NULL: it has none */
};

enum { LDS_ANSWER_FIGURES = 8 };

/* One figure in the channels that have it. */
struct lds_answer_figure {
    size_t group; /* index */
    const char *key;
    struct lds_figure_name name;
    const char *where; /* the title of its group, or its name where another figure is called alike; NULL: neither */
    bool named;        /* where is the name */
    size_t channels;
    const struct lds_change *change[LDS_CHANNELS_MAX];
    int channel[LDS_CHANNELS_MAX];
};

struct lds_answer {
    size_t figures; /* the most important first */
    struct lds_answer_figure figure[LDS_ANSWER_FIGURES];
    char *verdict;          /* of all channels, a few short sentences */
    size_t channels;        /* all channels that occur in any group, by number */
    char **channel_verdict; /* of each, one sentence or two */
};

/* LDS_NO_MEMORY. *answer points into the comparisons, and is to be freed in any case. */
enum lds_status lds_answer_make(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups,
                                struct lds_error *error);
void lds_answer_free(struct lds_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
