/* One measurement as cells of tables and as sentences, the same in text and HTML. */
#ifndef LDS_REPORT_CAPTURE_CELLS_H
#define LDS_REPORT_CAPTURE_CELLS_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/measurement.h"
#include "report/reading.h"

/* ---- sentences, without line breaks ---- */

void lds_recording_write(FILE *out, const struct lds_measurement *measurement);
void lds_bench_write(FILE *out, const struct lds_measurement *measurement);

/* What was corrected and the remaining tolerances; follows lds_bench_write. */
void lds_bench_limits_write(FILE *out, const struct lds_bench *bench);
void lds_analysis_write(FILE *out, const struct lds_measurement *measurement);

/* The conditions that make a power figure meaningful (IEC 60268-3), after the words `before`, including which are not
 * known. Nothing without a power. */
void lds_power_write(FILE *out, const char *before, const struct lds_measurement *measurement,
                     const struct lds_channel *channel);

/* What the figure does not cover, and its flags. */
void lds_figure_conditions(FILE *out, const struct lds_figure *figure);

/* ---- sections ---- */

struct lds_section_heading {
    enum lds_section section;
    const char *heading;
};
enum { LDS_SECTIONS = 6 };
extern const struct lds_section_heading lds_sections[LDS_SECTIONS];

/* Whether a channel has a figure in the section, or a reason why not. */
bool lds_channel_has_section(const struct lds_channel *channel, enum lds_section section);

/* Whether a key belongs to a section; an unknown key belongs to the last. */
bool lds_key_belongs(const char *key, int section);

/* ---- cells ---- */

struct lds_figure_cells {
    struct lds_label label;
    struct lds_reading reading;
    struct lds_short second; /* the same in another common form: "-87.3 dBV", "0.003 %", "" */
};
struct lds_figure_cells lds_figure_cells(const struct lds_figure *figure);

#endif
