/* Jobs made by hand, and what a ledger returns for them. */
#ifndef JOBS_H
#define JOBS_H

#include "loadside/ledger.h"

enum { JOB_CAPTURES = 5 }; /* idle and 10 W, before and after; a recording of the chain */

struct made_job {
    struct lds_sheet sheet;
    struct lds_job job;
    struct lds_sheet_capture capture[JOB_CAPTURES];
    struct lds_measurement measurement[JOB_CAPTURES];
    struct lds_job_file file[JOB_CAPTURES + 1];
    struct lds_part part[2];
};

/* A Sedge 25 of Thistlecote (invented, like all of its figures) with that serial number (NULL: none), on that day: two
 * channels; noise and hum before the work are 100 and 50 uV, after it 12 dB less; THD -80 dB, then 10 dB less; all of
 * them plus `more_db`. The captures' SHA-256 depend on every argument. */
void make_job(struct made_job *made, const char *serial, const char *date, double more_db);
/* Names a channel of one of its captures. */
void name_channel(struct lds_measurement *m, int channel, const char *name);
void free_job(struct made_job *made);

/* Everything that the ledger returns, as text: the same for two ledgers with the same contents. NULL: it cannot be
 * opened, with the reason in *error. */
char *read_all_of(const char *path, struct lds_error *error);

/* SHA-256 of a file, "" when there is none. */
void file_sum(const char *path, char sum[65]);

/* A new empty folder, and a path in it; both to be freed. The folder is removed with everything in it. */
char *ledger_folder(void);
char *path_in(const char *folder, const char *name);
void remove_folder(char *folder);

/* Runs work in a child, and kills it at a random moment within 1.6 times the time that it takes undisturbed (measured
 * when *takes_ns is 0; then it is not killed). Children that fail by themselves fail the test. */
void run_and_kill(void (*work)(const void *context), const void *context, long *takes_ns);

#endif
