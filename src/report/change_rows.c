#include "report/change_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "report/figures.h"
#include "scarce.h"

static const double SAME_FREQUENCY = 1e-4; /* relative: the default clock tolerance */

struct lds_beside lds_beside_from(const struct lds_comparison *comparison, size_t first)
{
    struct lds_beside beside = {.channels = 0};
    while (beside.channels < LDS_SIDE_BY_SIDE && first + beside.channels < comparison->channels) {
        beside.channel[beside.channels] = &comparison->channel[first + beside.channels];
        beside.number[beside.channels] = comparison->channel[first + beside.channels].channel;
        beside.channels++;
    }
    return beside;
}

static struct lds_change_row *row_of(struct lds_change_row **row, size_t *rows, const struct lds_change *change)
{
    for (size_t i = 0; i < *rows; i++)
        for (size_t c = 0; c < LDS_SIDE_BY_SIDE; c++)
            if ((*row)[i].of[c] && strcmp((*row)[i].of[c]->key, change->key) == 0)
                return &(*row)[i];
    struct lds_change_row *made = lds_grow(row, rows, sizeof *made);
    if (made)
        made->group = LDS_CHANGES_SHOWN;
    else
        lds_scarce_note();
    return made;
}

struct lds_change_row *lds_change_rows(const struct lds_beside *beside, size_t *rows)
{
    struct lds_change_row *row = NULL;
    *rows = 0;
    for (size_t c = 0; c < beside->channels; c++) {
        const struct lds_compared_channel *channel = beside->channel[c];
        for (const struct lds_change *change = NULL;
             (change = lds_next_change(change, channel->change, channel->changes)) != NULL;) {
            struct lds_change_row *one = change->name.row->restates ? NULL : row_of(&row, rows, change);
            if (!one)
                continue;
            enum lds_change_group group = lds_change_group_of(change);
            one->of[c] = change;
            one->group = group < one->group ? group : one->group;
        }
    }
    return row;
}

void lds_change_row_cells(const struct lds_change_row *row, struct lds_change_cells cells[LDS_SIDE_BY_SIDE])
{
    double largest = 0.0;
    for (size_t c = 0; c < LDS_SIDE_BY_SIDE; c++)
        if (row->of[c])
            largest = fmax(largest, fmax(fabs(row->of[c]->before), fabs(row->of[c]->after)));
    for (size_t c = 0; c < LDS_SIDE_BY_SIDE; c++) {
        cells[c] = (struct lds_change_cells){.word = ""};
        if (row->of[c])
            cells[c] = lds_change_cells_scaled(row->of[c], largest);
    }
}

/* ---- lines ---- */

static bool is_same_line(const struct lds_line_change *a, const struct lds_line_change *b)
{
    if (a->kind != b->kind || a->order != b->order)
        return false;
    return a->kind->match == LDS_MATCH_ORDER ||
           fabs(a->frequency_hz - b->frequency_hz) <= SAME_FREQUENCY * a->frequency_hz;
}

static bool has_row(const struct lds_line_row *row, size_t rows, const struct lds_line_change *line)
{
    for (size_t i = 0; i < rows; i++)
        for (size_t c = 0; c < LDS_SIDE_BY_SIDE; c++)
            if (row[i].of[c] && is_same_line(row[i].of[c], line))
                return true;
    return false;
}

static void add_line(struct lds_line_row **row, size_t *rows, const struct lds_beside *beside,
                     const struct lds_line_change *line)
{
    struct lds_line_row *made = lds_grow(row, rows, sizeof *made);
    if (!made) {
        lds_scarce_note();
        return;
    }
    for (size_t c = 0; c < beside->channels; c++)
        for (size_t i = 0; i < beside->channel[c]->lines; i++)
            if (!made->of[c] && is_same_line(&beside->channel[c]->line[i], line))
                made->of[c] = &beside->channel[c]->line[i];
}

static const struct lds_line_change *first_line(const struct lds_line_row *row)
{
    return row->of[0] ? row->of[0] : row->of[1];
}

/* Kinds in the order of their table, then orders, then frequencies. */
static int compare_rows(const void *a, const void *b)
{
    const struct lds_line_change *first = first_line(a), *second = first_line(b);
    if (first->kind != second->kind)
        return first->kind < second->kind ? -1 : 1;
    if (first->order != second->order)
        return first->order < second->order ? -1 : 1;
    return (first->frequency_hz > second->frequency_hz) - (first->frequency_hz < second->frequency_hz);
}

struct lds_line_row *lds_line_rows(const struct lds_beside *beside, size_t *rows)
{
    struct lds_line_row *row = NULL;
    *rows = 0;
    for (size_t c = 0; c < beside->channels; c++)
        for (size_t i = 0; i < beside->channel[c]->lines; i++) {
            const struct lds_line_change *line = &beside->channel[c]->line[i];
            if (lds_line_is_shown(beside->channel[c], line) && !has_row(row, *rows, line))
                add_line(&row, rows, beside, line);
        }
    if (row)
        qsort(row, *rows, sizeof *row, compare_rows);
    return row;
}
