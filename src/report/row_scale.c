#include "report/row_scale.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/reading.h"
#include "safe_text.h"

static double own_half(const struct lds_unit_row *row, size_t unit)
{
    double half = (row->high[unit] - row->low[unit]) / 2.0;
    return half > 0.0 ? half : (double)NAN;
}

/* Half of the interval that determines the digits of a column: for a unit its own; for the median the widest of any
 * unit; for the spread the spread itself, unless the intervals are far wider; if none is known, the spread. */
static double half_of(const struct lds_unit_row *row, int column)
{
    double half = NAN;
    for (size_t i = 0; column < 0 && i < row->count; i++)
        half = fmax(half, own_half(row, i)); /* fmax ignores NAN */
    if (column == LDS_ROW_SPREAD)
        half = fmax(row->spread, half / 10.0);
    else if (column >= 0)
        half = own_half(row, (size_t)column);
    return isnan(half) && row->spread > 0.0 ? row->spread : isnan(half) ? 0.0 : half;
}

struct lds_short lds_row_scale_words(const struct lds_row_scale *scale, const struct lds_unit_row *row, int column)
{
    double value = column == LDS_ROW_MIDDLE ? row->median : column == LDS_ROW_SPREAD ? row->spread : row->value[column];
    double high = column < 0 ? (double)NAN : row->high[column], half = fmax(half_of(row, column), scale->coarsest);
    bool limit = !isfinite(value) && isfinite(high), known = isfinite(value) || limit;
    struct lds_reading reading =
        lds_reading(value, value - half, limit ? high : value + half, row->unit, scale->reference, scale->whole);
    bool other = known && !isnan(scale->reference) && strcmp(reading.unit, scale->unit) != 0;
    return lds_short("%s%s%s", known ? reading.value : "-", other ? " " : "", other ? reading.unit : "");
}

static bool fits(const struct lds_unit_row *row, const struct lds_row_scale *scale, int columns)
{
    bool fit = true;
    for (int i = LDS_ROW_MIDDLE; i < (int)row->count; i++)
        fit = fit && lds_words_width(lds_row_scale_words(scale, row, i).text) < columns;
    return fit;
}

static double largest_of(const struct lds_unit_row *row)
{
    double largest = 0.0;
    for (size_t i = 0; i < row->count; i++)
        largest = fmax(largest, isfinite(row->value[i]) ? fabs(row->value[i]) : 0.0);
    for (size_t i = 0; largest == 0.0 && i < row->count; i++) /* only upper limits */
        largest = isfinite(row->high[i]) ? fabs(row->high[i]) : 0.0;
    return largest;
}

void lds_row_scale_make(struct lds_row_scale *scale, const struct lds_unit_row *row, int columns)
{
    double largest = largest_of(row);
    scale->reference = lds_unit_is_scaled(row->unit) ? largest : (double)NAN;
    scale->whole = lds_unit_is_whole(row->unit);
    snprintf(scale->unit, sizeof scale->unit, "%s",
             strcmp(row->unit, "count") == 0
                 ? ""
                 : lds_reading(largest, NAN, NAN, row->unit, scale->reference, scale->whole).unit);
    scale->coarsest = 0.0;
    for (int attempt = 0; attempt < 8 && !fits(row, scale, columns); attempt++)
        scale->coarsest = scale->coarsest > 0.0 ? 10.0 * scale->coarsest : 1e-6 * largest;
}
