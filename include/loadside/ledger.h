/* The ledger: the figures of jobs over the years, in one file (SQLite 3). It gives the history of a unit, and where the
 * unit stands among all units of its type. What the file holds: docs/ledger.md. */
#ifndef LOADSIDE_LEDGER_H
#define LOADSIDE_LEDGER_H

#include "loadside/job.h"

#ifdef __cplusplus
extern "C" {
#endif

struct lds_ledger; /* for one thread at a time */

enum {
    LDS_LEDGER_READ_ONLY = 1, /* nothing is written, not even to update an older ledger */
    LDS_LEDGER_CREATE = 2,    /* a missing or empty file becomes a ledger */
};

/* Opens a ledger and checks all of it. Other programs may have it open; if one is writing, waits up to 10 s. An older
 * ledger is updated, completely or not at all. LDS_IO: it cannot be read or written, or another program held it too
 * long; LDS_BAD_INPUT: not a ledger, one of a newer version, or a damaged one; the file is not changed. On success
 * *ledger must be closed; else it is NULL. */
enum lds_status lds_ledger_open(const char *path, unsigned flags, struct lds_ledger **ledger, struct lds_error *error);
void lds_ledger_close(struct lds_ledger *ledger); /* NULL: nothing */

/* Adds a completed job, as a whole or not at all. *added is false, and nothing changes, if it is there already: the
 * same make, type and serial number, date, and captures (by their SHA-256). LDS_BAD_INPUT: a capture without SHA-256 in
 * the job; LDS_BAD_USE: opened as read only; LDS_IO: as above, or a full disk. */
enum lds_status lds_ledger_add(struct lds_ledger *ledger, const struct lds_job *job, bool *added,
                               struct lds_error *error);

/* Opens the ledger (creating it if missing), adds, closes. */
enum lds_status lds_ledger_add_job(const char *path, const struct lds_job *job, bool *added, struct lds_error *error);

/* ---- units ---- */

struct lds_ledger_unit {
    int64_t id;                   /* in this file only; 0: a capture that is not in it (lds_ledger_place) */
    char *make, *type;            /* NULL: not stated */
    char *serial;                 /* NULL: not stated; such a unit has only one job, as it cannot be recognised again */
    char *first_date, *last_date; /* ISO 8601, of its jobs; NULL: not known */
    size_t jobs;
};

/* All units: by make, type and serial number; those without a serial number by their date. *unit must be freed with
 * lds_ledger_units_free. */
enum lds_status lds_ledger_units(struct lds_ledger *ledger, struct lds_ledger_unit **unit, size_t *units,
                                 struct lds_error *error);
void lds_ledger_units_free(struct lds_ledger_unit *unit, size_t units);

/* The unit that a user means: "SERIAL", "TYPE/SERIAL" or "MAKE/TYPE/SERIAL"; upper and lower case are ignored if only
 * one unit matches. A unit without serial number is "TYPE/DATE". NULL with LDS_BAD_USE: none, with the nearest name, or
 * several, with how to distinguish them. */
const struct lds_ledger_unit *lds_ledger_find(const struct lds_ledger_unit *unit, size_t units, const char *name,
                                              struct lds_error *error);

/* The type that a user means: "TYPE" or "MAKE/TYPE", with case as above. Returns a unit of it, of which only make and
 * type count. NULL with LDS_BAD_USE: as above. */
const struct lds_ledger_unit *lds_ledger_find_type(const struct lds_ledger_unit *unit, size_t units, const char *name,
                                                   struct lds_error *error);

/* ---- the history of a unit ---- */

struct lds_ledger_capture {
    char *name, *file; /* of the sheet's section; as written in the sheet */
    char sha256[65];
    const struct lds_role *role;
    enum lds_when when;
    double power_w; /* NAN: not stated */
    int channel;    /* of the file; 0: all */
    int repeat;
    char *note;
    double seconds, rate_hz;
    double load_ohm; /* NAN: not stated, or stored before version 2 */
    double tone_hz;  /* of a sine, stated or measured; NAN: none was found */
    size_t names;    /* of channels, by the sheet or the bench; none stored before version 5 */
    struct lds_channel_name *channel_name;
};

struct lds_ledger_job {
    char *date, *client, *work; /* NULL: not stated */
    char *program;              /* that measured it: "loadside 0.1.0" */
    size_t parts;               /* changed by the work; none stored before version 2 */
    struct lds_part *part;
    size_t captures;
    struct lds_ledger_capture *capture;
};

/* A figure over the captures of one side of a job: the median of the repeats, with limits from the lowest to the
 * highest. */
struct lds_ledger_point {
    size_t job; /* index in the history */
    enum lds_when when;
    size_t captures;
    double value, low, high; /* value NAN: below the floor on every repeat; high is then an upper limit */
    unsigned flags;          /* set on any of them */
};

/* The place of the unit among all units of its make and type, each with its latest job that has the figure, after the
 * work if there is an "after". Units without serial number count once per job. */
struct lds_ledger_standing {
    size_t units;                /* that have the figure under the same conditions, including this one; 0: no
                                  * standing */
    double value, low, high;     /* of this unit */
    size_t lower, higher, alike; /* of the others: interval entirely below, entirely above, or neither */
    size_t known;                /* units with a value, not only an upper limit */
    double median, spread;       /* of those; spread: 1.4826 x median absolute deviation. NAN: too few (1, 2) */
};

/* One figure over time: same role, power, load, tone, sampling rate, channel, band and orders. */
struct lds_ledger_series {
    char *key;
    char unit[16];
    const struct lds_role *role;
    double power_w, load_ohm;              /* NAN: not stated; the load applies only to a sine, and is NAN otherwise */
    double tone_hz;                        /* of a sine; NAN: not known */
    double rate_hz;                        /* of the captures; another rate means another recorder */
    int channel, other;                    /* other: of a pair, the second channel; 0: of a channel */
    const char *channel_name, *other_name; /* those of the latest job that has any, which the history owns; or NULL */
    double band_hz[2];
    int orders[2];
    bool main; /* one of the few that a table shows */
    struct lds_figure_name name;
    size_t points;
    struct lds_ledger_point *point; /* by date, "before" ahead of "after" */
    struct lds_ledger_standing standing;
};

struct lds_ledger_history {
    struct lds_ledger_unit unit;
    size_t jobs;
    struct lds_ledger_job *job; /* by date */
    size_t series;
    struct lds_ledger_series *serie; /* by role, power, tone, channel, then as in the table of keys */
    size_t population;               /* units of its make and type, including this one; 0: type not stated */
    size_t unnamed;                  /* of those, without serial number */
};

/* The history of a unit with its standing. Recordings of the chain are listed but give no series. *history must be
 * freed with lds_ledger_history_free, even after an error. */
enum lds_status lds_ledger_history(struct lds_ledger *ledger, const struct lds_ledger_unit *unit,
                                   struct lds_ledger_history *history, struct lds_error *error);
void lds_ledger_history_free(struct lds_ledger_history *history);

/* The place of a capture that is not in the ledger among all units of a make (NULL: not stated) and type: a history of
 * one job with only that capture, which is not included in the counts, the population, median and spread. With a tone
 * it is a sine, else idle. Its power is the nearest in the ledger for this type, load, tone and rate if the measured
 * one is within 3 % of that, else the measured one. Nothing is written. A population of 0: no unit of that type. Free
 * it as above, even after an error. LDS_IO, LDS_BAD_INPUT: as for lds_ledger_open. */
enum lds_status lds_ledger_place(struct lds_ledger *ledger, const char *make, const char *type,
                                 const struct lds_measurement *measurement, struct lds_ledger_history *history,
                                 struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
