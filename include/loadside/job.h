/* A job: one sheet that says what was done to a unit and which captures were taken. From it follow all figures and all
 * changes, for one report. Keys of the sheet: docs/job-sheet.md. */
#ifndef LOADSIDE_JOB_H
#define LOADSIDE_JOB_H

#include "loadside/compare.h"
#include "loadside/expect.h"
#include "loadside/measure.h"
#include "loadside/signal.h"

#ifdef __cplusplus
extern "C" {
#endif

/* The kind of a capture in a job: one row of a table. Two captures have the same role when they point to the same
 * row. */
struct lds_role {
    const char *name;           /* in sheets, results and ledgers: "idle", "sine", "chain" */
    enum lds_signal_kind holds; /* the signal that it should have; LDS_SIGNAL_NONE: anything */
    bool leads; /* it stands for its signal, where only the signal is known, and comes before other roles that hold the
                 * same one. One role for each signal; none for LDS_SIGNAL_NONE */
    bool chain; /* of the capture chain alone: compared with each capture to mark figures, but without changes
                 * or a history */
    bool tone;  /* a frequency may be stated; captures of different tones are not compared */
    bool power; /* a power into the load of the bench may be stated; the ledger separates captures by it */
    const char *without; /* what a report without such a capture lacks: a sentence; NULL: nothing */
    const char *note;    /* for the sheet to fill in; NULL: it has no such capture */
    const char *play;    /* how to make such a capture: a sentence; NULL: as for a sine, which has a power */
};
/* All roles, in the order in which they are listed. */
const struct lds_role *lds_roles(size_t *count);
/* The role of that name, or NULL. */
const struct lds_role *lds_role_find(const char *name);

enum lds_when { LDS_WHEN_ANY, LDS_WHEN_BEFORE, LDS_WHEN_AFTER };
const char *lds_when_name(enum lds_when when); /* "", "before", "after" */

/* Text that the sheet does not state is NULL, a number NAN, a count 0. All text is valid UTF-8 (invalid bytes were
 * replaced by U+FFFD) and may contain any character: whoever outputs it must escape it. */

struct lds_rating { /* the maker's or client's data of the unit */
    double power_w, load_ohm, distortion_percent, low_hz, high_hz;
    int channels_driven;
    double held_s; /* how long it delivers the power */
};

struct lds_part { /* a component value that the work changed */
    char *name;
    char *before, *after; /* "not fitted" where there was none */
};

struct lds_sheet_expect { /* component values, from which it follows what should be measured */
    char *name;           /* of its section; unique */
    int line;             /* of the sheet */
    enum lds_expect_kind kind;
    int channel;                          /* 0: all */
    char *value[LDS_EXPECT_VALUES];       /* as written in the sheet */
    char *tolerance[LDS_EXPECT_VALUES];   /* the same */
    struct lds_expect_spec before, after; /* the same where the sheet states no change */
};

struct lds_sheet_capture {
    char *name; /* of its section; unique */
    char *file; /* as written in the sheet */
    char *path; /* the same, starting from the sheet's folder */
    const struct lds_role *role;
    enum lds_when when;
    double power_w;      /* of a sine, into the bench's load; NAN: not stated */
    double frequency_hz; /* of a sine; NAN: not stated */
    int channel;         /* of the file; 0: all */
    int driven;          /* the only driven channel of the file; 0: decided from the levels */
    int repeat;          /* from 1: the same capture taken again */
    char *note;
    char *signal_file;              /* the sidecar of what was played, as written in the sheet; NULL: not stated */
    struct lds_signal_spec *signal; /* what it holds; NULL: not stated, or the file does not exist yet */
    char *bench_file;               /* its own, as written in the sheet; NULL: the sheet's bench applies */
    struct lds_bench bench;         /* the sheet's, or its own bench file's */
    int line;                       /* of the sheet */
};

struct lds_sheet {
    char *path;
    char *bench_file; /* of [bench], as written in the sheet; NULL: none */
    char *make, *type, *serial;
    double supply_v[2]; /* the unit's supply rails, NAN: not stated; the second only where there are two */
    char *client, *by, *place, *date; /* date: ISO 8601 */
    char *work, *notes;               /* may have several lines, separated by '\n' */
    char *channel_name[LDS_CHANNELS_MAX + 1];
    struct lds_rating rating;
    double settle_band_v;           /* as in struct lds_measure_options; NAN: the default */
    double bias_ohm;                /* the same; NAN: not stated */
    double power_tolerance_percent; /* how far a measured power may be from the stated one */
    size_t parts;
    struct lds_part *part;
    size_t expects;
    struct lds_sheet_expect *expect;
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

/* Reads a sheet. LDS_IO: it cannot be read; LDS_BAD_INPUT: *wrong has a line for each fault (an unknown key with its
 * line and the nearest known one, a value out of range, a name used twice, a power without a load, no capture); if
 * there is one, also for what lds_job_check finds wrong with the captures. *sheet and *wrong must be freed, even after
 * an error. */
enum lds_status lds_sheet_read(const char *path, struct lds_sheet *sheet, struct lds_remarks *wrong,
                               struct lds_error *error);
void lds_sheet_free(struct lds_sheet *sheet);

/* Writes a commented sheet to fill in. An existing file is left alone: LDS_BAD_USE. */
enum lds_status lds_sheet_new(const char *path, struct lds_error *error);

/* The same, with a section for each capture in a folder: its role, tone, power, side, driven channel and number as far
 * as they can be told from the capture, its name and date, each with the reason in a comment. bench_file: NULL: the
 * bench file in the folder, if it is the only one. *said: what was found, and a line for each file that was passed
 * over. LDS_BAD_INPUT: no capture there. *said must be freed, even after an error. */
enum lds_status lds_sheet_from(const char *path, const char *folder, const char *bench_file, struct lds_remarks *said,
                               struct lds_error *error);

struct lds_job_checked {
    struct lds_remarks wrong; /* what stops the job: unreadable, a channel that does not exist, lengths or rates that do
                               * not match, a tone other than the stated one, the same capture twice, ... */
    struct lds_remarks missing;  /* what a full report would need: a recording of the chain, a load, ... */
    struct lds_remarks fits;     /* what each input takes, and whether the supply and each stated power fit it */
    struct lds_remarks captures; /* one line each: that it is made, or how to make it */
    size_t to_make;              /* captures that state no file, or one that does not exist yet */
};

/* Opens the captures that exist, and takes a short look for the tone of each sine; measures nothing. LDS_BAD_INPUT when
 * something is wrong; a capture still to make is not. *checked must be freed, even after an error. */
enum lds_status lds_job_check(const struct lds_sheet *sheet, struct lds_job_checked *checked, struct lds_error *error);
void lds_job_checked_free(struct lds_job_checked *checked);

struct lds_job_group {           /* captures of one role, power, tone and channel, which are compared with each other */
    char *title;                 /* "idle", "sine, 10 W", "sine, 10 W, 6 kHz" */
    char *slug;                  /* the same for file names: "idle", "sine-10w", "sine-10w-6khz"; unique */
    size_t before, after, other; /* number of captures of each */
    const struct lds_measurement **before_capture, **after_capture, **other_capture;
    bool compared; /* false: there is only one side */
    struct lds_comparison comparison;
};

enum lds_expected_word {
    LDS_EXPECTED_AGREES,     /* what was measured and what the parts imply overlap */
    LDS_EXPECTED_WITHIN,     /* what the parts imply is an upper limit, and it is kept */
    LDS_EXPECTED_DIFFERS,    /* neither */
    LDS_EXPECTED_UNMEASURED, /* no capture has it */
};

struct lds_job_expected { /* what parts imply, beside what was measured */
    const struct lds_sheet_expect *of;
    enum lds_when when;
    int channel;                             /* 0: none has it */
    struct lds_expected expected;            /* the figure of the kind that can be measured */
    const struct lds_figure *measured;       /* NULL: not measured */
    const struct lds_sheet_capture *capture; /* that has it, or NULL */
    enum lds_expected_word word;
    double by;     /* where it differs: measured minus the nearest end of the expected range, as magnitudes */
    char why[160]; /* why it is not measured; else "" */
};

struct lds_job_file { /* a file that the report is based on */
    char *file;       /* as written in the sheet; the sheet itself is first */
    char sha256[65];  /* hexadecimal */
    int64_t bytes;
};

struct lds_job {
    const struct lds_sheet *sheet;       /* not owned */
    struct lds_measurement *measurement; /* one for each capture of the sheet, in its order; recordings of the chain
                                          * applied */
    size_t groups;
    struct lds_job_group *group;
    size_t expecteds;
    struct lds_job_expected *expected; /* in the order of the sheet's sections, before and after, channels ascending */
    size_t files;
    struct lds_job_file *file;
    char date[32];              /* the sheet's, or that of the latest capture */
    struct lds_remarks missing; /* of lds_job_check */
    struct lds_remarks unlike;  /* captures that do not show what their roles say */
    bool worse;                 /* in any group */
};

struct lds_job_options {
    struct lds_compare_options compare; /* with the limits of the sheet */
    int threads;                        /* 0: as many as cores; captures run in parallel */
    /* Called now and then from the thread that called lds_job_run, for each capture being measured: its index in the
     * sheet, with 1 as the fraction once it is done. NULL: not wanted. */
    void (*progress)(void *context, size_t capture, const char *doing, double fraction);
    void *progress_context;
};
void lds_job_options_init(struct lds_job_options *options);

/* Measures every capture (those of one group up to the end that all of them reach), applies the chain, compares each
 * group. LDS_BAD_INPUT when a capture is still to make. *job must be freed with lds_job_free, even after an error; the
 * sheet must outlive it. The result does not depend on the number of threads. */
enum lds_status lds_job_run(const struct lds_sheet *sheet, const struct lds_job_options *options, struct lds_job *job,
                            struct lds_error *error);
void lds_job_free(struct lds_job *job);

#ifdef __cplusplus
}
#endif
#endif
