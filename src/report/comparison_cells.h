/* One change as cells of a table, the same in text and HTML. */
#ifndef LDS_REPORT_COMPARISON_CELLS_H
#define LDS_REPORT_COMPARISON_CELLS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/compare.h"

enum { LDS_CHANGE_VALUES = 18 }; /* columns for both values together, unless a single digit needs more */

struct lds_change_cells {
    char label[160];
    char word[16];                 /* "lower", "higher", also for slight changes; "" for all others */
    char number[40], interval[96]; /* "-7.38", "±0.55"; "" and "12 or more" if it is a bound; "" when not judged */
    char before[32], after[32];    /* "41.3", "< floor" */
    char unit[24];                 /* of both */
    char values[96];               /* "41.3 → 35.2 µV" */
};
void lds_change_cells_make(struct lds_change_cells *cells, const struct lds_change *change);

/* A word where there is little room: "slightly" leaves the direction to the sign of the change. */
const char *lds_word_short(enum lds_word word);
/* The same with the unit that suits `largest`: values of a row share one. */
void lds_change_cells_scaled(struct lds_change_cells *cells, const struct lds_change *change, double largest);

/* The results of a change, in the order of printing. */
enum lds_change_group {
    LDS_CHANGES_CHANGED,
    LDS_CHANGES_SLIGHT, /* by less than matters */
    LDS_CHANGES_SAME,
    LDS_CHANGES_LONGER,  /* a longer capture would decide it */
    LDS_CHANGES_REPEAT,  /* no length would, and it was not repeated */
    LDS_CHANGES_SCATTER, /* it was repeated, and the repeats scatter too much */
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
void lds_change_advice(const struct lds_change *change, char *text, size_t size);

/* The same for all rows of a group, or "". */
const char *lds_change_group_advice(enum lds_change_group group, size_t rows);

/* What the rows of such a group have in common, printed before the advice: "Chain-limited". */
const char *lds_change_group_name(enum lds_change_group group);

/* ---- lines ---- */

struct lds_line_cells {
    char label[64];             /* "harmonic 3", "f2 - f1", "other line" */
    const char *origin;         /* "": none, or it is the label */
    char frequency[40];         /* "2000.0 Hz" */
    char before[64], after[64]; /* "12.3 µV", "< 0.31 µV", "not found" */
    const char *word;
    char number[40], interval[96]; /* of the change in dB; "" where it has no size */
};
void lds_line_cells_make(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                         const struct lds_line_change *line);
/* Both levels without their unit, which is the one that suits `largest`, the linear level of another line. */
void lds_line_levels(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                     const struct lds_line_change *line, double largest, char *unit, size_t size);

/* Whether a line changed, by its word; its level on the side where it is stronger. */
bool lds_line_is_called(const struct lds_line_change *line);
double lds_line_strength(const struct lds_line_change *line);

/* Whether a line is shown: it changed, and is among the strongest of its kind that changed. */
bool lds_line_is_shown(const struct lds_compared_channel *channel, const struct lds_line_change *line);

/* "32 weaker ones that changed stand in the JSON and CSV reports", or "". */
void lds_lines_weaker(const struct lds_compared_channel *channel, char *text, size_t size);

/* "The other 4 lines: 1 changed by less than matters, 3 the same.", or "". */
void lds_lines_uncalled(const struct lds_compared_channel *channel, char *text, size_t size);

/* ---- noise density over frequency, and other series over their axes ---- */

/* "Noise density over frequency". */
void lds_axis_title(const struct lds_axis_change *axis, char *text, size_t size);

/* "500 Hz": a position on the axis. */
void lds_axis_x_make(const struct lds_axis_change *axis, double x, char *text, size_t size);

/* "Lower from 20 Hz to 500 Hz, by 3.1 ±0.4 dB". */
void lds_region_sentence(const struct lds_axis_change *axis, const struct lds_axis_span *region, char *text,
                         size_t size);

/* The sentence that there is no difference anywhere; "" if there is one, or it is not judged. */
void lds_regions_none(const struct lds_axis_change *axis, char *text, size_t size);

/* ---- limits ---- */

struct lds_limit_cells {
    const char *result, *kind; /* "within", "at most" */
    char label[160];
    char found[128]; /* "41.3 ±0.2 µV"; "" when it is not known */
    char bound[64];  /* "50 µV" */
};
void lds_limit_cells_make(struct lds_limit_cells *cells, const struct lds_compared_channel *channel,
                          const struct lds_limit_result *limit);

#endif
