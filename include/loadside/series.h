/* Series: rows of numbers of a channel or a pair of channels, such as the harmonics of the tone, the noise floor over
 * frequency, or a response. The table of series describes the columns of each; every output and every comparison uses
 * it. Unknown numbers are NAN. */
#ifndef LOADSIDE_SERIES_H
#define LOADSIDE_SERIES_H

#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What the numbers of a column are. The last three are linear: in volts, or relative to full scale in a channel that is
 * not calibrated. */
enum lds_quantity {
    LDS_QUANTITY_ORDER, /* a whole number */
    LDS_QUANTITY_NUMBER,
    LDS_QUANTITY_HZ,
    LDS_QUANTITY_SECONDS,
    LDS_QUANTITY_MILLISECONDS,
    LDS_QUANTITY_DEGREES,
    LDS_QUANTITY_DB,
    LDS_QUANTITY_OHM,
    LDS_QUANTITY_POWER,   /* W, or dBFS in a channel that is not calibrated */
    LDS_QUANTITY_LEVEL,   /* rms; printed in dBFS where not calibrated */
    LDS_QUANTITY_DENSITY, /* rms per sqrt(Hz); printed in dBFS in 1 Hz where not calibrated */
    LDS_QUANTITY_SAMPLE,  /* of a waveform */
};
/* "Hz", "V", "dBFS", "V/√Hz", ...; "" for orders and plain numbers. */
const char *lds_quantity_unit(enum lds_quantity quantity, bool calibrated);

struct lds_column {
    const char *name; /* "level" */
    enum lds_quantity quantity;
    bool limits; /* its numbers have a 95 % interval */
};
enum { LDS_COLUMNS = 6 };

/* Columns of lines (harmonics have all five, mains orders the first three), of spurs, of the floor, and of every series
 * with one value over one axis. */
enum lds_line_column { LDS_LINE_ORDER, LDS_LINE_HZ, LDS_LINE_LEVEL, LDS_LINE_RELATIVE, LDS_LINE_PHASE };
enum lds_spur_column { LDS_SPUR_HZ, LDS_SPUR_LEVEL, LDS_SPUR_MARGIN };
enum lds_floor_column {
    LDS_FLOOR_HZ,
    LDS_FLOOR_LOW_HZ,
    LDS_FLOOR_HIGH_HZ,
    LDS_FLOOR_DENSITY, /* robust (median), not affected by lines */
    LDS_FLOOR_MEAN,    /* the same from the mean without the lines; the degrees of freedom are its own */
    LDS_FLOOR_DOF,     /* chi-square degrees of freedom of the square of the mean; 0 where lines leave no bins */
};
enum lds_curve_column { LDS_CURVE_X, LDS_CURVE_Y };

enum lds_series_form {                    /* where it is in JSON */
                       LDS_FORM_LINES,    /* a list of its own in the channel, with an object for each row */
                       LDS_FORM_CURVE,    /* two arrays among the curves, which are for plots: JSON and saved results
                                           * have it, no table and no picture without code of its own */
                       LDS_FORM_OVER_AXIS /* rows of x, value, low and high among the series */
};
/* A curve and a series over an axis have exactly two columns, the axis first (enum lds_curve_column); the values of one
 * over an axis have limits. */

enum lds_match {                 /* which rows of two captures are compared with each other */
                 LDS_MATCH_NONE, /* none: it is not compared */
                 LDS_MATCH_ORDER,
                 LDS_MATCH_NAME,    /* the same text */
                 LDS_MATCH_NEAREST, /* in frequency */
                 LDS_MATCH_BANDS,   /* powers in the same band */
                 LDS_MATCH_AXIS     /* values at the same x, interpolated between rows */
};

struct lds_series_kind {
    const char *key; /* "harmonics", "response.gain" */
    enum lds_series_id id;
    const char *label;   /* "gain re 1 kHz over frequency" */
    const char *row_key; /* of a row in CSV, before its number: "harmonic"; NULL: not in CSV */
    const char *row_label;
    const char *line;         /* name of one of its lines in a comparison's JSON: "harmonic" */
    const char *change_label; /* of the change in one of its rows, in CSV; NULL: row_label */
    const char *region_key;   /* of a part of the axis where it changed, before its number */
    const char *part_of;      /* key of a series that is the sum of these: its change says enough; NULL: none */
    const char *part;         /* what changed in such a part: "noise" */
    const char *term;         /* the term that a job's report defines; several kinds may share both */
    const char *definition;   /* a sentence; full sources: docs/figures.md */
    bool value_alone;         /* a row in CSV has only its value; else a key for each column */
    enum lds_section section;
    enum lds_family family;
    enum lds_worse worse;
    enum lds_chain_rule chain; /* only where the values, and others with limits, are levels or in dB */
    enum lds_series_form form;
    enum lds_match match;
    int first_order;  /* of lines by order or name: the tone itself is not a harmonic */
    bool flags;       /* its rows have flags */
    bool settles;     /* its pictures show the band within which the output counts as settled */
    bool pictured;    /* drawn before and after, though its rows are not compared: LDS_MATCH_NONE */
    const char *text; /* the meaning of the rows' text, "origin"; NULL: they have none */
    bool later;       /* a list of lines that came after the first version: it is written only where it has rows */
    bool log_axis;    /* the axis is logarithmic in plots and when interpolating between rows */
    int axis, value;  /* the columns that are drawn and compared */
    int columns;
    struct lds_column column[LDS_COLUMNS];
};
/* All rows of the table, in the order in which they are written. */
const struct lds_series_kind *lds_series_kinds(size_t *count);
const struct lds_series_kind *lds_series_kind_find(const char *key); /* NULL: there is none */
/* The row of a series that has a name in code. */
const struct lds_series_kind *lds_series_kind_of(enum lds_series_id id);
/* "dB" for ratios, levels and impedances; else the unit of its values. */
const char *lds_series_change_unit(const struct lds_series_kind *kind);

enum { LDS_SERIES_TEXT = 64 };

struct lds_series {
    const struct lds_series_kind *kind;
    size_t rows, room;
    size_t width;   /* numbers per row: the values of the columns, then low and high of those with limits */
    double *number; /* width numbers for each row */
    unsigned *flag; /* enum lds_flag bits for each row; NULL: rows have none */
    char (*text)[LDS_SERIES_TEXT];
    unsigned flags; /* of the series as a whole */
};

struct lds_cell {
    double value, low, high;
};

/* A number; limits are NAN where the column has none. */
double lds_series_value(const struct lds_series *series, size_t row, int column);
struct lds_cell lds_series_cell(const struct lds_series *series, size_t row, int column);

/* Value and limits at x, interpolated between rows; NAN outside the axis. */
struct lds_cell lds_series_at(const struct lds_series *series, double x);

/* Flags of a row together with those of the whole series; at x, those of the rows on both sides. */
unsigned lds_series_flags(const struct lds_series *series, size_t row);
unsigned lds_series_flags_at(const struct lds_series *series, double x);

/* The first row with that value in a column; series->rows when there is none. */
size_t lds_series_row_of(const struct lds_series *series, int column, double value);
/* The same for the row with that text, in a series whose rows have texts. */
size_t lds_series_row_named(const struct lds_series *series, const char *text);

/* The series of that key in a list; without rows and kind if there is none. */
const struct lds_series *lds_series_find(const struct lds_series *series, size_t count, const char *key);
const struct lds_series *lds_channel_series(const struct lds_channel *channel, const char *key);
/* The series of that name; without rows and kind if there is none. */
const struct lds_series *lds_channel_find_series(const struct lds_channel *channel, enum lds_series_id id);
const struct lds_series *lds_pair_series(const struct lds_pair *pair, const char *key);
/* channels: a channel's number and 0, or those of a pair. */
const struct lds_series *lds_measurement_series(const struct lds_measurement *measurement, const int channels[2],
                                                const char *key);

#ifdef __cplusplus
}
#endif
#endif
