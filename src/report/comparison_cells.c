/* One change as cells of a table, the same in text and HTML. */
#include "report/comparison_cells.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/reading.h"
#include "report/text.h"
#include "safe_text.h"

static const double LEAST_SHARE = 0.2; /* with an interval above this share of a value, no more digits are dropped */
static const double FREQUENCY_KNOWN = 1e-4; /* relative: the default clock tolerance */

/* Half of the change's interval at a value, in its unit: decides how many digits to show. */
static double half_width(const struct lds_change *change, double value)
{
    double half = (change->high - change->low) / 2.0;
    if (strcmp(change->unit, "Hz") == 0) /* both sides have the same clock, but a frequency is not known that well */
        return fmax(isfinite(half) ? half : 0.0, FREQUENCY_KNOWN * fabs(value));
    const char *unit = change->value_unit;
    bool known = lds_unit_is_scaled(unit) || strcmp(unit, "%") == 0 || strcmp(unit, "s") == 0;
    if (strcmp(change->unit, "dB") != 0 || !known)
        return half;
    double per_decade = strcmp(unit, "W") == 0 ? 10.0 : 20.0;
    return fabs(value) * (pow(10.0, half / per_decade) - 1.0);
}

/* How the values of a change are written. */
struct scale {
    const char *unit;
    double reference;
    bool whole;
    double coarser; /* factor on the half-width */
};

static struct lds_reading one_value(const struct lds_change *change, const struct scale *scale, double value)
{
    double half = half_width(change, value) * scale->coarser;
    struct lds_reading reading =
        lds_reading(value, value - half, value + half, scale->unit, scale->reference, scale->whole);
    if (!isfinite(value))
        snprintf(reading.value, sizeof reading.value, "< floor");
    return reading;
}

static void write_values(const struct lds_change *change, const struct scale *scale, struct lds_change_cells *cells)
{
    const struct lds_reading before = one_value(change, scale, change->before),
                             after = one_value(change, scale, change->after);
    const char *shown = isfinite(change->after) ? after.unit : before.unit, *space = shown[0] ? " " : "";
    snprintf(cells->before, sizeof cells->before, "%s", before.value);
    snprintf(cells->after, sizeof cells->after, "%s", after.value);
    snprintf(cells->unit, sizeof cells->unit, "%s", shown);
    if (isfinite(change->after))
        snprintf(cells->values, sizeof cells->values, "%s → %s%s%s", before.value, after.value, space, shown);
    else
        snprintf(cells->values, sizeof cells->values, "%s%s%s → %s", before.value, space, shown, after.value);
}

/* "41.3 → 35.2 µV", with fewer digits if that would be too wide. If fewer than two would be left, all digits stay, and
 * the values get a row of their own. */
static void make_values(const struct lds_change *change, double larger, struct lds_change_cells *cells)
{
    const char *unit = change->value_unit;
    struct scale scale = {unit, lds_unit_is_scaled(unit) ? larger : NAN, lds_unit_is_whole(unit), 1.0};
    write_values(change, &scale, cells);
    while (lds_words_width(cells->values) > LDS_CHANGE_VALUES &&
           scale.coarser * half_width(change, larger) < LEAST_SHARE * larger) {
        scale.coarser *= 10.0;
        write_values(change, &scale, cells);
    }
    scale.coarser = 1.0;
    if (lds_words_width(cells->values) > LDS_CHANGE_VALUES)
        write_values(change, &scale, cells);
}

/* "12 or more" with the word, else "> 3.1", "< -3.1": the known end of an open interval. */
static void write_bound(struct lds_change_cells *cells, const struct lds_change *change)
{
    bool upper = isfinite(change->high);
    double end = upper ? change->high : change->low;
    if (change->at_least) {
        int digits = fabs(end) > 0.0 ? 1 - (int)floor(log10(fabs(end))) : 0; /* two digits, rounded to the safe side */
        if (digits > 1 && fabs(end) >= 0.1)
            digits = 1; /* or it would not fit */
        double step = pow(10.0, -digits);
        snprintf(cells->interval, sizeof cells->interval, "%.*f or more", digits > 0 ? digits : 0,
                 floor(fabs(end) / step) * step);
    } else {
        snprintf(cells->interval, sizeof cells->interval, "%s %s", upper ? "<" : ">",
                 lds_reading(end, NAN, NAN, change->unit, NAN, false).value);
    }
}

static const char *direction_of(enum lds_word word)
{
    if (word == LDS_LOWER || word == LDS_SLIGHTLY_LOWER)
        return "lower";
    return word == LDS_HIGHER || word == LDS_SLIGHTLY_HIGHER ? "higher" : "";
}

const char *lds_word_short(enum lds_word word)
{
    switch (word) {
    case LDS_LOWER:
        return "lower";
    case LDS_HIGHER:
        return "higher";
    case LDS_SLIGHTLY_LOWER:
    case LDS_SLIGHTLY_HIGHER:
        return "slightly";
    case LDS_SAME:
        return "same";
    case LDS_UNRESOLVED:
        return "unclear";
    case LDS_HIDDEN_BY_CHAIN:
        return "hidden";
    }
    return "";
}

struct lds_change_cells lds_change_cells(const struct lds_change *change)
{
    return lds_change_cells_scaled(change, fmax(fabs(change->before), fabs(change->after)));
}

struct lds_change_cells lds_change_cells_scaled(const struct lds_change *change, double largest)
{
    struct lds_change_cells cells = {.label = lds_named_label(change->key, NULL, change->channel_name),
                                     .word = direction_of(change->word)};
    bool bound = !isfinite(change->change) || change->at_least;
    make_values(change, largest, &cells);
    if (!change->judged)
        return cells;
    const struct lds_reading reading = lds_reading(change->change, change->low, change->high, change->unit,
                                                   lds_unit_is_scaled(change->unit) ? 0.0 : NAN, false);
    if (bound && (isfinite(change->low) || isfinite(change->high))) {
        write_bound(&cells, change);
    } else if (!bound) {
        bool decibels = strcmp(change->unit, "dB") == 0, known = isfinite(change->low) || isfinite(change->high);
        snprintf(cells.number, sizeof cells.number, "%s", known ? reading.value : "");
        snprintf(cells.interval, sizeof cells.interval, "%s%s%s", reading.interval, decibels ? "" : " ",
                 decibels ? "" : reading.unit);
    }
    return cells;
}

enum lds_change_group lds_change_group_of(const struct lds_change *change)
{
    if (!change->judged)
        return LDS_CHANGES_SHOWN;
    switch (change->word) {
    case LDS_LOWER:
    case LDS_HIGHER:
        return LDS_CHANGES_CHANGED;
    case LDS_SLIGHTLY_LOWER:
    case LDS_SLIGHTLY_HIGHER:
        return LDS_CHANGES_SLIGHT;
    case LDS_SAME:
        return LDS_CHANGES_SAME;
    case LDS_UNRESOLVED:
        if (isfinite(change->resolve_seconds))
            return LDS_CHANGES_LONGER;
        if (change->flags & LDS_FLAG_NEAR_LINE)
            return LDS_CHANGES_HUM;
        return change->repeated ? LDS_CHANGES_SCATTER : LDS_CHANGES_REPEAT;
    case LDS_HIDDEN_BY_CHAIN:
        return LDS_CHANGES_CHAIN;
    }
    return LDS_CHANGES_SHOWN;
}

size_t lds_changes_count(const struct lds_compared_channel *channel, enum lds_change_group first,
                         enum lds_change_group last)
{
    size_t count = 0;
    for (size_t i = 0; i < channel->changes; i++) {
        enum lds_change_group group = lds_change_group_of(&channel->change[i]);
        count += group >= first && group <= last;
    }
    return count;
}

unsigned lds_change_flags(const struct lds_change *change)
{
    return change->flags & ~(unsigned)(LDS_FLAG_BELOW_FLOOR | LDS_FLAG_BAND_CUT | LDS_FLAG_CHAIN_NOT_MEASURED |
                                       LDS_FLAG_CHAIN_NOT_COMPARABLE | LDS_FLAG_CHAIN_LIMITED);
}

const struct lds_change_table lds_change_tables[LDS_CHANGE_TABLES] = {
    {"What changed", "change, dB", LDS_CHANGES_CHANGED, LDS_CHANGES_CHANGED},
    {"Changed, by less than matters", "change, dB", LDS_CHANGES_SLIGHT, LDS_CHANGES_SLIGHT},
    {"What did not", "change, dB", LDS_CHANGES_SAME, LDS_CHANGES_SAME},
    {"What cannot be told", "change, dB", LDS_CHANGES_LONGER, LDS_CHANGES_CHAIN},
    {"Shown, not judged", "", LDS_CHANGES_SHOWN, LDS_CHANGES_SHOWN},
};

/* Seconds of capture in a readable form, rounded up to two digits. */
static struct lds_short length_words(double seconds)
{
    double unit = seconds < 120.0 ? 1.0 : seconds < 7200.0 ? 60.0 : 3600.0;
    double step = pow(10.0, fmax(floor(log10(seconds / unit)) - 1.0, 0.0));
    return lds_short("%.0f %s", ceil(seconds / unit / step) * step, unit > 60.0 ? "h" : unit > 1.0 ? "min" : "s");
}

struct lds_short lds_change_advice(const struct lds_change *change)
{
    return lds_change_group_of(change) == LDS_CHANGES_LONGER
               ? lds_short("captures of %s would settle it", length_words(change->resolve_seconds).text)
               : (struct lds_short){""};
}

const char *lds_change_group_advice(enum lds_change_group group, size_t rows)
{
    if (rows > 0 && group == LDS_CHANGES_REPEAT)
        return rows > 1 ? "no length of capture will settle these: repeat the capture on both sides"
                        : "no length of capture will settle it: repeat the capture on both sides";
    if (rows > 0 && group == LDS_CHANGES_SCATTER)
        return "the repeats scatter too much: more of them, or steadier ones, would tell";
    if (rows > 0 && group == LDS_CHANGES_HUM)
        return rows > 1 ? "these stand on orders of the mains: less hum would show them"
                        : "it stands on an order of the mains: less hum would show it";
    if (rows > 0 && group == LDS_CHANGES_CHAIN)
        return rows > 1 ? "the capture chain hides these: one with a lower residual would show them"
                        : "the capture chain hides it: one with a lower residual would show it";
    return "";
}
