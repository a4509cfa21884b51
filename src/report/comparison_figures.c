/* Harmonics of both sides in pairs, and the changes of figures as points with their intervals. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/comparison_cells.h"
#include "report/figures.h"
#include "report/plot_levels.h"
#include "report/series_cells.h"
#include "report/text.h"

/* ---- harmonics ---- */

static const double offset[2] = {-0.12, 0.12};
/* Before is open and after is filled, so that they differ in grey too; the same for limits. */
static const char *const point_style[2] = {"pointtype 6 pointsize 1.5*mark linewidth 2.5 linecolor rgb '" LDS_BLUE "'",
                                           "pointtype 7 pointsize 1.4*mark linecolor rgb '" LDS_VERMILION "'"};
static const char *const limit_style[2] = {"pointtype 10 pointsize 1.3*mark linewidth 2 linecolor rgb '" LDS_BLUE "'",
                                           "pointtype 11 pointsize 1.3*mark linecolor rgb '" LDS_VERMILION "'"};

static const struct lds_channel *channel_of(const struct lds_measurement *measurement, int number)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].channel == number)
            return &measurement->channel[i];
    return NULL;
}

/* A harmonic of a side: the mean power of the captures that found it; with an interval if only one did. */
struct harmonic {
    double db, low_db, high_db;
    double limit_db; /* the highest of the limits if none found it */
    size_t found;
};

static struct harmonic harmonic_of(const struct lds_plot_side *side, int channel, int order)
{
    struct harmonic one = {NAN, NAN, NAN, NAN, 0};
    double power = 0.0;
    for (size_t i = 0; i < side->side.captures; i++) {
        const struct lds_channel *has = channel_of(&side->side.measurement[i], channel);
        if (!has)
            continue;
        const struct lds_series *lines = lds_channel_find_series(has, LDS_SERIES_HARMONICS);
        size_t row = lds_series_row_of(lines, LDS_LINE_ORDER, order);
        if (row == lines->rows)
            continue;
        struct lds_cell level = lds_series_cell(lines, row, LDS_LINE_RELATIVE);
        if (lds_row_is_seen(lines, row) && isfinite(level.value)) {
            power += pow(10.0, level.value / 10.0);
            one.low_db = level.low;
            one.high_db = level.high;
            one.found++;
        } else {
            one.limit_db = fmax(one.limit_db, level.high);
        }
    }
    if (one.found > 0)
        one.db = 10.0 * log10(power / (double)one.found);
    if (one.found != 1 || !isfinite(one.low_db) || !isfinite(one.high_db))
        one.low_db = one.high_db = NAN;
    return one;
}

static int last_order(const struct lds_plot *plot)
{
    double last = 0.0;
    for (int i = 0; i < 2; i++) {
        if (!plot->side[i].channel)
            continue;
        const struct lds_series *lines = lds_channel_find_series(plot->side[i].channel, LDS_SERIES_HARMONICS);
        for (size_t k = 0; k < lines->rows; k++)
            last = fmax(last, lds_series_value(lines, k, LDS_LINE_ORDER));
    }
    return (int)last;
}

static bool has_harmonics(const struct lds_plot *plot)
{
    bool found = false;
    for (int order = 2; order <= last_order(plot); order++)
        for (int i = 0; i < 2; i++)
            found = found || harmonic_of(&plot->side[i], plot->compared->channel, order).found > 0;
    return found;
}

/* The last order that is drawn on its own: two beyond the last that either side has. */
static int last_drawn(const struct lds_plot *plot)
{
    int last = last_order(plot), found = 2;
    for (int order = 2; order <= last; order++)
        for (int i = 0; i < 2; i++)
            if (harmonic_of(&plot->side[i], plot->compared->channel, order).found > 0)
                found = order;
    return last > found + 2 ? found + 2 : last;
}

/* Blocks of the points of each side, and of its limits; reach: what they cover. */
static void write_harmonics(FILE *out, const struct lds_plot *plot, int last, double reach[2], size_t limits[2])
{
    int channel = plot->compared->channel;
    for (int block = 0; block < 4; block++) {
        int i = block % 2;
        bool found = block < 2;
        fprintf(out,
                found ? "%s# %s: place order level/dB from/dB to/dB, all re fundamental\nNaN NaN NaN NaN NaN\n"
                      : "%s# %s, not found above the noise: place order upper limit/dB\nNaN NaN NaN\n",
                block > 0 ? "\n\n" : "", plot->side[i].word);
        for (int order = 2; order <= last; order++) {
            struct harmonic one = harmonic_of(&plot->side[i], channel, order);
            double level = found ? one.db : one.limit_db;
            if ((one.found > 0) != found || !isfinite(level))
                continue;
            fprintf(out, found ? "%.6g %d %.6g " : "%.6g %d %.6g\n", order + offset[i], order, level);
            if (found)
                lds_plot_numbers(out, (const double[]){one.low_db, one.high_db}, 2);
            reach[0] = fmin(reach[0], fmin(level, one.low_db)); /* fmin ignores NAN */
            reach[1] = fmax(reach[1], found ? fmax(level, one.high_db) : level);
            limits[i] += !found;
        }
    }
}

/* The orders that the axis leaves out were found on neither side. */
static void write_rest(FILE *out, const struct lds_plot *plot, int drawn, int last)
{
    double limit = -INFINITY;
    for (int order = drawn + 1; order <= last; order++)
        for (int i = 0; i < 2; i++)
            limit = fmax(limit, harmonic_of(&plot->side[i], plot->compared->channel, order).limit_db);
    if (drawn < last && isfinite(limit))
        fprintf(out,
                "set label 4 'orders %d to %d: not found, below %.0f dB' at graph 1, graph 1.025 right noenhanced\n",
                drawn + 1, last, ceil(limit));
}

static double highest_of(const struct lds_plot *plot, int order)
{
    double highest = -INFINITY;
    for (int i = 0; i < 2; i++) {
        struct harmonic one = harmonic_of(&plot->side[i], plot->compared->channel, order);
        highest = fmax(highest, one.found > 0 ? fmax(one.db, one.high_db) : one.limit_db);
    }
    return highest;
}

/* The change of each order that changed, above it, unless its neighbours are in the way. */
static void write_changed(FILE *out, const struct lds_plot *plot, int last, double frame_db)
{
    size_t label = 10;
    /* On an axis of up to 12 orders a change is narrower than the step from one to the next. */
    for (size_t i = 0; i < plot->compared->lines; i++) {
        const struct lds_line_change *line = &plot->compared->line[i];
        if (!lds_line_is_called(line) || line->kind->family != LDS_FAMILY_DISTORTION || line->order > last)
            continue;
        double y = highest_of(plot, line->order), room = 0.1 * frame_db;
        bool free = isfinite(y);
        for (int order = line->order - 1; order <= line->order + 1; order += 2) {
            double next = order >= 2 && order <= last && last > 12 ? highest_of(plot, order) : -INFINITY;
            free = free && !(next > y - 0.2 * room && next < y + room);
        }
        if (!free)
            continue;
        fprintf(out, "set label %zu '%s' at first %d, first %.6g offset character 0,1.1 center noenhanced\n", label++,
                lds_plot_change_text(line).text, line->order, y);
    }
}

static void draw_harmonics(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    double reach[2] = {INFINITY, -INFINITY};
    size_t limits[2] = {0};
    int last = last_drawn(plot);
    write_harmonics(sheet->data, plot, last, reach, limits);
    double bottom = 10.0 * floor(reach[0] / 10.0 - 0.3),
           top = 10.0 * ceil((reach[1] + 0.1 * (reach[1] - bottom)) / 10.0);
    fprintf(sheet->script, "set xrange [1.5:%.1f]\nset yrange [%.0f:%.0f]\nset xtics %d\n" LDS_PLOT_ORDERS, last + 0.5,
            bottom, top, last > 30 ? 5 : 1);
    write_rest(sheet->script, plot, last, last_order(plot));
    write_changed(sheet->script, plot, last, top - bottom);
    for (int i = 0; i < 2; i++)
        lds_plot_curve(
            sheet,
            "'%s' index %d using 1:4:(0):($5-$4) with vectors heads size graph 0.006,90 filled linewidth 1.5 "
            "linecolor rgb 'black' %s",
            sheet->file, i, i == 0 ? "title '95 % interval'" : "notitle");
    for (int i = 0; i < 2; i++) {
        lds_plot_curve(sheet, "'' index %d using 1:3 with points %s title ", i, point_style[i]);
        lds_plot_string(sheet->script, plot->side[i].all, 42);
    }
    for (int i = 0; i < 2; i++)
        if (limits[i] > 0)
            lds_plot_curve(sheet, "'' index %d using 1:3 with points %s title 'not found %s, below this'", i + 2,
                           limit_style[i], plot->side[i].word);
}

/* ---- changes ---- */

static bool is_drawn(const struct lds_change *change)
{
    return change->judged && !change->name.row->restates && strcmp(change->unit, "dB") == 0 &&
           (isfinite(change->change) || isfinite(change->low) || isfinite(change->high));
}

static size_t drawn_of(const struct lds_compared_channel *compared)
{
    size_t count = 0;
    for (size_t i = 0; i < compared->changes; i++)
        count += is_drawn(&compared->change[i]);
    return count;
}

static bool has_changes(const struct lds_plot *plot)
{
    return drawn_of(plot->compared) > 0;
}

/* What the axis covers: all changes, and as much of their intervals as keeps them readable. */
static void range_of(const struct lds_compared_channel *compared, double *low, double *high)
{
    *low = *high = 0.0;
    for (size_t i = 0; i < compared->changes; i++) {
        const struct lds_change *change = &compared->change[i];
        if (!is_drawn(change))
            continue;
        double value = isfinite(change->change) ? change->change : 0.0;
        *low = fmin(*low, fmin(value, -change->matters));
        *high = fmax(*high, fmax(value, change->matters));
    }
    double widest = 1.6 * fmax(-*low, *high), ends[2] = {*low, *high};
    for (size_t i = 0; i < compared->changes; i++) {
        const struct lds_change *change = &compared->change[i];
        if (!is_drawn(change))
            continue;
        ends[0] = fmin(ends[0], fmax(isfinite(change->low) ? change->low : ends[0], -widest));
        ends[1] = fmax(ends[1], fmin(isfinite(change->high) ? change->high : ends[1], widest));
    }
    double room = 0.04 * (ends[1] - ends[0]);
    *low = ends[0] - room;
    *high = ends[1] + room;
}

enum { WORDS_DRAWN = 6 };
static const struct {
    const char *title, *style;
} drawn_as[WORDS_DRAWN] = {
    {"changed", "pointtype 7 pointsize 1.5*mark linecolor rgb '" LDS_BLUE "'"},
    {"changed by less than matters", "pointtype 13 pointsize 1.5*mark linecolor rgb '" LDS_BLUE "'"},
    {"same", "pointtype 6 pointsize 1.4*mark linewidth 2 linecolor rgb '" LDS_BLUE "'"},
    {"cannot be told", "pointtype 2 pointsize 1.3*mark linewidth 2 linecolor rgb 'black'"},
    {"hidden by the capture chain", "pointtype 4 pointsize 1.4*mark linewidth 2 linecolor rgb 'black'"},
    {"worse", "pointtype 9 pointsize 1.8*mark linecolor rgb '" LDS_VERMILION "'"},
};

static int drawn_word(const struct lds_change *change)
{
    enum lds_change_group group = lds_change_group_of(change);
    if (change->worse && group <= LDS_CHANGES_SLIGHT)
        return 5;
    return group <= LDS_CHANGES_SAME ? (int)group : group == LDS_CHANGES_CHAIN ? 4 : 3;
}

/* One block for each word; the open end of an interval is beyond the axis. */
static void write_changes_data(FILE *out, const struct lds_compared_channel *compared)
{
    double low, high;
    range_of(compared, &low, &high);
    double beyond = 10.0 * (high - low);
    for (int word = 0; word < WORDS_DRAWN; word++) {
        fprintf(out, "%s# %s: row change/dB from/dB to/dB matters/dB key\nNaN NaN NaN NaN NaN\n", word ? "\n\n" : "",
                drawn_as[word].title);
        size_t row = drawn_of(compared);
        for (const struct lds_change *one = NULL;
             (one = lds_next_change(one, compared->change, compared->changes)) != NULL;) {
            if (!is_drawn(one))
                continue;
            if (drawn_word(one) == word) {
                bool bound = !isfinite(one->change) || one->at_least;
                fprintf(out, "%zu ", row);
                lds_plot_number(out, !bound ? one->change : isfinite(one->high) ? one->high : one->low);
                fprintf(out, " %.6g %.6g %.6g \"%s\"\n", isfinite(one->low) ? one->low : -beyond,
                        isfinite(one->high) ? one->high : beyond, one->matters, one->key);
            }
            row--;
        }
    }
}

static void draw_changes(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_compared_channel *compared = plot->compared;
    size_t rows = drawn_of(compared), row = rows;
    bool present[WORDS_DRAWN] = {false};
    double low, high;
    range_of(compared, &low, &high);
    write_changes_data(sheet->data, compared);
    fprintf(sheet->script,
            "set lmargin at screen 0.42\nset rmargin at screen 0.95\n"
            "set xrange [%.6g:%.6g]\nset yrange [0.4:%.1f]\nunset ytics\nset border 1 linecolor rgb 'black'\n"
            "set xlabel 'change, after less before, dB, with its 95 %% interval' noenhanced\n"
            "set arrow 1 from first 0, graph 0 to first 0, graph 1 nohead linewidth 1 linecolor rgb 'black' back\n",
            low, high, (double)rows + 0.6);
    for (const struct lds_change *one = NULL;
         (one = lds_next_change(one, compared->change, compared->changes)) != NULL;) {
        if (!is_drawn(one))
            continue;
        fprintf(sheet->script, "set label %zu ", row + 10);
        lds_plot_string(sheet->script, lds_named_label(one->key, NULL, one->channel_name).text, 40);
        fprintf(sheet->script, " at graph -0.01, first %zu right noenhanced%s\n", row, rows > 22 ? " font ',12'" : "");
        present[drawn_word(one)] = true;
        row--;
    }
    for (int word = 0; word < WORDS_DRAWN; word++)
        if (present[word])
            lds_plot_curve(sheet,
                           "'%s' index %d using (0):1:(-$5):($5):($1-0.36):($1+0.36) with boxxyerror fillcolor rgb "
                           "'" LDS_GREY "' fillstyle solid 0.3 noborder %s",
                           sheet->file, word, sheet->curves > 0 ? "notitle" : "title 'smallest change that matters'");
    for (int word = 0; word < WORDS_DRAWN; word++)
        if (present[word])
            lds_plot_curve(
                sheet,
                "'%s' index %d using 3:1:($4-$3):(0) with vectors heads size graph 0.005,90 filled linewidth "
                "1.5 linecolor rgb 'black' notitle, '' index %d using 2:1 with points %s title '%s'",
                sheet->file, word, word, drawn_as[word].style, drawn_as[word].title);
}

const struct lds_picture lds_picture_both_harmonics = {
    "harmonics", "Harmonics before and after", has_harmonics, draw_harmonics, LDS_SERIES_OTHER, true, true};
const struct lds_picture lds_picture_changes = {"changes",        "Changes", has_changes, draw_changes,
                                                LDS_SERIES_OTHER, true,      false};
