/* The scatter between captures from re-cabling and warming up: its source, and how much of it applies to a figure. */
#ifndef LDS_COMPARE_SCATTER_H
#define LDS_COMPARE_SCATTER_H

#include "compare/view.h"

enum { LDS_REPEATS = 3 }; /* from so many captures a side the scatter is measured */

struct lds_scatter {
    enum lds_repeatability source;
    double family_db[LDS_FAMILIES];   /* standard uncertainty of one capture, dB; NAN: from repeats */
    double declared_db[LDS_FAMILIES]; /* the same where repeats are too few: stated, bench or default */
    enum lds_repeatability declared_by[LDS_FAMILIES];
};

/* repeats: three or more captures on each side. */
void lds_scatter_find(const struct lds_compare_options *options, const struct lds_captures *captures, bool repeats,
                      struct lds_scatter *scatter);

/* Are there enough captures on each side to measure the scatter of a family's figures? */
bool lds_repeats_tell(const struct lds_scatter *scatter, enum lds_family family, const int count[2]);

/* Standard uncertainty from one capture to the next of the chosen figures, on their scale (dB, or V for DC); 0 for keys
 * that are only shown. A figure with several kinds of power (noise with hum, THD+N) gets each kind's scatter by its
 * share. */
double lds_scatter_of(const struct lds_scatter *scatter, const struct lds_chosen *chosen);

/* The same of the values of a series, where repeats are too few: declared in dB, so 0 where they are not compared in
 * dB. */
double lds_scatter_of_series(const struct lds_scatter *scatter, const struct lds_series_kind *kind);

/* Smallest change that matters in a family, dB; NAN where none does. */
double lds_matters_of_family(const struct lds_compare_options *options, enum lds_family family);
/* Smallest change of a figure that matters, on its scale. */
double lds_matters_of(const struct lds_compare_options *options, const struct lds_figure *figure);

#endif
