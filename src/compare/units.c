/* Units of one kind side by side, and which of them stands out. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/statistics.h"
#include "compare/units_work.h"
#include "fail.h"
#include "grow.h"
#include "loadside/capture.h"
#include "record/record.h"

/* ---- rows ---- */

/* Units are comparable if each is comparable with the first that has the key. */
static bool not_comparable(const struct lds_unit_work *work, const char *key, const struct lds_key *row,
                           char reason[256])
{
    size_t first = work->table->units, have = 0, known = 0;
    for (size_t u = 0; u < work->table->units; u++) {
        const struct lds_figure *figure = lds_seen_figure(&work->seen[u], key);
        if (!figure)
            continue;
        have++;
        known += isnan(figure->value) ? 0 : 1;
        if (first == work->table->units)
            first = u;
        const struct lds_seen *const seen[2] = {&work->seen[first], &work->seen[u]};
        const char *const name[2] = {work->table->name[first], work->table->name[u]};
        if (u != first && lds_figures_differ(seen, name, key, row, reason))
            return true;
    }
    if (have > 1 && known > 0)
        return false;
    if (have < 2)
        snprintf(reason, 256, "only %.200s has it", work->table->name[first]);
    else
        snprintf(reason, 256, "below the floor in every unit");
    return true;
}

static struct lds_unit_row *add_row(struct lds_unit_table *table, const struct lds_figure *figure)
{
    struct lds_unit_row *row = lds_grow(&table->row, &table->rows, sizeof *row);
    if (!row)
        return NULL;
    row->key = strdup(figure->key);
    row->name = figure->name;
    row->count = table->units;
    row->stands_out = -1;
    row->p_adjusted = NAN;
    row->value = calloc(table->units, sizeof *row->value);
    row->low = calloc(table->units, sizeof *row->low);
    row->high = calloc(table->units, sizeof *row->high);
    return row->key && row->value && row->low && row->high ? row : NULL;
}

static bool fill_row(const struct lds_unit_work *work, const struct lds_figure *first)
{
    struct lds_unit_row *row = add_row(work->table, first);
    if (!row)
        return false;
    size_t known = 0;
    for (size_t u = 0; u < row->count; u++) {
        const struct lds_figure *figure = lds_seen_figure(&work->seen[u], row->key);
        row->value[u] = figure ? figure->value : (double)NAN;
        row->low[u] = figure ? figure->low : (double)NAN;
        row->high[u] = figure ? figure->high : (double)NAN;
        if (!isnan(row->value[u]))
            work->scratch[known++] = row->value[u];
    }
    snprintf(row->unit, sizeof row->unit, "%s", first->unit);
    lds_middle_of(work->scratch, known, &row->median, &row->spread);
    if (lds_is_judged(first) && row->count >= LDS_UNITS_FEWEST)
        lds_units_look(work, row);
    return true;
}

static bool met_before(const struct lds_unit_work *work, size_t unit, const char *key)
{
    for (size_t u = 0; u < unit; u++)
        if (lds_seen_figure(&work->seen[u], key))
            return true;
    return false;
}

static bool make_rows(struct lds_unit_work *work)
{
    for (size_t u = 0; u < work->table->units; u++)
        for (size_t f = 0; f < work->seen[u].figures; f++) {
            const struct lds_figure *figure = &work->seen[u].figure[f];
            const struct lds_key *row = figure->name.row;
            char reason[256];
            if (row->compared == LDS_NOT_COMPARED || met_before(work, u, figure->key))
                continue;
            if (not_comparable(work, figure->key, row, reason)
                    ? !lds_absent_add(&work->table->not_compared_why, &work->table->not_compared, figure->key, "%s",
                                      reason)
                    : !fill_row(work, figure))
                return false;
        }
    return true;
}

/* ---- tables ---- */

static bool add_unit(struct lds_unit_work *work, const struct lds_measurement *capture,
                     const struct lds_channel *channel, bool by_channel)
{
    size_t u = work->table->units;
    work->seen[u] = lds_seen_channel(LDS_BEFORE, capture, channel);
    const char *file = capture->file ? capture->file : "";
    int length = !by_channel     ? asprintf(&work->table->name[u], "%s", file)
                 : channel->name ? asprintf(&work->table->name[u], "%s, %s", file, channel->name)
                                 : asprintf(&work->table->name[u], "%s, channel %d", file, channel->channel);
    if (length < 0) {
        work->table->name[u] = NULL;
        return false;
    }
    if (!by_channel && channel->name && !work->table->channel_name) {
        work->table->channel_name = strdup(channel->name);
        if (!work->table->channel_name)
            return false;
    }
    work->table->units++;
    return true;
}

/* Numbers units of the same name, since their reasons could not be distinguished otherwise. */
static bool number_names(struct lds_unit_table *table)
{
    for (size_t u = 0; u < table->units; u++) {
        size_t alike = 1;
        for (size_t v = u + 1; v < table->units; v++) {
            char *numbered;
            if (strcmp(table->name[v], table->name[u]) != 0)
                continue;
            if (asprintf(&numbered, "%s (%zu)", table->name[v], ++alike) < 0)
                return false;
            free(table->name[v]);
            table->name[v] = numbered;
        }
        char *first;
        if (alike == 1)
            continue;
        if (asprintf(&first, "%s (1)", table->name[u]) < 0)
            return false;
        free(table->name[u]);
        table->name[u] = first;
    }
    return true;
}

static bool open_work(struct lds_unit_work *work, struct lds_side units)
{
    size_t room = 1;
    for (size_t i = 0; i < units.captures; i++)
        room += units.measurement[i].channels;
    struct lds_captures captures = {.list = calloc(units.captures + 1, sizeof *captures.list)};
    for (; captures.list && (size_t)captures.all < units.captures; captures.all++)
        captures.list[captures.all] = &units.measurement[captures.all];
    bool ok = captures.list != NULL;
    lds_scatter_find(work->options, &captures, false, &work->scatter);
    free((void *)captures.list);
    work->seen = calloc(room, sizeof *work->seen);
    work->scratch = calloc(room, sizeof *work->scratch);
    work->table->name = calloc(room, sizeof *work->table->name);
    return ok && work->seen && work->scratch && work->table->name;
}

/* channel 0: all channels are units. */
static bool fill_table(struct lds_side units, int channel, const struct lds_compare_options *options,
                       struct lds_unit_table *table)
{
    struct lds_unit_work work = {.table = table, .options = options};
    table->channel = channel;
    bool ok = open_work(&work, units);
    for (size_t i = 0; ok && i < units.captures; i++)
        for (size_t c = 0; ok && c < units.measurement[i].channels; c++) {
            const struct lds_channel *from = &units.measurement[i].channel[c];
            if (channel == 0 || from->channel == channel)
                ok = add_unit(&work, &units.measurement[i], from, channel == 0);
        }
    ok = ok && number_names(table) && make_rows(&work) && lds_units_notes(&work) &&
         (channel > 0 || lds_units_balance(table, units));
    free(work.seen);
    free(work.scratch);
    return ok;
}

static int channels_shared(struct lds_side units, int channel[LDS_CHANNELS_MAX])
{
    int count = 0;
    for (int c = 1; c <= LDS_CHANNELS_MAX; c++) {
        int have = 0;
        for (size_t i = 0; i < units.captures; i++)
            for (size_t k = 0; k < units.measurement[i].channels; k++)
                have += units.measurement[i].channel[k].channel == c;
        if (have > 1)
            channel[count++] = c;
    }
    return count;
}

static size_t channels_in_all(struct lds_side units)
{
    size_t count = 0;
    for (size_t i = 0; i < units.captures; i++)
        count += units.measurement[i].channels;
    return count;
}

enum lds_status lds_compare_units(struct lds_side units, bool channels, const struct lds_compare_options *options,
                                  struct lds_unit_table **table, size_t *tables, struct lds_error *error)
{
    int channel[LDS_CHANNELS_MAX] = {0}, count = channels ? 1 : channels_shared(units, channel);
    *table = NULL;
    *tables = 0;
    if (channels && channels_in_all(units) < 2)
        return lds_fail(error, LDS_BAD_INPUT, "one channel in all: units side by side need two or more");
    if (count == 0)
        return lds_fail(error, LDS_BAD_INPUT,
                        "no channel is in two captures or more: units side by side need the same "
                        "channel of each, or --channels for the channels of one");
    *table = calloc((size_t)count, sizeof **table);
    bool ok = *table;
    for (int t = 0; ok && t < count; t++) {
        *tables = (size_t)t + 1;
        ok = fill_table(units, channel[t], options, &(*table)[t]);
    }
    ok = ok && lds_units_judge(*table, *tables, options->false_alarm);
    for (size_t t = 0; ok && t < *tables; t++)
        ok = lds_units_summary(&(*table)[t]);
    return ok ? LDS_OK : lds_fail_memory(error, "the units");
}
