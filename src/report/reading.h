/* Numbers for people: no more digits than the interval supports, and a prefix that keeps them short. */
#ifndef LDS_REPORT_READING_H
#define LDS_REPORT_READING_H

#include <stdbool.h>

#include "report/words.h"

enum { LDS_DECIMALS_MAX = 5 };

/* A value with its interval, ready to print. */
struct lds_reading {
    char value[32];    /* "12.34", "-90.40", "< 1.3" */
    char interval[72]; /* "±0.21", "+0.31/-0.28", "" when there is none */
    char unit[24];     /* "µV" */
};

/* The decimals that a half-width U supports: its own two significant digits (GUM 7.2.6 allows no more), within
 * -6..LDS_DECIMALS_MAX. */
int lds_reading_decimals(double half_width);

/* Units that take a prefix in a reading: of levels and powers, or of those and frequencies; and units of whole
 * numbers. */
bool lds_unit_is_linear(const char *unit);
bool lds_unit_is_scaled(const char *unit);
bool lds_unit_is_whole(const char *unit);

/* reference: NAN for a unit without prefixes (dB, %); 0 for a prefix from f to G that suits the value (Hz only from 100
 * kHz); else the prefix that suits the reference, so that a column keeps one unit. whole: a count. A value without an
 * interval prints with three significant digits. value NAN and high known: "< high", with high rounded up to two
 * significant digits (to a whole dB and the like for units without prefix). */
struct lds_reading lds_reading(double value, double low, double high, const char *unit, double reference, bool whole);

/* Takes zeros at the end of its decimals away. */
void lds_reading_trim(struct lds_reading *reading);

/* "0.00302 %", "< 0.00010 %": a ratio in dB as per cent, with the digits that its interval in dB supports. */
struct lds_short lds_percent_words(double value_db, double low_db, double high_db);

/* "20 Hz", "86.4 kHz": a frequency in running text, four significant digits. */
struct lds_short lds_hz(double hz);

#endif
