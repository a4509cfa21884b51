/* Series as tables for people: the rows to show and the text of their cells, the same in text and HTML. */
#ifndef LDS_REPORT_SERIES_CELLS_H
#define LDS_REPORT_SERIES_CELLS_H

#include "loadside/series.h"
#include "report/text.h"

enum lds_cell_part { LDS_CELL_VALUE, LDS_CELL_INTERVAL, LDS_CELL_UNIT, LDS_CELL_PERCENT };

enum lds_cell_place {                 /* alignment in its column */
                      LDS_CELL_LABEL, /* heads its row; aligned right in text */
                      LDS_CELL_LEFT,
                      LDS_CELL_RIGHT,
                      LDS_CELL_POINT, /* aligned at its decimal point */
};

struct lds_cell_view {
    const char *heading;
    enum lds_cell_place place;
    int column;
    enum lds_cell_part part;
    int before, after;  /* the columns that it takes in text, before the decimal point and from it on */
    const char *suffix; /* after it in text; may be NULL */
};
enum { LDS_CELL_VIEWS = 8 };

/* How the strongest rows are listed where there is little room, several on a line of text. */
struct lds_screen_view {
    const char *label; /* NULL: not at all */
    size_t rows;
    int column;    /* of the value */
    int width;     /* columns of text that a row takes */
    bool by_order; /* "2nd" in place of its frequency */
    bool decibels; /* the value is a ratio, and its unit stands in the label */
    bool others;   /* the list ends with a limit that all other rows are below */
};

struct lds_table_view {
    enum lds_series_id id; /* LDS_SERIES_OTHER: of all that have no view of their own */
    const char *caption;   /* "Harmonics" */
    const char *heading;   /* the line above it in text; NULL: the label of the series */
    const char *more;      /* name for rows that are left out: "weaker orders"; NULL: none are */
    const char *none;      /* shown if there are no rows; NULL: nothing is */
    bool flags_below;      /* flags of a row get a line of their own in text */
    size_t cells;
    struct lds_cell_view cell[LDS_CELL_VIEWS];
    struct lds_screen_view screen;
};

/* How a series is shown; NULL: not as a table. */
const struct lds_table_view *lds_table_view_of(const struct lds_series_kind *kind);

/* The rows to show, in their order, and how many more there are; the caller frees the array. NULL: no memory. */
size_t *lds_series_pick(const struct lds_series *series, size_t *shown, size_t *more);

/* The same with no more than `most` of the strongest. */
size_t *lds_series_strongest(const struct lds_series *series, size_t most, size_t *shown, size_t *more);

/* The largest number of those that could be shown, whose prefix the cells take. */
double lds_series_largest(const struct lds_series *series);

struct lds_label lds_series_cell_words(const struct lds_series *series, size_t row, const struct lds_cell_view *view,
                                       bool calibrated, double largest);

/* Flags of a row, except those given once for the whole channel. */
struct lds_label lds_series_flag_words(const struct lds_series *series, size_t row);

/* Reports which orders were not found above the noise or are hidden by the tone. */
void lds_series_unseen_say(const struct lds_series *series, bool calibrated, const struct lds_listener *listener);

/* Whether the value of a row was found above the noise. */
bool lds_row_is_seen(const struct lds_series *series, size_t row);

#endif
