/* From measurements of two sides, before and after a modification, to what changed, what did not, and what is
 * uncertain. Definitions: docs/figures.md, "Change between before and after". */
#ifndef LOADSIDE_COMPARE_H
#define LOADSIDE_COMPARE_H

#include "loadside/series.h"

#ifdef __cplusplus
extern "C" {
#endif

enum lds_word {
    LDS_LOWER,           /* "lower": changed by more than matters */
    LDS_HIGHER,          /* "higher" */
    LDS_SLIGHTLY_LOWER,  /* "slightly lower": changed by less than matters */
    LDS_SLIGHTLY_HIGHER, /* "slightly higher" */
    LDS_SAME,            /* "same": no change shown, and none larger than matters */
    LDS_UNRESOLVED,      /* "unresolved" */
    LDS_HIDDEN_BY_CHAIN, /* "chain-limited" */
};
enum { LDS_WORDS = 7 };
const char *lds_word_name(enum lds_word word);

/* The source of the scatter between captures (re-cabling, warming up). */
enum lds_repeatability { LDS_REPEAT_REPEATS, LDS_REPEAT_BENCH, LDS_REPEAT_DEFAULT, LDS_REPEAT_STATED, LDS_REPEAT_NONE };
/* "repeats", "bench", "default", "stated", "none". */
const char *lds_repeatability_name(enum lds_repeatability repeatability);

/* A number for each family of figures (enum lds_family; [LDS_FAMILY_NONE] is not used), dB. */
enum { LDS_FAMILIES = LDS_FAMILY_DC + 1 };

enum lds_limit_kind { LDS_AT_MOST, LDS_AT_LEAST, LDS_CHANGE_AT_MOST };

struct lds_limit {
    const char *key;
    enum lds_limit_kind kind; /* LDS_CHANGE_AT_MOST: of |change|, in dB (or V for DC) */
    double value;             /* in the figure's unit, ratios in dB */
    int line;                 /* of the limits file */
    const char *unit;         /* of value, not owned; "dBFS" for captures that are not calibrated; NULL: that of the
                               * figure */
};

struct lds_compare_options {
    double repeat_db[LDS_FAMILIES];  /* stated by the user; NAN: from repeats, the bench, or the defaults */
    bool repeat_none;                /* intervals only from within the captures */
    double matters_db[LDS_FAMILIES]; /* smallest change that matters; NAN: the default */
    const struct lds_limit *limit;
    size_t limits;
    double false_alarm; /* over all judged keys of all channels (Holm); default 0.01 */
};

void lds_compare_options_init(struct lds_compare_options *options);

struct lds_change {
    char *key;
    char unit[16];            /* of change, low, high: "dB", or "V" for DC */
    char value_unit[16];      /* of before and after */
    double before, after;     /* NAN: below the floor on that side */
    double change, low, high; /* after minus before; an open limit is NAN */
    double p;                 /* of no change, two-sided, unadjusted */
    double p_adjusted;        /* Holm, over all judged keys */
    double u, dof;            /* of the change */
    double matters;           /* the smallest change that matters for this figure */
    enum lds_word word;
    bool at_least; /* lower by at least |high|: the chain or the floor hides how much */
    bool judged;   /* false: only shown (a frequency, a count, ...) */
    bool worse;
    double resolve_seconds; /* length of capture that would decide it; NAN: no length would, or nothing is open */
    unsigned flags;         /* of both sides */
    bool repeated;          /* from at least three captures on each side */
    struct lds_figure_name name;
    const char *channel_name[2]; /* of a pair, not owned; NULL: none */
};

struct lds_line_change {                /* a line that either side has: a harmonic, a mains order or a spur */
    const struct lds_series_kind *kind; /* the series that contains it */
    int order;                          /* 0 for spurs, which are matched by frequency */
    double frequency_hz;                /* after, or before if it vanished */
    double before, after;               /* rms, linear unit; NAN: below the floor */
    double change_db, low_db, high_db;  /* an open limit is NAN */
    bool appeared, vanished;
    double limit; /* upper limit on the side where it is below the floor */
    enum lds_word word;
    char origin[64];
};

/* A stretch of an axis and its change: a band of the noise, a point of another series, or a region, which is a group of
 * neighbours that rose or fell together. The bands and points of all channels are tested together (Holm): if nothing
 * changed, the probability of one or more regions is at most half of lds_compare_options.false_alarm for each kind of
 * series, in addition to that of the keys and lines. */
struct lds_axis_span {
    double x, from, to;       /* a point: all three equal; a region: x is its start */
    double change, low, high; /* in lds_series_change_unit; an open limit is NAN */
    double p_adjusted;        /* for a region the smallest of its bands or points; NAN: not judged */
    enum lds_word word;       /* lower or higher, or slightly, by what matters for its family; valid if called */
    bool called;              /* part of a region */
    unsigned flags;           /* of both sides */
};

/* The changes of a series along its axis: by bands for the noise floor, point by point for others. */
struct lds_axis_change {
    const struct lds_series_kind *kind;
    char key[64];                /* of the kind; for a pair with its channels, "response.gain.1-2" */
    int channels[2];             /* of a pair; 0: it is a channel's series */
    const char *channel_name[2]; /* theirs, not owned; NULL: none */
    bool calibrated;             /* like the channel */
    size_t points;
    struct lds_axis_span *point;
    size_t regions;
    struct lds_axis_span *region;
    double matters; /* the smallest change that matters; NAN: none is judged */
};

struct lds_limit_result {
    char *key;
    enum { LDS_WITHIN, LDS_OVER, LDS_NOT_SHOWN } result; /* the last one: the interval includes the limit */
    double value, low, high, limit;
    int kind;      /* of struct lds_limit */
    char unit[16]; /* of all four, if the limit states it; may be "" */
    char *reason;  /* why it could not be judged; else NULL */
    struct lds_figure_name name;
};

struct lds_compared_channel {
    int channel;
    char *name;      /* "left"; NULL: none */
    bool calibrated; /* linear levels are in V, else relative to full scale; for the side after */
    size_t changes;
    struct lds_change *change;
    size_t not_compared;
    struct lds_absent *not_compared_why;
    size_t lines;
    struct lds_line_change *line;
    size_t axes;
    struct lds_axis_change *axis;
    size_t limits;
    struct lds_limit_result *limit;
    size_t hints;
    char **hint; /* common practice, no source: each one says that it is a hint */
    int words[LDS_WORDS];
};

struct lds_side { /* the measurements of a side; not owned */
    const struct lds_measurement *measurement;
    size_t captures;
};

struct lds_comparison {
    size_t before_files, after_files;
    char **before_file, **after_file;
    enum lds_repeatability repeatability;
    double repeat_db[LDS_FAMILIES]; /* as used; NAN for families decided by repeats */
    size_t notes;
    char **note;              /* shown at the top: the same file twice, an odd repeat, one capture a side, ... */
    const char *scatter_note; /* the note that says where the scatter from capture to capture is from; or NULL */
    size_t channels;
    struct lds_compared_channel *channel;
    bool worse; /* something is worse, or over a limit */
};

/* Compares the two sides, each with one or more measurements of the same channels, made over the same band if the
 * captures are available. LDS_BAD_INPUT: a side is empty, or the sides have no channel or no key in common. *comparison
 * must be freed with lds_comparison_free, even after an error. */
enum lds_status lds_compare(struct lds_side before, struct lds_side after, const struct lds_compare_options *options,
                            struct lds_comparison *comparison, struct lds_error *error);
void lds_comparison_free(struct lds_comparison *comparison);

/* The change of a series by its key, "floor" or "response.gain.1-2"; without points and kind if it was not compared. */
const struct lds_axis_change *lds_compared_axis(const struct lds_compared_channel *channel, const char *key);

/* How many limits are kept, exceeded and not shown either way: by the enum of struct lds_limit_result. */
enum { LDS_LIMIT_RESULTS = 3 };
void lds_comparison_limits(const struct lds_comparison *comparison, size_t count[LDS_LIMIT_RESULTS]);

/* Adds the note that captures which reach farther were only measured up to end_hz, where all of them reach. */
enum lds_status lds_comparison_note_end(struct lds_comparison *comparison, double end_hz, struct lds_error *error);

/* Marks the figures of a measurement that the recording of the chain alone explains (flags near chain, chain-limited,
 * chain not comparable; u_b of coherent figures), in place of "chain not measured". With several recordings each key
 * uses the one that fits it. LDS_BAD_INPUT: a recording does not fit, with the reason; the measurement is then
 * unchanged. */
enum lds_status lds_chain_apply(struct lds_measurement *measurement, const struct lds_measurement *chain, size_t chains,
                                struct lds_error *error);

/* Whether a recording of the chain is comparable with a measurement: the same rate, range and channels, and the same
 * tone if both have one. LDS_BAD_INPUT: it is not, with the reason. */
enum lds_status lds_chain_fits(const struct lds_measurement *measurement, const struct lds_measurement *chain,
                               struct lds_error *error);

/* ---- limits for figures: docs/limits-file.md ---- */

struct lds_limits {
    size_t count;
    struct lds_limit *limit; /* their keys are owned */
};

/* Reads a limits file. LDS_IO: it cannot be read; LDS_BAD_USE: it has no limit, or a wrong one, then as "path:line:
 * ...". After an error *limits is empty. Free it with lds_limits_free. */
enum lds_status lds_limits_read(const char *path, struct lds_limits *limits, struct lds_error *error);

/* Adds one key and value as in a limits file ("thd", "at most 0.005 %"), from line `line` of some INI file; *limits
 * starts as {0}. LDS_BAD_USE: key or value is wrong, or there is such a limit already; the caller adds file and line in
 * front of the message. *limits is then unchanged. */
enum lds_status lds_limits_add(struct lds_limits *limits, const char *key, const char *value, int line,
                               struct lds_error *error);

/* Checks that each limit has the unit of its figure in these measurements, since volts and dBFS cannot be compared.
 * LDS_BAD_USE: one has not, "path:line: ..."; path: the file of the limits. */
enum lds_status lds_limits_check(const struct lds_limits *limits, const char *path,
                                 const struct lds_measurement *measurement, size_t count, struct lds_error *error);

void lds_limits_free(struct lds_limits *limits);

/* ---- units of one kind side by side ---- */

struct lds_unit_row {
    char *key;
    char unit[16];
    size_t count;               /* as many as units */
    double *value, *low, *high; /* NAN where a unit has none */
    double median, spread;      /* spread: 1.4826 x median absolute deviation */
    int stands_out;             /* index of the unit that stands out, -1: none */
    double p_adjusted;          /* of the unit farthest from the others; NAN with fewer than four units */
    bool worse;                 /* the unit that stands out is worse than the others */
    struct lds_figure_name name;
};

struct lds_unit_table {
    size_t units;
    char **name;        /* file, or file and channel; numbered if several are the same */
    int channel;        /* 0: the units are channels */
    char *channel_name; /* "left", as the first unit that names it has it; NULL: none does */
    size_t rows;
    struct lds_unit_row *row;
    size_t not_compared;
    struct lds_absent *not_compared_why;
    size_t notes;
    char **note;
    char *summary;
    bool worse;
};

/* One table per channel, or one over all channels if `channels` is set. tables: to be freed with
 * lds_unit_tables_free. */
enum lds_status lds_compare_units(struct lds_side units, bool channels, const struct lds_compare_options *options,
                                  struct lds_unit_table **table, size_t *tables, struct lds_error *error);
void lds_unit_tables_free(struct lds_unit_table *table, size_t tables);

#ifdef __cplusplus
}
#endif
#endif
