/* Shows on a terminal what is being done and the time left, for work that takes over half a second. */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

#include <stdbool.h>
#include <stdio.h>

struct progress {
    FILE *out;               /* NULL: shows nothing */
    double (*now_s)(void);   /* seconds of a clock that never goes back */
    double start_s, shown_s; /* s of that clock; shown_s: when the line was last written, NAN: never */
    size_t width;            /* number of characters in the line shown */
    char name[128];          /* of the work */
};

/* Starts the work called name. Shows nothing unless wanted and standard error is a terminal. */
void progress_start(struct progress *progress, bool wanted, const char *name);

/* For struct lds_measure_options: context is the struct progress, 0 <= fraction <= 1. */
void progress_show(void *context, const char *doing, double fraction);

/* Removes the line. */
void progress_end(struct progress *progress);

/* ---- several at once, with a line for each in progress ---- */

struct progress_one {
    char name[128];
    const char *doing;
    bool begun;
    double fraction, start_s; /* fraction 1: done */
};

struct progress_many {
    FILE *out; /* NULL: shows nothing */
    double (*now_s)(void);
    double start_s, shown_s;
    size_t count, lines; /* lines: the number shown */
    struct progress_one *one;
};

/* Shows nothing unless wanted and standard error is a terminal. false: no memory. End it in either case. */
bool progress_many_start(struct progress_many *many, bool wanted, size_t count);
void progress_many_name(struct progress_many *many, size_t place, const char *name);

/* For struct lds_job_options: context is the struct progress_many. doing must stay valid. */
void progress_many_show(void *context, size_t place, const char *doing, double fraction);

/* Removes the lines. */
void progress_many_end(struct progress_many *many);

#endif
