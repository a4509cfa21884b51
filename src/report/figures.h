/* Goes through the record: figures in the order of the table of keys, and what reports share. */
#ifndef LDS_REPORT_FIGURES_H
#define LDS_REPORT_FIGURES_H

#include <locale.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "loadside/compare.h"
#include "loadside/measurement.h"

/* Each walks a list in the order of the table of keys: elements of one row in the order in which they were added,
 * unknown keys last. Returns the element after `last`, the first one if that is NULL, and NULL at the end. */
const struct lds_figure *lds_next_figure(const struct lds_figure *last, const struct lds_figure *figure, size_t count);
const struct lds_absent *lds_next_absent(const struct lds_absent *last, const struct lds_absent *absent, size_t count);
const struct lds_change *lds_next_change(const struct lds_change *last, const struct lds_change *change, size_t count);

/* The same order in an array that the caller frees. NULL: no memory, which is noted. */
const struct lds_unit_row **lds_unit_rows_sorted(const struct lds_unit_row *row, size_t count);

/* The label of a figure or series; NULL: no table has such a key. Its section; the last one if no table has it. */
const char *lds_label_of(const char *key);
enum lds_section lds_section_of(const char *key);

/* Whether levels of its pairs are in volts, as for its channels. */
bool lds_pairs_calibrated(const struct lds_measurement *measurement);

/* dBFS of a full-scale rms value, AES17; NAN and -INFINITY stay. */
double lds_dbfs(double linear);

/* Percent of a ratio in dB. */
double lds_percent(double ratio_db);

/* The words of the flags. */
void lds_flags_print(FILE *out, unsigned flags, const char *between);

/* Numbers in every output have a point, whatever the user's locale: between these two calls printf works as in the C
 * locale. */
struct lds_point_locale {
    locale_t ours, before;
};
bool lds_point_locale_enter(struct lds_point_locale *locale);
void lds_point_locale_leave(struct lds_point_locale *locale);

#endif
