/* A job: one sheet that says what was done to a unit and which captures were taken; from it every figure and every
 * change, for one report. Keys of the sheet: docs/job-sheet.md. */
#ifndef LOADSIDE_JOB_H
#define LOADSIDE_JOB_H

#include "loadside/compare.h"
#include "loadside/measure.h"

#ifdef __cplusplus
extern "C" {
#endif

enum lds_role { LDS_ROLE_IDLE, LDS_ROLE_SINE, LDS_ROLE_CHAIN };
enum lds_when { LDS_WHEN_ANY, LDS_WHEN_BEFORE, LDS_WHEN_AFTER };
/* "idle", "sine", "chain"; "", "before", "after". */
const char *lds_role_name(enum lds_role role);
const char *lds_when_name(enum lds_when when);

/* Text that the sheet does not state is NULL, a number NAN, a count 0. All text is UTF-8 (what is not was replaced by
 * U+FFFD) and may hold anything else: whoever writes it out escapes it. */

struct lds_rating { /* what the maker or the client states of the unit */
    double power_w, load_ohm, distortion_percent, low_hz, high_hz;
    int channels_driven;
    double held_s; /* how long the power is held */
};

struct lds_part { /* a component value that the work changed */
    char *name;
    char *before, *after; /* "not fitted" where there was none */
};

struct lds_sheet_capture {
    char *name; /* of its section, unique */
    char *file; /* as the sheet writes it */
    char *path; /* that, taken from the sheet's folder */
    enum lds_role role;
    enum lds_when when;
    double power_w;      /* of a sine, into the bench's load; NAN: not stated */
    double frequency_hz; /* of a sine; NAN: not stated */
    int channel;         /* of the file; 0: all */
    int driven;          /* the channel of the file that alone is driven; 0: told from the levels */
    int repeat;          /* from 1: the same taken again */
    char *note;
    char *bench_file;       /* of its own, as the sheet writes it; NULL: the sheet's bench holds */
    struct lds_bench bench; /* the sheet's, or its own bench file's */
    int line;               /* of the sheet */
};

struct lds_sheet {
    char *path;
    char *bench_file; /* of [bench], as the sheet writes it; NULL: none */
    char *make, *type, *serial;
    char *client, *by, *place, *date; /* date: ISO 8601 */
    char *work, *notes;               /* some lines each, parted by '\n' */
    char *channel_name[LDS_CHANNELS_MAX + 1];
    struct lds_rating rating;
    double power_tolerance_percent; /* how far a measured power may be from the stated one */
    size_t parts;
    struct lds_part *part;
    size_t captures;
    struct lds_sheet_capture *capture;
    size_t limits;
    struct lds_limit *limit;
};

/* One line for each thing that is wrong, or missing for a full report. */
struct lds_remarks {
    size_t count;
    char **line;
};
void lds_remarks_free(struct lds_remarks *remarks);

/* Reads a sheet. LDS_IO: it cannot be read; LDS_BAD_INPUT: *wrong holds a line for each fault (an unknown key with its
 * line and the nearest known one, a value out of range, a name twice, a power without a load, no capture),
 * and, when there is one, for what lds_job_check finds wrong with the captures. *sheet and *wrong are to be freed, also
 * after an error. */
enum lds_status lds_sheet_read(const char *path, struct lds_sheet *sheet, struct lds_remarks *wrong,
                               struct lds_error *error);
void lds_sheet_free(struct lds_sheet *sheet);

/* Writes a commented sheet to fill in. A file that is there is left as it is: LDS_BAD_USE. */
enum lds_status lds_sheet_new(const char *path, struct lds_error *error);

/* Opens every capture, and takes a short look for the tone of each sine; measures nothing. *wrong: what stops the job
 * (missing, unreadable, a channel that is not there, lengths or rates that do not fit, a tone that is not the stated
 * one, the same twice, repeats of another tone); *missing: what a full report would want (no recording of the chain, no
 * load, one capture only, a power that does not fit the input, ...); *fits: whether each stated power fits the input,
 * with the highest that does. LDS_BAD_INPUT when *wrong is not empty. All three are to be freed. */
enum lds_status lds_job_check(const struct lds_sheet *sheet, struct lds_remarks *wrong, struct lds_remarks *missing,
                              struct lds_remarks *fits, struct lds_error *error);

struct lds_job_group {           /* captures of one role, power, tone and channel choice: compared with each other */
    char *title;                 /* "idle", "sine, 10 W", "sine, 10 W, 6 kHz" */
    char *slug;                  /* the same for file names: "idle", "sine-10w", "sine-10w-6khz"; unique */
    size_t before, after, other; /* how many captures of each */
    const struct lds_measurement **before_capture, **after_capture, **other_capture;
    bool compared; /* false: only one side is there */
    struct lds_comparison comparison;
};

struct lds_job_file { /* a file the report rests on */
    char *file;       /* as the sheet writes it; the sheet itself first */
    char sha256[65];  /* hexadecimal */
    int64_t bytes;
};

struct lds_job {
    const struct lds_sheet *sheet;       /* not owned */
    struct lds_measurement *measurement; /* one a capture of the sheet, in its order; recordings of the chain applied */
    size_t groups;
    struct lds_job_group *group;
    size_t files;
    struct lds_job_file *file;
    char date[32];              /* the sheet's, or that of the youngest capture */
    struct lds_remarks missing; /* of lds_job_check */
    struct lds_remarks unlike;  /* captures that do not hold what their roles say */
    bool worse;                 /* in any group */
};

struct lds_job_options {
    struct lds_compare_options compare; /* its limits are the sheet's */
    int threads;                        /* 0: the machine's cores; captures run side by side */
    /* Called now and then from the thread that called lds_job_run, for each capture that is being measured: its index
     * in the sheet, and 1 as the fraction once it is done. NULL: not wanted. */
    void (*progress)(void *context, size_t capture, const char *doing, double fraction);
    void *progress_context;
};
void lds_job_options_init(struct lds_job_options *options);

/* Measures every capture (captures of one group up to the end they all reach), applies the chain, compares each group.
 * *job is to be freed by lds_job_free, also after an error; the sheet must outlive it. The result does not depend on
 * the number of threads. */
enum lds_status lds_job_run(const struct lds_sheet *sheet, const struct lds_job_options *options, struct lds_job *job,
                            struct lds_error *error);
void lds_job_free(struct lds_job *job);

#ifdef __cplusplus
}
#endif
#endif
