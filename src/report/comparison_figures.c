/* Harmonics of both sides in pairs, and the changes of figures as points with their intervals. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/comparison_cells.h"
#include "report/figures.h"
#include "report/plot.h"
#include "report/series_cells.h"
#include "report/text.h"

/* ---- harmonics ---- */

static const double offset[2] = {-0.19, 0.19}, half_bar = 0.16;
static const char *const bar_style[2] = {
    "fillcolor rgb '" LDS_BLUE "' fillstyle solid 0.55 border linecolor rgb '" LDS_BLUE "'",
    "fillcolor rgb '" LDS_VERMILION "' fillstyle pattern 4 border linecolor rgb '" LDS_VERMILION "'"};

static const struct lds_channel *channel_of(const struct lds_measurement *measurement, int number)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].channel == number)
            return &measurement->channel[i];
    return NULL;
}

/* A harmonic of a side: the mean power of the captures that found it; with an interval if only one did. */
struct bar {
    double db, low_db, high_db;
    double limit_db; /* the highest of the limits if none found it */
    size_t found;
};

static struct bar bar_of(const struct lds_plot_side *side, int channel, int order)
{
    struct bar bar = {NAN, NAN, NAN, NAN, 0};
    double power = 0.0;
    for (size_t i = 0; i < side->side.captures; i++) {
        const struct lds_channel *one = channel_of(&side->side.measurement[i], channel);
        if (!one)
            continue;
        const struct lds_series *lines = lds_channel_series(one, "harmonics");
        size_t row = lds_series_row_of(lines, LDS_LINE_ORDER, order);
        if (row == lines->rows)
            continue;
        struct lds_cell level = lds_series_cell(lines, row, LDS_LINE_RELATIVE);
        if (lds_row_is_seen(lines, row) && isfinite(level.value)) {
            power += pow(10.0, level.value / 10.0);
            bar.low_db = level.low;
            bar.high_db = level.high;
            bar.found++;
        } else {
            bar.limit_db = fmax(bar.limit_db, level.high);
        }
    }
    if (bar.found > 0)
        bar.db = 10.0 * log10(power / (double)bar.found);
    if (bar.found != 1 || !isfinite(bar.low_db) || !isfinite(bar.high_db))
        bar.low_db = bar.high_db = NAN;
    return bar;
}

static int last_order(const struct lds_plot *plot)
{
    double last = 0.0;
    for (int i = 0; i < 2; i++) {
        if (!plot->side[i].channel)
            continue;
        const struct lds_series *lines = lds_channel_series(plot->side[i].channel, "harmonics");
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
            found = found || bar_of(&plot->side[i], plot->compared->channel, order).found > 0;
    return found;
}

static void write_harmonics(FILE *out, const struct lds_plot *plot, int last)
{
    int channel = plot->compared->channel;
    for (int i = 0; i < 2; i++) {
        fprintf(out, "%s# %s: place order level/dB from/dB to/dB, all re fundamental\nNaN NaN NaN NaN NaN\n",
                i ? "\n\n" : "", plot->side[i].word);
        for (int order = 2; order <= last; order++) {
            struct bar bar = bar_of(&plot->side[i], channel, order);
            if (bar.found == 0)
                continue;
            fprintf(out, "%.6g %d %.6g ", order + offset[i], order, bar.db);
            lds_plot_numbers(out, (const double[]){bar.low_db, bar.high_db}, 2);
        }
    }
    fputs("\n\n# not found above the noise: place order upper limit/dB\nNaN NaN NaN\n", out);
    for (int i = 0; i < 2; i++)
        for (int order = 2; order <= last; order++) {
            struct bar bar = bar_of(&plot->side[i], channel, order);
            if (bar.found == 0 && isfinite(bar.limit_db))
                fprintf(out, "%.6g %d %.6g\n", order + offset[i], order, bar.limit_db);
        }
}

static void draw_harmonics(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    double low = INFINITY, high = -INFINITY;
    bool limits = false, intervals = false;
    int last = last_order(plot);
    write_harmonics(sheet->data, plot, last);
    for (int i = 0; i < 2; i++)
        for (int order = 2; order <= last; order++) {
            struct bar bar = bar_of(&plot->side[i], plot->compared->channel, order);
            double level = bar.found > 0 ? bar.db : bar.limit_db;
            if (!isfinite(level))
                continue;
            low = fmin(low, level);
            high = fmax(high, isfinite(bar.high_db) ? bar.high_db : level);
            limits = limits || bar.found == 0;
            intervals = intervals || isfinite(bar.high_db);
        }
    double bottom = 10.0 * floor(low / 10.0 - 0.8);
    fprintf(sheet->script, "set xrange [1.2:%.1f]\nset yrange [%.0f:%.0f]\nset xtics %d\n" LDS_PLOT_ORDERS, last + 0.8,
            bottom, 10.0 * ceil(high / 10.0 + 0.2), last > 30 ? 5 : 1);
    for (int i = 0; i < 2; i++) {
        lds_plot_curve(sheet, "'%s' index %d using 1:3:($1-%.2f):($1+%.2f):(%.0f):3 with boxxyerror %s title ",
                       sheet->file, i, half_bar, half_bar, bottom, bar_style[i]);
        lds_plot_string(sheet->script, plot->side[i].all, 42);
    }
    for (int i = 0; intervals && i < 2; i++)
        lds_plot_curve(
            sheet,
            "'' index %d using 1:4:(0):($5-$4) with vectors heads size 0.08,90 filled linewidth 1.5 linecolor "
            "rgb 'black' %s",
            i, i == 0 ? "title '95 % interval'" : "notitle");
    if (limits)
        lds_plot_curve(sheet, "'' index 2 using 1:3" LDS_PLOT_LIMIT "'black' title 'not found, below this'");
}

/* ---- changes ---- */

static bool is_drawn(const struct lds_change *change)
{
    return change->judged && strcmp(change->unit, "dB") == 0 &&
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

/* How far the axis extends on both sides: all changes, and as much of their intervals as keeps them readable. */
static double reach_of(const struct lds_compared_channel *compared)
{
    double reach = 0.0, widest = 0.0;
    for (size_t i = 0; i < compared->changes; i++) {
        const struct lds_change *change = &compared->change[i];
        if (!is_drawn(change))
            continue;
        const double ends[] = {change->low, change->high};
        reach = fmax(reach, isfinite(change->change) ? fabs(change->change) : 0.0);
        reach = fmax(reach, change->matters);
        for (int k = 0; k < 2; k++)
            widest = fmax(widest, isfinite(ends[k]) ? fabs(ends[k]) : 0.0);
    }
    return 1.1 * fmax(reach, fmin(widest, 1.6 * reach));
}

enum { WORDS_DRAWN = 5 };
static const struct {
    const char *title, *style;
} drawn_as[WORDS_DRAWN] = {
    {"lower or higher", "pointtype 7 pointsize 1.5 linecolor rgb '" LDS_VERMILION "'"},
    {"slightly lower or higher", "pointtype 9 pointsize 1.4 linecolor rgb '" LDS_VERMILION "'"},
    {"same", "pointtype 6 pointsize 1.4 linewidth 2 linecolor rgb '" LDS_BLUE "'"},
    {"cannot be told", "pointtype 2 pointsize 1.3 linewidth 2 linecolor rgb 'black'"},
    {"hidden by the capture chain", "pointtype 8 pointsize 1.4 linewidth 2 linecolor rgb 'black'"},
};

static int drawn_word(const struct lds_change *change)
{
    enum lds_change_group group = lds_change_group_of(change);
    return group <= LDS_CHANGES_SAME ? (int)group : group == LDS_CHANGES_CHAIN ? 4 : 3;
}

/* One block for each word; the open end of an interval is beyond the axis. */
static void write_changes_data(FILE *out, const struct lds_compared_channel *compared,
                               const struct lds_change *const *change)
{
    double beyond = 10.0 * reach_of(compared);
    for (int word = 0; word < WORDS_DRAWN; word++) {
        fprintf(out, "%s# %s: row change/dB from/dB to/dB matters/dB key\nNaN NaN NaN NaN NaN\n", word ? "\n\n" : "",
                drawn_as[word].title);
        size_t row = drawn_of(compared);
        for (size_t i = 0; change && i < compared->changes; i++) {
            const struct lds_change *one = change[i];
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
    const struct lds_change **change = lds_changes_sorted(compared->change, compared->changes);
    size_t rows = drawn_of(compared), row = rows;
    bool present[WORDS_DRAWN] = {false};
    double reach = reach_of(compared);
    write_changes_data(sheet->data, compared, change);
    fprintf(sheet->script,
            "set lmargin at screen 0.42\nset rmargin at screen 0.95\n"
            "set xrange [%.6g:%.6g]\nset yrange [0.4:%.1f]\nunset ytics\nset border 1 linecolor rgb 'black'\n"
            "set xlabel 'change, after less before, dB, with its 95 %% interval' noenhanced\n"
            "set arrow 1 from first 0, graph 0 to first 0, graph 1 nohead linewidth 1 linecolor rgb 'black' back\n",
            -reach, reach, (double)rows + 0.6);
    for (size_t i = 0; change && i < compared->changes; i++) {
        char label[160];
        if (!is_drawn(change[i]))
            continue;
        lds_text_label(change[i]->key, NULL, label, sizeof label);
        fprintf(sheet->script, "set label %zu ", row + 10);
        lds_plot_string(sheet->script, label, 40);
        fprintf(sheet->script, " at graph -0.01, first %zu right noenhanced\n", row);
        present[drawn_word(change[i])] = true;
        row--;
    }
    free(change);
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
    "harmonics", "Harmonics before and after", has_harmonics, draw_harmonics, true, true};
const struct lds_picture lds_picture_changes = {"changes", "Changes", has_changes, draw_changes, true, false};
