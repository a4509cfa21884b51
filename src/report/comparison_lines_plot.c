/* Lines before and after over both floors: what changed is marked, and the largest changes are named. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/comparison_cells.h"
#include "report/plot_levels.h"
#include "report/text.h"
#include "scarce.h"

enum { NAMED = 6 };

/* Blocks of the data after the two floors. */
enum block { LOWER, HIGHER, SAME, FURTHER, FURTHER_AFTER, BLOCKS };
static const struct {
    const char *title, *style;
} blocks[BLOCKS] = {
    [LOWER] = {"lower, from before down to the tip", "pointtype 11 pointsize 1.3*mark linecolor rgb '" LDS_BLUE "'"},
    [HIGHER] = {"higher, from before up to the tip",
                "pointtype 8 pointsize 1.6*mark linewidth 2.5 linecolor rgb '" LDS_VERMILION "'"},
    [SAME] = {"no change shown", "pointtype 7 pointsize 0.5*mark linecolor rgb '#555555'"},
    [FURTHER] = {"further peaks before, not compared",
                 "pointtype 6 pointsize 0.8*mark linewidth 1.5 linecolor rgb '#555555'"},
    [FURTHER_AFTER] = {"further peaks after", "pointtype 2 pointsize 0.8*mark linewidth 1.5 linecolor rgb '#555555'"},
};

/* A line as drawn, in decibels: from before to after, or the same twice. */
struct stem {
    enum block block;
    double hz, before, after, floor;
    const struct lds_line_change *of; /* NULL: not compared */
};

struct stems {
    size_t count;
    struct stem *stem;
};

static enum block block_of(const struct lds_line_change *line)
{
    if (!lds_line_is_called(line))
        return SAME;
    return line->appeared || line->word == LDS_HIGHER ? HIGHER : LOWER;
}

static double higher_of(const struct stem *stem)
{
    return fmax(stem->before, stem->after);
}

static void add_compared(struct stems *stems, const struct lds_plot *plot, bool volts)
{
    for (size_t i = 0; i < plot->compared->lines; i++) {
        const struct lds_line_change *line = &plot->compared->line[i];
        double before = isfinite(line->before) ? line->before : line->limit,
               after = isfinite(line->after) ? line->after : line->limit;
        if (!isfinite(lds_line_strength(line)) || !(line->frequency_hz > 0.0))
            continue;
        struct stem stem = {block_of(line),
                            line->frequency_hz,
                            lds_plot_decibels(volts, before),
                            lds_plot_decibels(volts, after),
                            NAN,
                            line};
        if (!isfinite(stem.before)) /* no limit is known either */
            stem.before = stem.after;
        if (!isfinite(stem.after))
            stem.after = stem.before;
        if (stem.block == SAME)
            stem.before = stem.after;
        stems->stem[stems->count++] = stem;
    }
}

/* Adds what the comparison does not have: the tone of a side, and peaks that are not among its lines. */
static void add_further(struct stems *stems, const struct lds_plot_lines *lines, bool volts, enum block block)
{
    for (size_t i = 0; i < lines->count; i++) {
        const struct lds_plot_line *line = &lines->line[i];
        double level = lds_plot_decibels(volts, line->level);
        if (line->kind == LDS_PLOT_SIDEBAND || line->kind == LDS_PLOT_PEAK || line->order == 1)
            stems->stem[stems->count++] =
                (struct stem){line->order == 1 ? SAME : block, line->hz, level, level, NAN, NULL};
    }
}

static void write_block(FILE *out, const struct stems *stems, enum block block, double bottom)
{
    size_t written = 0;
    fprintf(out, "\n\n# %s: frequency/Hz before after floor/dB\n", blocks[block].title);
    for (size_t i = 0; i < stems->count; i++) {
        const struct stem *stem = &stems->stem[i];
        if (stem->block != block)
            continue;
        lds_plot_numbers(
            out, (double[]){stem->hz, stem->before, stem->after, isfinite(stem->floor) ? stem->floor : bottom}, 4);
        written++;
    }
    lds_plot_block_end(out, written, "NaN NaN NaN NaN");
}

/* ---- names ---- */

/* A rectangle in the frame, as shares of its width and height. */
struct box {
    double left, right, bottom, top;
};

/* The gap between a tip and its name. */
static const double clear = 0.02;

struct frame {
    double first_hz, last_hz, bottom, top;
};

static double across(const struct frame *frame, double hz)
{
    return log(hz / frame->first_hz) / log(frame->last_hz / frame->first_hz);
}

static double up(const struct frame *frame, double db)
{
    return (db - frame->bottom) / (frame->top - frame->bottom);
}

/* Whether no other name and no line is in the way. */
static bool is_free(const struct box *box, const struct box *taken, size_t count, const struct stems *stems,
                    const struct frame *frame)
{
    if (box->left < 0.0 || box->right > 1.0 || box->top > 1.0)
        return false;
    for (size_t i = 0; i < count; i++)
        if (box->left < taken[i].right && box->right > taken[i].left && box->bottom < taken[i].top &&
            box->top > taken[i].bottom)
            return false;
    for (size_t i = 0; i < stems->count; i++) {
        double x = across(frame, stems->stem[i].hz);
        if (x > box->left && x < box->right && up(frame, higher_of(&stems->stem[i])) + clear > box->bottom)
            return false;
    }
    return true;
}

struct lds_short lds_plot_change_text(const struct lds_line_change *line)
{
    double before = isfinite(line->before) ? line->before : line->limit,
           after = isfinite(line->after) ? line->after : line->limit,
           change = isfinite(line->change_db) ? line->change_db : 20.0 * log10(after / before);
    if (!isfinite(change))
        return (struct lds_short){""};
    return lds_short("%s%.*f dB%s", change < 0.0 ? "−" : "+", fabs(change) < 9.95 ? 1 : 0, fabs(change),
                     isfinite(line->change_db) ? "" : " or more");
}

/* "2nd −13 dB", "50 Hz −25 dB or more". */
static struct lds_label name_of(const struct lds_line_change *line)
{
    const bool harmonic = line->kind->match == LDS_MATCH_ORDER && line->kind->family == LDS_FAMILY_DISTORTION;
    const struct lds_short what = harmonic                     ? lds_text_ordinal(line->order)
                                  : line->frequency_hz < 999.5 ? lds_short("%.0f Hz", line->frequency_hz)
                                                               : lds_short("%.3g kHz", line->frequency_hz / 1000.0);
    return lds_label("%s %s", what.text, lds_plot_change_text(line).text);
}

/* The change of power. */
static double weight_of(const struct stem *stem)
{
    return fabs(pow(10.0, stem->after / 10.0) - pow(10.0, stem->before / 10.0));
}

static int by_weight(const void *one, const void *other)
{
    double a = weight_of(one), b = weight_of(other);
    return a > b ? -1 : a < b;
}

/* Names the largest changes, where there is room beside or above their tips. tone: the space that the name of the tone
 * takes. */
static void write_names(FILE *out, struct stems *stems, const struct frame *frame, struct box tone)
{
    static const struct {
        const char *word;
        double left; /* share of the name that is left of its line */
    } sides[] = {{"center", 0.5}, {"left", 0.0}, {"right", 1.0}};
    struct box taken[NAMED + 1] = {tone};
    size_t count = 1;
    qsort(stems->stem, stems->count, sizeof *stems->stem, by_weight);
    for (size_t i = 0; i < stems->count && count <= NAMED; i++) {
        const struct stem *stem = &stems->stem[i];
        if (!stem->of || (stem->block != LOWER && stem->block != HIGHER))
            continue;
        const struct lds_label name = name_of(stem->of);
        double x = across(frame, stem->hz), y = up(frame, higher_of(stem)) + 1.2 * clear,
               width = 0.0125 * (double)strlen(name.text);
        for (size_t s = 0; s < sizeof sides / sizeof sides[0]; s++) {
            double left = x - sides[s].left * width - 0.002;
            struct box box = {left, left + width + 0.004, y, y + 0.05};
            /* A line may pass below its own name. */
            if (!is_free(&box, taken, count, stems, frame))
                continue;
            fprintf(out, "set label %zu '%s' at first %.9g, graph %.4f %s noenhanced front\n", count + 20, name.text,
                    stem->hz, y + 0.02, sides[s].word);
            taken[count++] = box;
            break;
        }
    }
}

/* ---- the picture ---- */

static void add_curves(struct lds_plot_sheet *sheet, const struct stems *stems)
{
    size_t count[BLOCKS] = {0};
    for (size_t i = 0; i < stems->count; i++)
        count[stems->stem[i].block]++;
    for (int b = SAME; b < BLOCKS; b++)
        if (count[b] > 0)
            lds_plot_curve(sheet,
                           "'%s' index %d using 1:4:(0):($3-$4) with vectors nohead linewidth 1 linecolor rgb "
                           "'#b0b0b0' notitle, '' index %d using 1:3 with points %s title '%s'",
                           sheet->file, b + 2, b + 2, blocks[b].style, blocks[b].title);
    for (int b = LOWER; b <= HIGHER; b++)
        if (count[b] > 0)
            lds_plot_curve(sheet,
                           "'%s' index %d using 1:4:(0):(($2<$3?$2:$3)-$4) with vectors nohead linewidth 1 linecolor "
                           "rgb '#b0b0b0' notitle, '' index %d using 1:2:(0):($3-$2) with vectors nohead linewidth 2.5 "
                           "linecolor rgb '%s' notitle, '' index %d using 1:3 with points %s title '%s'",
                           sheet->file, b + 2, b + 2, b == LOWER ? LDS_BLUE : LDS_VERMILION, b + 2, blocks[b].style,
                           blocks[b].title);
}

static void draw_stems(struct lds_plot_sheet *sheet, const struct lds_plot *plot, const struct lds_plot_lines *lines,
                       struct stems *stems)
{
    bool volts = plot->side[0].channel->calibrated;
    struct lds_plot_reach reach;
    double bottom, top;
    lds_plot_reach_start(&reach);
    for (int i = 0; i < 2; i++)
        lds_plot_reach_add(&reach, plot->side[i].channel, &lines[i]);
    add_compared(stems, plot, volts);
    for (size_t i = 0; i < stems->count; i++)
        reach.high = fmax(reach.high, higher_of(&stems->stem[i]));
    for (int i = 0; i < 2; i++)
        add_further(stems, &lines[i], volts, i == 0 ? FURTHER : FURTHER_AFTER);
    for (size_t i = 0; i < stems->count; i++) {
        struct stem *stem = &stems->stem[i];
        stem->floor = lds_plot_decibels(volts, lds_plot_floor_at(plot->side[1].channel, stem->hz));
    }
    lds_plot_levels_frame(sheet->script, &reach, volts, 0.2, &bottom, &top);
    for (int b = 0; b < BLOCKS; b++)
        write_block(sheet->data, stems, (enum block)b, bottom);
    const struct frame frame = {fmax(reach.first_hz, 5.0), fmax(reach.last_hz, 20.0), bottom, top};
    double tone = isfinite(reach.tone_hz) ? across(&frame, reach.tone_hz) : -1.0;
    write_names(sheet->script, stems, &frame, (struct box){tone - 0.3, tone + 0.02, 0.93, 1.0});
    lds_plot_side_curves(sheet, plot);
    add_curves(sheet, stems);
}

void lds_plot_lines_compared(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    struct lds_plot_lines lines[2] = {{0, NULL}, {0, NULL}};
    struct stems stems = {0, NULL};
    bool enough =
        lds_plot_lines_make(&lines[0], plot->side[0].channel) && lds_plot_lines_make(&lines[1], plot->side[1].channel);
    stems.stem = calloc(plot->compared->lines + lines[0].count + lines[1].count + 1, sizeof *stems.stem);
    if (enough && stems.stem)
        draw_stems(sheet, plot, lines, &stems);
    else
        lds_scarce_note();
    free(stems.stem);
    free(lines[0].line);
    free(lines[1].line);
}
