/* One change as cells of a table, the same in text and HTML. */
#ifndef LDS_REPORT_COMPARISON_CELLS_H
#define LDS_REPORT_COMPARISON_CELLS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/compare.h"
#include "report/reading.h"

enum { LDS_CHANGE_VALUES = 18 }; /* columns for both values together, unless a single digit needs more */

struct lds_change_cells {
    struct lds_label label;
    const char *word;              /* "lower", "higher", also for slight changes; "" for all others */
    char number[40], interval[96]; /* "-7.38", "±0.55"; "" and "12 or more" if it is a bound; "" when not judged */
    char before[32], after[32];    /* "41.3", "< floor" */
    char unit[24];                 /* of both */
    char values[96];               /* "41.3 → 35.2 µV" */
};
struct lds_change_cells lds_change_cells(const struct lds_change *change);

/* A word where there is little room: "slightly" leaves the direction to the sign of the change. */
const char *lds_word_short(enum lds_word word);
/* The same with the unit that suits `largest`: values of a row share one. */
struct lds_change_cells lds_change_cells_scaled(const struct lds_change *change, double largest);

/* The results of a change, in the order of printing. */
enum lds_change_group {
    LDS_CHANGES_CHANGED,
    LDS_CHANGES_SLIGHT, /* by less than matters */
    LDS_CHANGES_SAME,
    LDS_CHANGES_LONGER,  /* a longer capture would decide it */
    LDS_CHANGES_REPEAT,  /* no length would, and it was not repeated */
    LDS_CHANGES_SCATTER, /* it was repeated, and the repeats scatter too much */
    LDS_CHANGES_HUM,     /* it stands on an order of the mains */
    LDS_CHANGES_CHAIN,   /* the chain hides it */
    LDS_CHANGES_SHOWN,   /* not judged */
};
enum lds_change_group lds_change_group_of(const struct lds_change *change);

/* How many changes of the channel are in these groups. */
size_t lds_changes_count(const struct lds_compared_channel *channel, enum lds_change_group first,
                         enum lds_change_group last);

/* Headings of the groups. */
struct lds_change_table {
    const char *heading, *number;
    enum lds_change_group first, last;
};
enum { LDS_CHANGE_TABLES = 5 };
extern const struct lds_change_table lds_change_tables[LDS_CHANGE_TABLES];

/* The flags shown in a row; others are in its cells or given once for the whole channel. */
unsigned lds_change_flags(const struct lds_change *change);

/* "captures of 45 s would settle it", or "". */
struct lds_short lds_change_advice(const struct lds_change *change);

/* The same for all rows of a group, or "". */
const char *lds_change_group_advice(enum lds_change_group group, size_t rows);

/* ---- lines ---- */

struct lds_line_cells {
    struct lds_short label;         /* "harmonic 3", "f2 - f1", "other line" */
    const char *origin;             /* "": none, or it is the label */
    struct lds_short frequency;     /* "2000.0 Hz" */
    struct lds_short before, after; /* "12.3 µV", "< 0.31 µV", "not found" */
    const char *word;
    struct lds_reading change; /* in dB; "" where it has no size */
};
struct lds_line_cells lds_line_cells(const struct lds_compared_channel *channel, const struct lds_line_change *line);
/* Both levels without their unit, which is the one that suits `largest`, the linear level of another line. */
void lds_line_levels(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                     const struct lds_line_change *line, double largest, char *unit, size_t size);

/* Whether a line changed, by its word; its level on the side where it is stronger. */
bool lds_line_is_called(const struct lds_line_change *line);
double lds_line_strength(const struct lds_line_change *line);

/* Whether a line is shown: it changed, and is among the strongest of its kind that changed. */
bool lds_line_is_shown(const struct lds_compared_channel *channel, const struct lds_line_change *line);

/* "32 weaker ones that changed stand in the JSON and CSV reports", or "". */
struct lds_sentence lds_lines_weaker(const struct lds_compared_channel *channel);

/* "The other 4 lines: 1 changed by less than matters, 3 the same.", or "". */
struct lds_sentence lds_lines_uncalled(const struct lds_compared_channel *channel);

/* ---- noise density over frequency, and other series over their axes ---- */

/* "Noise density over frequency". */
struct lds_label lds_axis_title(const struct lds_axis_change *axis);

/* "500 Hz": a position on the axis. */
struct lds_short lds_axis_x(const struct lds_axis_change *axis, double x);

/* "Lower from 20 Hz to 500 Hz, by 3.1 ±0.4 dB". */
struct lds_sentence lds_region_sentence(const struct lds_axis_change *axis, const struct lds_axis_span *region);

/* The sentence that there is no difference anywhere; "" if there is one, or it is not judged. */
struct lds_sentence lds_regions_none(const struct lds_axis_change *axis);

/* ---- limits ---- */

struct lds_limit_cells {
    const char *result, *kind; /* "within", "at most" */
    struct lds_label label;
    struct lds_reading reading; /* "41.3", "±0.2", "µV"; each "" when it is not known */
    struct lds_label found;     /* all three */
    struct lds_short bound;     /* "50 µV" */
};
struct lds_limit_cells lds_limit_cells(const struct lds_compared_channel *channel,
                                       const struct lds_limit_result *limit);

/* ---- names and units ---- */

/* A linear level in the unit in which it is printed: volts, else dBFS. */
double lds_compared_level(const struct lds_compared_channel *channel, double linear);

/* "harmonic 3", "mains order 5", "61.23 kHz". */
struct lds_short lds_line_label(const struct lds_line_change *line);

/* "appeared", "vanished", or the word. */
const char *lds_line_word(const struct lds_line_change *line);

/* "within", "over", "not shown". */
const char *lds_limit_result_name(const struct lds_limit_result *limit);

/* "at most", "at least", "change at most". */
const char *lds_limit_kind_name(int kind);

/* The unit of a limit, and of the value compared with it: that of the figure or of its change. If the comparison has no
 * such figure, the unit in which the limit was stated. */
const char *lds_limit_unit(const struct lds_compared_channel *channel, const struct lds_limit_result *limit);

/* "level", "noise", "distortion", "mains"; "" for the rest. */
const char *lds_family_name(int family);

#endif
