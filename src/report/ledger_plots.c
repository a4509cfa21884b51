/* A history in pictures: one main figure over the dates, with the channels of one condition. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/ledger_parts.h"
#include "report/plot.h"
#include "report/reading.h"

enum { CHANNELS = 8 }; /* in one picture; with more, nobody could tell them apart */

struct picture {
    const struct lds_ledger_history *history;
    const struct lds_ledger_series *series[CHANNELS];
    int channels;
    const char *prefix; /* of the unit */
    double factor;      /* from the figure's unit to this one */
};

/* Seconds since 1970 of the day at the start of a date; NAN if there is none. */
static double day_seconds(const char *date)
{
    int year = 0, month = 1, day = 1;
    if (!date || sscanf(date, "%4d-%2d-%2d", &year, &month, &day) < 1 || year < 1900 || month < 1 || month > 12)
        return NAN;
    struct tm when = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = day};
    return (double)timegm(&when);
}

static double seconds_of(const struct picture *picture, const struct lds_ledger_point *point)
{
    return day_seconds(picture->history->job[point->job].date);
}

/* One block: the points of a channel before the work, or after it (including those without a side). */
static void write_block(FILE *out, const struct picture *picture, const struct lds_ledger_series *series, bool before)
{
    size_t written = 0;
    fprintf(out, "# %s, %s: seconds since 1970, value, low, high, upper limit where there is no value/%s%s\n",
            lds_series_channel(series).text, before ? "before" : "after", picture->prefix, series->unit);
    for (size_t i = 0; i < series->points; i++) {
        const struct lds_ledger_point *point = &series->point[i];
        double seconds = seconds_of(picture, point), value = point->value * picture->factor;
        if ((point->when == LDS_WHEN_BEFORE) != before || !isfinite(seconds))
            continue;
        fprintf(out, "%.0f ", seconds);
        const double numbers[] = {value, isfinite(point->low) ? point->low * picture->factor : value,
                                  isfinite(point->high) ? point->high * picture->factor : value,
                                  isfinite(value) ? (double)NAN : point->high * picture->factor};
        lds_plot_numbers(out, numbers, 4);
        written++;
    }
    lds_plot_block_end(out, written, "NaN NaN NaN NaN NaN");
    fputs("\n\n", out);
}

/* Whether the block has anything to draw: values, or upper limits. */
static bool has(const struct picture *picture, const struct lds_ledger_series *series, bool before, bool limits)
{
    for (size_t i = 0; i < series->points; i++) {
        const struct lds_ledger_point *point = &series->point[i];
        bool value = isfinite(point->value), limit = !value && isfinite(point->high);
        if ((point->when == LDS_WHEN_BEFORE) == before && isfinite(seconds_of(picture, point)) &&
            (limits ? limit : value))
            return true;
    }
    return false;
}

/* The dates with a margin, and labels of days or of months. */
static void write_dates(FILE *out, const struct picture *picture)
{
    double first = INFINITY, last = -INFINITY;
    for (int i = 0; i < picture->channels; i++)
        for (size_t k = 0; k < picture->series[i]->points; k++) {
            first = fmin(first, seconds_of(picture, &picture->series[i]->point[k]));
            last = fmax(last, seconds_of(picture, &picture->series[i]->point[k]));
        }
    double margin = fmax(0.06 * (last - first), 10.0 * 86400.0);
    /* Whole days, and room for four or five dates. */
    double step = 86400.0 * ceil((last - first + 2.0 * margin) / 4.0 / 86400.0);
    fprintf(out,
            "set rmargin at screen 0.93\nset xdata time\nset timefmt '%%s'\nset xrange ['%.0f':'%.0f']\nset format x "
            "'%s'\nset xtics %.0f\n"
            "set xlabel 'date of the job'\n",
            first - margin, last + margin, last - first > 3.0 * 365.0 * 86400.0 ? "%Y" : "%Y-%m-%d", step);
}

/* Channels differ in marker and line style as well as in colour; before is hollow, after is filled and joined. */
static const struct {
    const char *colour, *dash;
    int hollow, filled;
} style[] = {{LDS_BLUE, "1", 6, 7}, {LDS_VERMILION, "2", 4, 5}, {LDS_GREEN, "4", 8, 9}, {"black", "3", 12, 13}};
enum { STYLES = sizeof style / sizeof style[0] };

/* A title of the key: "left, before". */
static void put_title(const struct lds_plot_sheet *sheet, const struct lds_ledger_series *series, const char *end)
{
    lds_plot_string(sheet->script, lds_sentence("%s, %s", lds_series_channel(series).text, end).text, 42);
}

/* Before and after of one channel: values with their intervals, and limits where there are no values. */
static void draw_channel(struct lds_plot_sheet *sheet, const struct picture *picture, int i)
{
    const struct lds_ledger_series *series = picture->series[i];
    const char *colour = style[i % STYLES].colour;
    if (has(picture, series, true, false)) {
        lds_plot_curve(
            sheet,
            "'%s' index %d using 1:2:3:4 with yerrorbars pointtype %d pointsize 1.4*mark linewidth 1.5 linecolor "
            "rgb '%s' title ",
            sheet->file, 2 * i, style[i % STYLES].hollow, colour);
        put_title(sheet, series, "before");
    }
    if (has(picture, series, false, false)) {
        lds_plot_curve(
            sheet,
            "'%s' index %d using 1:2:3:4 with yerrorlines pointtype %d pointsize 1.4*mark linewidth 1.5 dashtype "
            "%s linecolor rgb '%s' title ",
            sheet->file, 2 * i + 1, style[i % STYLES].filled, style[i % STYLES].dash, colour);
        put_title(sheet, series, "after");
    }
    for (int side = 0; side < 2; side++)
        if (has(picture, series, side == 0, true)) {
            lds_plot_curve(
                sheet,
                "'%s' index %d using 1:5 with points pointtype %d pointsize 1.6*mark linewidth 1.5 linecolor rgb "
                "'%s' title ",
                sheet->file, 2 * i + side, side ? 11 : 10, colour);
            put_title(sheet, series, side ? "after, at most" : "before, at most");
        }
}

static void draw_history(struct lds_plot_sheet *sheet, const void *context)
{
    const struct picture *picture = context;
    for (int i = 0; i < picture->channels; i++) {
        write_block(sheet->data, picture, picture->series[i], true);
        write_block(sheet->data, picture, picture->series[i], false);
    }
    write_dates(sheet->script, picture);
    fputs("set ylabel ", sheet->script);
    lds_plot_string(
        sheet->script,
        lds_sentence("%s, %s%s", lds_series_label(picture->series[0]).text, picture->prefix, picture->series[0]->unit)
            .text,
        70);
    fputs(" noenhanced\nset offsets 0, 0, graph 0.08, graph 0.08\n", sheet->script);
    for (int i = 0; i < picture->channels; i++)
        draw_channel(sheet, picture, i);
}

/* Whether the series goes into one picture with the first: everything but the channel is the same. */
static bool joins(const struct lds_ledger_series *first, const struct lds_ledger_series *other)
{
    return strcmp(first->key, other->key) == 0 && strcmp(first->unit, other->unit) == 0 &&
           lds_series_same_condition(first, other) && first->orders[1] == other->orders[1] &&
           (first->other > 0) == (other->other > 0) && (first->channel != other->channel || first == other);
}

static void choose_prefix(struct picture *picture)
{
    const char *unit = picture->series[0]->unit;
    double largest = 0.0;
    for (int i = 0; i < picture->channels; i++)
        for (size_t k = 0; k < picture->series[i]->points; k++) {
            const struct lds_ledger_point *point = &picture->series[i]->point[k];
            largest = fmax(largest, fabs(isfinite(point->value) ? point->value : point->high));
        }
    bool scaled = lds_unit_is_linear(unit);
    picture->prefix = "";
    picture->factor = 1.0;
    if (scaled)
        picture->prefix = lds_plot_prefix(isfinite(largest) ? largest : 1.0, &picture->factor);
}

static bool anything(const struct picture *picture)
{
    for (int i = 0; i < picture->channels; i++)
        for (int side = 0; side < 4; side++)
            if (has(picture, picture->series[i], side % 2 == 0, side > 1))
                return true;
    return false;
}

/* "-10W"; "" when it is not known. */
static struct lds_short stated(double value, const char *unit)
{
    return isfinite(value) ? lds_short("-%.4g%s", value, unit) : (struct lds_short){""};
}

/* "sine-1kHz-10W-8ohm-192kHz-thd": conditions and key; of outside data it contains only numbers. */
static struct lds_label name_of(const struct lds_ledger_series *series, size_t again)
{
    return lds_label("%s%s%s%s%s-%s%s", series->role->name, stated(series->tone_hz / 1e3, "kHz").text,
                     stated(series->power_w, "W").text, stated(series->load_ohm, "ohm").text,
                     stated(series->rate_hz / 1e3, "kHz").text, series->key,
                     again > 0 ? lds_short("_%zu", again + 1).text : "");
}

static enum lds_status draw(struct lds_plot_place *place, const struct picture *picture, size_t again)
{
    const struct lds_label name = name_of(picture->series[0], again);
    const struct lds_sentence title = lds_series_label(picture->series[0]);
    const struct lds_label condition = lds_series_condition(picture->series[0]);
    char *subject = lds_ledger_unit_words(&picture->history->unit);
    const struct lds_plot_page page = {.stem = "history",
                                       .name = name.text,
                                       .title = title.text,
                                       .subject = subject,
                                       .tail = "",
                                       .conditions = condition.text,
                                       .draw = draw_history,
                                       .context = picture};
    enum lds_status status = subject ? lds_plot_make(place, &page) : lds_fail_memory(place->error, "the plots");
    free(subject);
    return status;
}

static enum lds_status draw_all(struct lds_plot_place *place, const struct lds_ledger_history *history)
{
    enum lds_status status = LDS_OK;
    bool *done = calloc(history->series + 1, sizeof *done);
    if (!done)
        return lds_fail_memory(place->error, "the plots");
    for (size_t i = 0; status == LDS_OK && i < history->series; i++) {
        const struct lds_ledger_series *first = &history->serie[i];
        struct picture picture = {.history = history};
        size_t again = 0;
        if (!first->main || done[i])
            continue;
        for (size_t k = i; k < history->series && picture.channels < CHANNELS; k++)
            if (!done[k] && joins(first, &history->serie[k])) {
                picture.series[picture.channels++] = &history->serie[k];
                done[k] = true;
            }
        for (size_t k = 0; k < i; k++) /* another picture has this name: of another band, or of further channels */
            again +=
                strcmp(history->serie[k].key, first->key) == 0 && lds_series_same_condition(&history->serie[k], first);
        choose_prefix(&picture);
        if (anything(&picture))
            status = draw(place, &picture, again);
    }
    free(done);
    return status;
}

enum lds_status lds_history_plots(const struct lds_ledger_history *history, const char *folder, unsigned options,
                                  int *drawn, struct lds_error *error)
{
    struct lds_plot_place place = {.folder = folder, .options = options, .drawn = drawn, .error = error};
    enum lds_status status = lds_plot_begin(&place);
    return lds_plot_finish(&place, status == LDS_OK ? draw_all(&place, history) : status);
}
