/* Which figure of a kind of part a capture shows. */
#ifndef LDS_JOB_MEASURABLE_H
#define LDS_JOB_MEASURABLE_H

#include "loadside/job.h"

struct lds_measurable {
    size_t place;               /* of the figure, among those of the kind */
    enum lds_figure_id shown;   /* the figure of a capture that it is compared with */
    enum lds_figure_id instead; /* where no capture has that; LDS_FIGURE_OTHER: none */
    bool idle;                  /* captures with nothing played are preferred */
    bool most;                  /* what the parts imply is an upper limit */
    const char *note;           /* what the reader should know about the comparison: a sentence, or NULL */
};

/* NULL: none. */
const struct lds_measurable *lds_measurable_of(enum lds_expect_kind kind);

#endif
