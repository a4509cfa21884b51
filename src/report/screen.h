/* What a channel shows at a glance, on one screen: rows of figures, lists of lines, notes at the foot. */
#ifndef LDS_REPORT_SCREEN_H
#define LDS_REPORT_SCREEN_H

#include <stdio.h>

#include "loadside/measurement.h"
#include "loadside/series.h"
#include "report/footnotes.h"
#include "report/reading.h"

struct lds_screen {
    FILE *out;
    struct lds_footnotes notes;
    bool on_mains; /* the tone of the channel stands on an order of the mains */
    bool keys;     /* the key of a figure stands beside its label */
    const struct lds_measurement *measurement;
};

/* One figure: label, value with its unit, dB, interval, the numbers of its notes. channels: the two of a pair, where
 * the label is to say them; else NULL. */
void lds_screen_row(struct lds_screen *screen, const struct lds_figure *figure, const int *channels);

/* The strongest lines of a series, several on a text line. */
void lds_screen_lines(struct lds_screen *screen, const struct lds_series *series, bool calibrated);

/* The notes that flags call for, appended to marks (LDS_MARKS_SIZE). band_hz: what was covered; NULL: no band. */
void lds_screen_marks(struct lds_screen *screen, unsigned flags, const double *band_hz, char *marks);

/* "8.944" and "V": four significant digits at the most, fewer where the interval supports no more. */
struct lds_reading lds_screen_number(double value, double low, double high, const char *unit);

/* "-83.27 dB" as the value, and "±0.05": to 0.01 dB at the finest. */
struct lds_reading lds_screen_decibels(double value, double low, double high, const char *unit);

/* "0.00687" or "< 0.023": a ratio in per cent, without the sign. */
struct lds_short lds_screen_percent(double value_db, double low_db, double high_db);

enum { LDS_SCREEN_LABEL = 36 }; /* columns of labels, after an indent of two */

#endif
