/* The changes of two channels in one table: a row for each figure, a cell for each channel. */
#ifndef LDS_REPORT_CHANGE_ROWS_H
#define LDS_REPORT_CHANGE_ROWS_H

#include "report/comparison_cells.h"

enum { LDS_SIDE_BY_SIDE = 2 }; /* so many channels stand side by side; more of them below each other */

/* Channels that share a table. */
struct lds_beside {
    const struct lds_compared_channel *channel[LDS_SIDE_BY_SIDE];
    int number[LDS_SIDE_BY_SIDE]; /* of each */
    size_t channels;
};

/* Those from the place `first` on. */
struct lds_beside lds_beside_from(const struct lds_comparison *comparison, size_t first);

struct lds_change_row {
    const struct lds_change *of[LDS_SIDE_BY_SIDE]; /* NULL: the channel does not have the figure */
    enum lds_change_group group;                   /* the first of its cells */
};

/* The rows in the order of the table of keys, without figures that only restate another one. The caller frees them.
 * NULL: nothing to show, or memory ran out, which is noted. */
struct lds_change_row *lds_change_rows(const struct lds_beside *beside, size_t *rows);

/* The cells of a row, with all its values in one unit. */
void lds_change_row_cells(const struct lds_change_row *row, struct lds_change_cells cells[LDS_SIDE_BY_SIDE]);

/* ---- lines ---- */

struct lds_line_row {
    const struct lds_line_change *of[LDS_SIDE_BY_SIDE];
};

/* A row for each line that is shown of any of the channels. As above. */
struct lds_line_row *lds_line_rows(const struct lds_beside *beside, size_t *rows);

#endif
