/* The spectrum: every line as a stem to its level, over the noise in 1 Hz. */
#include <math.h>
#include <stdlib.h>

#include "report/plot_levels.h"
#include "scarce.h"

/* Orders are named only where the previous name leaves room on a logarithmic axis. */
static bool has_room(double frequency_hz, double *named_hz)
{
    if (*named_hz > 0.0 && frequency_hz < *named_hz * 1.12)
        return false;
    *named_hz = frequency_hz;
    return true;
}

/* Each kind of line has a mark of its own, which also differs in print without colour. */
static const struct {
    const char *title, *style;
} marks[] = {
    [LDS_PLOT_TONE] = {"tone and harmonics, with their order",
                       "pointtype 7 pointsize 1.0*mark linecolor rgb '" LDS_VERMILION "'"},
    [LDS_PLOT_MAINS] = {"mains orders", "pointtype 8 pointsize 1.0*mark linewidth 1.5 linecolor rgb '" LDS_GREEN "'"},
    [LDS_PLOT_SPUR] = {"other lines", "pointtype 12 pointsize 1.5*mark linewidth 2 linecolor rgb 'black'"},
    [LDS_PLOT_SIDEBAND] = {"sidebands of the tone, from the mains",
                           "pointtype 4 pointsize 1.0*mark linewidth 1.5 linecolor rgb '" LDS_BLUE "'"},
    [LDS_PLOT_PEAK] = {"further peaks, not measured as lines",
                       "pointtype 2 pointsize 0.9*mark linewidth 1.5 linecolor rgb 'black'"},
};

/* A block of the lines of a kind; returns how many. */
static size_t write_lines(FILE *out, const struct lds_channel *channel, const struct lds_plot_lines *lines,
                          enum lds_plot_line_kind kind, double bottom)
{
    double named_hz = 0.0;
    size_t written = 0;
    fprintf(out, "\n\n# %s: frequency/Hz level floor/%s order\n", marks[kind].title,
            channel->calibrated ? "dBV" : "dBFS");
    for (size_t i = 0; i < lines->count; i++) {
        const struct lds_plot_line *line = &lines->line[i];
        if (line->kind != kind)
            continue;
        double floor = lds_plot_decibels(channel->calibrated, lds_plot_floor_at(channel, line->hz));
        fprintf(out, "%.9g %.6g %.6g ", line->hz, lds_plot_decibels(channel->calibrated, line->level),
                isfinite(floor) ? floor : bottom);
        if (line->order > 1 && has_room(line->hz, &named_hz))
            fprintf(out, "\"%d\"\n", line->order);
        else
            fputs("\"\"\n", out);
        written++;
    }
    lds_plot_block_end(out, written, "NaN NaN NaN \"\"");
    return written;
}

static void draw_lines(struct lds_plot_sheet *sheet, const struct lds_channel *channel,
                       const struct lds_plot_lines *lines)
{
    enum { KINDS = sizeof marks / sizeof marks[0] };
    struct lds_plot_reach reach;
    double bottom, top;
    size_t count[KINDS];
    lds_plot_reach_start(&reach);
    lds_plot_reach_add(&reach, channel, lines);
    lds_plot_levels_frame(sheet->script, &reach, channel->calibrated, 0.12, &bottom, &top);
    for (int k = 0; k < KINDS; k++)
        count[k] = write_lines(sheet->data, channel, lines, (enum lds_plot_line_kind)k, bottom);
    lds_plot_curve(sheet,
                   "'%s' index 0 using 1:2 with lines linecolor rgb '" LDS_BLUE
                   "' linewidth 2.5 title 'noise in 1 Hz, lines out'",
                   sheet->file);
    for (int k = 0; k < KINDS; k++)
        if (count[k] > 0)
            lds_plot_curve(sheet,
                           "'' index %d using 1:3:(0):($2-$3) with vectors nohead linewidth 1 linecolor rgb '#555555' "
                           "notitle, '' index %d using 1:2 with points %s title '%s'",
                           k + 1, k + 1, marks[k].style, marks[k].title);
    if (count[LDS_PLOT_TONE] > 0)
        lds_plot_curve(sheet, "'' index %d using 1:2:4 with labels offset character 0,0.9 noenhanced notitle",
                       LDS_PLOT_TONE + 1);
}

static void draw_spectrum(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_channel *channel = plot->side->channel;
    struct lds_plot_lines lines;
    fprintf(sheet->data, "# noise in 1 Hz, lines out: frequency/Hz level/%s\n", channel->calibrated ? "dBV" : "dBFS");
    lds_plot_floor_write(sheet->data, channel);
    if (lds_plot_lines_make(&lines, channel))
        draw_lines(sheet, channel, &lines);
    else
        lds_scarce_note();
    free(lines.line);
}

const struct lds_picture lds_picture_spectrum = {"spectrum",          "Spectrum", NULL, draw_spectrum,
                                                 LDS_SERIES_SPECTRUM, false,      true};
