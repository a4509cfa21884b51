/* Lines at their level over a floor of one bandwidth: the parts of the pictures of spectra. */
#ifndef LDS_REPORT_PLOT_LEVELS_H
#define LDS_REPORT_PLOT_LEVELS_H

#include "report/plot.h"

enum lds_plot_line_kind { LDS_PLOT_TONE, LDS_PLOT_MAINS, LDS_PLOT_SPUR, LDS_PLOT_SIDEBAND, LDS_PLOT_PEAK };

struct lds_plot_line {
    enum lds_plot_line_kind kind;
    int order; /* of the tone and its harmonics; else 0 */
    double hz, level;
};

struct lds_plot_lines {
    size_t count;
    struct lds_plot_line *line; /* to be freed */
};

/* All lines of a channel: those found, and peaks of the spectrum that stand 20 dB over the floor and are none of them.
 * false: no memory. */
bool lds_plot_lines_make(struct lds_plot_lines *lines, const struct lds_channel *channel);

/* The noise in 1 Hz without lines as a block, frequency and decibels. */
void lds_plot_floor_write(FILE *out, const struct lds_channel *channel);

/* The noise in 1 Hz at a frequency, which beyond its ends is that of the end; NAN: it is not known. */
double lds_plot_floor_at(const struct lds_channel *channel, double hz);

/* What the frame must hold, in decibels; the tone is separate, since it may be far above everything else. */
struct lds_plot_reach {
    double first_hz, last_hz, low, high, tone_hz, tone;
};
void lds_plot_reach_start(struct lds_plot_reach *reach);
void lds_plot_reach_add(struct lds_plot_reach *reach, const struct lds_channel *channel,
                        const struct lds_plot_lines *lines);

/* Writes the axes. A tone that would leave a third of the frame empty is cut off, with its level beside it. room: above
 * the highest line, as a share of the frame. *bottom: the lower end of the axis. */
void lds_plot_levels_frame(FILE *out, const struct lds_plot_reach *reach, bool volts, double room, double *bottom,
                           double *top);

/* Blocks and curves of all lines before and after, behind the blocks of the two floors; writes the axes too. */
void lds_plot_lines_compared(struct lds_plot_sheet *sheet, const struct lds_plot *plot);

/* "−13 dB", "+9.5 dB or more"; "" when it has no size. */
struct lds_short lds_plot_change_text(const struct lds_line_change *line);

#endif
