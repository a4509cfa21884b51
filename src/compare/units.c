/* Units of one kind side by side, and which of them stands out. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/outlier.h"
#include "compare/reading.h"
#include "compare/statistics.h"
#include "compare/work.h"
#include "fail.h"
#include "loadside/capture.h"

enum { FEWEST = 4 }; /* units among which one can be called out */

struct unit_work {
    struct lds_seen *seen; /* of each unit */
    struct lds_unit_table *table;
    const struct lds_compare_options *options;
    struct lds_scatter scatter;
    double *scratch;
    bool *judged; /* of each row */
};

static bool note(struct lds_unit_table *table, const char *format, ...) __attribute__((format(printf, 2, 3)));

static bool note(struct lds_unit_table *table, const char *format, ...)
{
    char **grown = lds_grow(table->note, &table->notes, sizeof *grown);
    if (!grown)
        return false;
    table->note = grown;
    va_list args;
    va_start(args, format);
    int length = vasprintf(&grown[table->notes - 1], format, args);
    va_end(args);
    if (length < 0)
        grown[table->notes - 1] = NULL;
    return length >= 0;
}

/* ---- rows ---- */

/* Units may be laid side by side when each may be with the first that has the key. */
static bool not_comparable(const struct unit_work *work, const char *key, const struct lds_key *row, char reason[256])
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

static bool add_row(struct unit_work *work, const char *key, struct lds_unit_row **row)
{
    struct lds_unit_table *table = work->table;
    bool *judged = realloc(work->judged, (table->rows + 1) * sizeof *judged);
    if (!judged)
        return false;
    work->judged = judged;
    struct lds_unit_row *grown = lds_grow(table->row, &table->rows, sizeof *grown);
    if (!grown)
        return false;
    table->row = grown;
    *row = &grown[table->rows - 1];
    (*row)->key = strdup(key);
    (*row)->count = table->units;
    (*row)->stands_out = -1;
    (*row)->p_adjusted = NAN;
    (*row)->value = calloc(table->units, sizeof *(*row)->value);
    (*row)->low = calloc(table->units, sizeof *(*row)->low);
    (*row)->high = calloc(table->units, sizeof *(*row)->high);
    return (*row)->key && (*row)->value && (*row)->low && (*row)->high;
}

static void middle_and_spread(struct lds_unit_row *row, double *scratch)
{
    size_t count = 0;
    for (size_t u = 0; u < row->count; u++)
        if (!isnan(row->value[u]))
            scratch[count++] = row->value[u];
    lds_middle_of(scratch, count, &row->median, &row->spread);
}

static bool fill_row(struct unit_work *work, const char *key, const struct lds_key *key_row)
{
    struct lds_unit_row *row;
    if (!add_row(work, key, &row))
        return false;
    const struct lds_figure *any = NULL;
    for (size_t u = 0; u < row->count; u++) {
        const struct lds_figure *figure = lds_seen_figure(&work->seen[u], key);
        row->value[u] = figure ? figure->value : (double)NAN;
        row->low[u] = figure ? figure->low : (double)NAN;
        row->high[u] = figure ? figure->high : (double)NAN;
        any = figure ? figure : any;
    }
    snprintf(row->unit, sizeof row->unit, "%s", any ? any->unit : "");
    work->judged[work->table->rows - 1] = any && lds_is_judged(key_row, any);
    middle_and_spread(row, work->scratch);
    return true;
}

static bool met_before(const struct unit_work *work, size_t unit, const char *key)
{
    for (size_t u = 0; u < unit; u++)
        if (lds_seen_figure(&work->seen[u], key))
            return true;
    return false;
}

static bool make_rows(struct unit_work *work)
{
    for (size_t u = 0; u < work->table->units; u++)
        for (size_t f = 0; f < work->seen[u].figures; f++) {
            const char *key = work->seen[u].figure[f].key;
            const struct lds_key *row = lds_key_find(key);
            char reason[256];
            if (!lds_is_shown(row) || met_before(work, u, key))
                continue;
            if (not_comparable(work, key, row, reason)
                    ? !lds_add_absent(&work->table->not_compared_why, &work->table->not_compared, key, reason)
                    : !fill_row(work, key, row))
                return false;
        }
    return true;
}

/* ---- which unit stands out ---- */

/* What a unit's figure scatters by through its own measurement, root mean square over the units; values on the scale
 * of changes into scratch. */
static double own_scatter(const struct unit_work *work, const struct lds_unit_row *row, double *matters)
{
    const struct lds_key *key_row = lds_key_find(row->key);
    double square = 0.0;
    size_t count = 0;
    for (size_t u = 0; u < row->count; u++) {
        const struct lds_seen *seen = &work->seen[u];
        const struct lds_figure *figure = lds_seen_figure(seen, row->key);
        work->scratch[u] = NAN;
        if (!figure || isnan(figure->value))
            continue;
        struct lds_reading reading;
        const struct lds_seen *one_seen[1] = {seen};
        const struct lds_figure *one_figure[1] = {figure};
        const struct lds_chosen chosen = {.seen = {one_seen}, .figure = {one_figure}, .count = {1, 0}};
        lds_reading_take(figure, lds_scale_of(row->key, figure->unit), &reading);
        work->scratch[u] = reading.value;
        double u_rep = lds_scatter_of(&work->scatter, &chosen, row->key, key_row);
        square += reading.u * reading.u + u_rep * u_rep;
        count++;
        *matters = lds_matters_of(work->options, row->key, figure->unit, key_row);
    }
    return count > 0 ? sqrt(square / (double)count) : 0.0;
}

static bool find_outliers(const struct unit_work *work, struct lds_outlier *outlier, double *p)
{
    for (size_t r = 0; r < work->table->rows; r++) {
        double matters = 0.0;
        p[r] = NAN;
        outlier[r] = (struct lds_outlier){.which = -1};
        if (!work->judged[r] || work->table->units < FEWEST)
            continue;
        double u = own_scatter(work, &work->table->row[r], &matters);
        lds_outlier_find(work->scratch, work->table->units, u, &outlier[r]);
        p[r] = outlier[r].p;
        if (fabs(outlier[r].apart) <= matters)
            outlier[r].which = -1;
    }
    return true;
}

static void call_out(struct unit_work *const *work, size_t tables, const struct lds_outlier *outlier,
                     const double *adjusted)
{
    for (size_t t = 0, at = 0; t < tables; t++)
        for (size_t r = 0; r < work[t]->table->rows; r++, at++) {
            struct lds_unit_row *row = &work[t]->table->row[r];
            const struct lds_key *key_row = lds_key_find(row->key);
            row->p_adjusted = adjusted[at];
            if (!(adjusted[at] < work[t]->options->false_alarm) || outlier[at].which < 0)
                continue;
            row->stands_out = outlier[at].which;
            row->worse = key_row->worse == LDS_WORSE_UP     ? outlier[at].apart > 0.0
                         : key_row->worse == LDS_WORSE_DOWN ? outlier[at].apart < 0.0
                                                            : false;
            work[t]->table->worse = work[t]->table->worse || row->worse;
        }
}

/* Holm over the rows of all tables. */
static bool judge(struct unit_work *const *work, size_t tables)
{
    size_t rows = 0;
    for (size_t t = 0; t < tables; t++)
        rows += work[t]->table->rows;
    double *p = calloc(2 * rows + 1, sizeof *p);
    struct lds_outlier *outlier = calloc(rows + 1, sizeof *outlier);
    bool ok = p && outlier;
    for (size_t t = 0, at = 0; ok && t < tables; t++) {
        ok = find_outliers(work[t], outlier + at, p + at);
        at += work[t]->table->rows;
    }
    ok = ok && lds_holm(p, p + rows, rows);
    if (ok)
        call_out(work, tables, outlier, p + rows);
    free(p);
    free(outlier);
    return ok;
}

/* ---- words ---- */

static bool write_notes(struct unit_work *work)
{
    struct lds_unit_table *table = work->table;
    for (size_t a = 0; a < table->units; a++) {
        size_t b = 0;
        while (b < a && (work->seen[a].capture == work->seen[b].capture ||
                         !lds_same_capture(work->seen[a].capture, work->seen[b].capture)))
            b++;
        if (b < a && !note(table, "%s and %s are the same recording", table->name[b], table->name[a]))
            return false;
    }
    return true;
}

static void put_rows(FILE *out, const struct lds_unit_table *table, size_t unit)
{
    size_t named = 0;
    for (size_t r = 0; r < table->rows; r++) {
        char words[96];
        if (table->row[r].stands_out != (int)unit)
            continue;
        lds_key_words(table->row[r].key, words, sizeof words);
        fprintf(out, "%s%s%s", named++ ? ", " : "", words, table->row[r].worse ? " (worse)" : "");
    }
}

static bool write_summary(struct lds_unit_table *table)
{
    size_t size, units = 0;
    FILE *out = open_memstream(&table->summary, &size);
    if (!out)
        return false;
    for (size_t u = 0; u < table->units; u++) {
        bool any = false;
        for (size_t r = 0; r < table->rows; r++)
            any = any || table->row[r].stands_out == (int)u;
        if (!any)
            continue;
        fprintf(out, "%s%s stands out in ", units++ ? " " : "", table->name[u]);
        put_rows(out, table, u);
        fprintf(out, ".");
    }
    if (units == 0 && table->units < FEWEST)
        fprintf(out,
                "%zu units side by side: none can be called out, because the spread of so few is not known well "
                "enough; four are needed.",
                table->units);
    else if (units == 0)
        fprintf(out, "None of the %zu units stands out.", table->units);
    return fclose(out) == 0;
}

/* Balance of the channels of each capture, said where channels are the units. */
static bool write_balance(struct lds_unit_table *table, struct lds_side units)
{
    for (size_t i = 0; i < units.captures; i++)
        for (size_t p = 0; p < units.measurement[i].pairs; p++) {
            const struct lds_pair *pair = &units.measurement[i].pair[p];
            const struct lds_figure *balance = lds_pair_figure(pair, "balance");
            if (balance && !note(table, "%s: balance, channel %d over channel %d: %.3f dB",
                                 units.measurement[i].file ? units.measurement[i].file : "", pair->channels[1],
                                 pair->channels[0], balance->value))
                return false;
        }
    return true;
}

/* ---- tables ---- */

static bool add_unit(struct unit_work *work, const struct lds_measurement *capture, const struct lds_channel *channel,
                     bool by_channel)
{
    size_t u = work->table->units;
    work->seen[u] =
        (struct lds_seen){capture, channel, channel->figure, channel->absent, channel->figures, channel->absents};
    const char *file = capture->file ? capture->file : "";
    int length = by_channel ? asprintf(&work->table->name[u], "%s, channel %d", file, channel->channel)
                            : asprintf(&work->table->name[u], "%s", file);
    if (length < 0) {
        work->table->name[u] = NULL;
        return false;
    }
    work->table->units++;
    return true;
}

/* Units of one name are numbered, or their reasons could not be told apart. */
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

/* channel 0: all channels are units. */
static struct unit_work *new_work(struct lds_side units, int channel, const struct lds_compare_options *options,
                                  struct lds_unit_table *table)
{
    struct unit_work *work = calloc(1, sizeof *work);
    size_t room = 1;
    for (size_t i = 0; i < units.captures; i++)
        room += units.measurement[i].channels;
    if (!work)
        return NULL;
    work->table = table;
    work->options = options;
    table->channel = channel;
    work->seen = calloc(room, sizeof *work->seen);
    work->scratch = calloc(room, sizeof *work->scratch);
    table->name = calloc(room, sizeof *table->name);
    bool ok = work->seen && work->scratch && table->name;
    for (size_t i = 0; ok && i < units.captures; i++)
        for (size_t c = 0; ok && c < units.measurement[i].channels; c++) {
            const struct lds_channel *from = &units.measurement[i].channel[c];
            if (channel == 0 || from->channel == channel)
                ok = add_unit(work, &units.measurement[i], from, channel == 0);
        }
    ok = ok && number_names(table);
    const struct lds_measurement **capture = calloc(units.captures + 1, sizeof(struct lds_measurement *));
    for (size_t i = 0; capture && i < units.captures; i++)
        capture[i] = &units.measurement[i];
    if (capture) {
        const struct lds_measurement *const *sides[2] = {capture, capture};
        const int count[2] = {(int)units.captures, 0};
        lds_scatter_find(options, sides, count, false, &work->scatter);
    }
    free((void *)capture);
    if (ok && capture)
        return work;
    free(work->seen);
    free(work->scratch);
    free(work);
    return NULL;
}

static void free_work(struct unit_work *work)
{
    if (!work)
        return;
    free(work->seen);
    free(work->scratch);
    free(work->judged);
    free(work);
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

static bool fill_tables(struct unit_work **work, size_t tables, struct lds_side units, bool channels)
{
    for (size_t t = 0; t < tables; t++)
        if (!make_rows(work[t]))
            return false;
    if (!judge(work, tables))
        return false;
    for (size_t t = 0; t < tables; t++)
        if (!write_notes(work[t]) || (channels && !write_balance(work[t]->table, units)) ||
            !write_summary(work[t]->table))
            return false;
    return true;
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
    struct unit_work **work = calloc((size_t)count, sizeof(struct unit_work *));
    bool ok = *table && work;
    for (int t = 0; ok && t < count; t++) {
        *tables = (size_t)t + 1;
        work[t] = new_work(units, channel[t], options, &(*table)[t]);
        ok = work[t] != NULL;
    }
    ok = ok && fill_tables(work, (size_t)count, units, channels);
    for (int t = 0; work && t < count; t++)
        free_work(work[t]);
    free(work);
    return ok ? LDS_OK : lds_fail_memory(error, "the units");
}
