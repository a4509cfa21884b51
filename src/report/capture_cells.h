/* One measurement as cells of tables and as sentences, the same in every output for people. */
#ifndef LDS_REPORT_CAPTURE_CELLS_H
#define LDS_REPORT_CAPTURE_CELLS_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/measurement.h"
#include "report/reading.h"

/* ---- sentences, without line breaks ---- */

void lds_recording_write(FILE *out, const struct lds_measurement *measurement);
void lds_bench_write(FILE *out, const struct lds_measurement *measurement);

/* What was corrected and how far the rest may be off, to follow lds_bench_write. */
void lds_bench_limits_write(FILE *out, const struct lds_bench *bench);
void lds_analysis_write(FILE *out, const struct lds_measurement *measurement);

/* What makes a power figure mean something (IEC 60268-3), after the words `before`; what is not known is said. Nothing
 * without a power. */
void lds_power_write(FILE *out, const char *before, const struct lds_measurement *measurement,
                     const struct lds_channel *channel);

/* What the figure does not cover, and its flags. */
void lds_figure_conditions(FILE *out, const struct lds_figure *figure);

/* "Not found above the noise: orders 9, 11 to 20 (each < -130 dB)": those of an order of at least `from`, and the
 * highest of their limits. unit: "V" or "dBFS"; relative: the limits are dB re the fundamental. */
void lds_lines_unseen(FILE *out, const struct lds_line *line, size_t count, int from, const char *unit, bool relative);

/* "Hidden by the tone and its harmonics: order 20": mains orders that cannot be found since those stand on them. */
void lds_lines_hidden(FILE *out, const struct lds_line *line, size_t count);

/* ---- sections ---- */

struct lds_section_heading {
    enum lds_section section;
    const char *heading;
};
enum { LDS_SECTIONS = 6 };
extern const struct lds_section_heading lds_sections[LDS_SECTIONS];

/* Whether a channel has a figure of it, or a reason why not. */
bool lds_channel_has_section(const struct lds_channel *channel, enum lds_section section);

/* Whether a key belongs to a section; an unknown key belongs to the last. */
bool lds_key_belongs(const char *key, int section);

/* ---- cells ---- */

struct lds_figure_cells {
    char label[160];
    struct lds_reading reading;
    char second[64]; /* the same in the other way that people read it: "-87.3 dBV", "0.003 %", "" */
};
void lds_figure_cells_make(struct lds_figure_cells *cells, const struct lds_figure *figure);

enum { LDS_LINES_SHOWN = 16 };

struct lds_captured_line { /* a harmonic or a mains order */
    char frequency[40];
    struct lds_reading level, relative;
    char percent[64], phase[32], flags[160];
};
/* reference: the level whose prefix the column of levels takes. */
void lds_captured_line_make(struct lds_captured_line *cells, const struct lds_line *line, bool calibrated,
                            double reference);

/* Whether it was found above the noise. */
bool lds_line_is_seen(const struct lds_line *line);

/* The level of the strongest that was seen, of an order of at least `from`. */
double lds_lines_strongest(const struct lds_line *line, size_t count, int from);

/* The level that a line has at the least when it is one of the LDS_LINES_SHOWN strongest; 0: all are. */
double lds_lines_least(const struct lds_line *line, size_t count);

struct lds_captured_spur {
    char frequency[40];
    struct lds_reading level;
    char margin[32]; /* dB over the threshold */
};
void lds_captured_spur_make(struct lds_captured_spur *cells, const struct lds_spur *spur, bool calibrated,
                            double reference);

/* Those that stand out most first; the caller's to free. NULL: no memory. */
struct lds_spur *lds_spurs_sorted(const struct lds_channel *channel);
double lds_spurs_strongest(const struct lds_channel *channel);

#endif
