/* Tables of changes in the text of a comparison. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/comparison_text.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "report/words.h"

/* indent 2, label, word, digits before and after the point, interval, both values: 80 columns in all. */
enum { LABEL = 34, WORD = 6, BEFORE = 4, AFTER = 5, INTERVAL = 11, VALUES = 18 };

static const double LEAST_SHARE = 0.2;      /* an interval above this share of a value leaves it few digits to lose */
static const double FREQUENCY_KNOWN = 1e-4; /* relative: the default clock tolerance */

struct cells {
    char label[160], word[16], number[40], interval[96], values[96];
};

static bool is_scaled(const char *unit)
{
    return strcmp(unit, "V") == 0 || strcmp(unit, "W") == 0 || strcmp(unit, "V/√Hz") == 0 || strcmp(unit, "Hz") == 0;
}

/* What half of the change's interval is worth at a value, in its unit: the digits that it supports. */
static double half_width(const struct lds_change *change, double value)
{
    double half = (change->high - change->low) / 2.0;
    if (strcmp(change->unit, "Hz") == 0) /* the clock is the same on both sides, but a frequency is not known so well */
        return fmax(isfinite(half) ? half : 0.0, FREQUENCY_KNOWN * fabs(value));
    if (strcmp(change->unit, "dB") != 0 || !is_scaled(change->value_unit))
        return half;
    double per_decade = strcmp(change->value_unit, "W") == 0 ? 10.0 : 20.0;
    return fabs(value) * (pow(10.0, half / per_decade) - 1.0);
}

/* How the values of a change are written. */
struct scale {
    const char *unit;
    double reference;
    bool whole;
    double coarser; /* factor on what the interval supports */
};

static void one_value(const struct lds_change *change, const struct scale *scale, double value,
                      struct lds_reading *reading)
{
    double half = half_width(change, value) * scale->coarser;
    lds_reading_make(reading, value, value - half, value + half, scale->unit, scale->reference, scale->whole);
    if (!isfinite(value))
        snprintf(reading->value, sizeof reading->value, "< floor");
}

static void write_values(const struct lds_change *change, const struct scale *scale, char *text, size_t size)
{
    struct lds_reading before, after;
    one_value(change, scale, change->before, &before);
    one_value(change, scale, change->after, &after);
    const char *shown = isfinite(change->after) ? after.unit : before.unit, *space = shown[0] ? " " : "";
    if (isfinite(change->after))
        snprintf(text, size, "%s → %s%s%s", before.value, after.value, space, shown);
    else
        snprintf(text, size, "%s%s%s → %s", before.value, space, shown, after.value);
}

/* "41.3 → 35.2 µV", with fewer digits where it would not fit; where that would leave less than two, as it is, for a row
 * of its own. */
static void make_values(const struct lds_change *change, char *text, size_t size)
{
    const char *unit = change->value_unit;
    double larger = fmax(fabs(change->before), fabs(change->after));
    struct scale scale = {unit, is_scaled(unit) ? larger : NAN, strcmp(unit, "count") == 0 || strcmp(unit, "bit") == 0,
                          1.0};
    write_values(change, &scale, text, size);
    while (lds_words_width(text) > VALUES && scale.coarser * half_width(change, larger) < LEAST_SHARE * larger) {
        scale.coarser *= 10.0;
        write_values(change, &scale, text, size);
    }
    scale.coarser = 1.0;
    if (lds_words_width(text) > VALUES)
        write_values(change, &scale, text, size);
}

/* "12 or more" of what the word says, else "> 3.1", "< -3.1": an open interval's one end. */
static void write_bound(struct cells *cells, const struct lds_change *change)
{
    struct lds_reading reading;
    bool upper = isfinite(change->high);
    double end = upper ? change->high : change->low;
    if (change->at_least) {
        int digits = fabs(end) > 0.0 ? 1 - (int)floor(log10(fabs(end))) : 0; /* two, rounded to the safe side */
        if (digits > 1 && fabs(end) >= 0.1)
            digits = 1; /* or it would not fit */
        double step = pow(10.0, -digits);
        snprintf(cells->interval, sizeof cells->interval, "%.*f or more", digits > 0 ? digits : 0,
                 floor(fabs(end) / step) * step);
    } else {
        lds_reading_make(&reading, end, NAN, NAN, change->unit, NAN, false);
        snprintf(cells->interval, sizeof cells->interval, "%s %s", upper ? "<" : ">", reading.value);
    }
}

static void make_cells(struct cells *cells, const struct lds_change *change)
{
    struct lds_reading reading;
    lds_text_label(change->key, NULL, cells->label, sizeof cells->label);
    bool bound = !isfinite(change->change) || change->at_least;
    bool changed = change->word == LDS_LOWER || change->word == LDS_HIGHER;
    snprintf(cells->word, sizeof cells->word, "%s", changed ? lds_word_name(change->word) : "");
    cells->number[0] = cells->interval[0] = '\0';
    make_values(change, cells->values, sizeof cells->values);
    if (!change->judged)
        return;
    lds_reading_make(&reading, change->change, change->low, change->high, change->unit,
                     is_scaled(change->unit) ? 0.0 : NAN, false);
    if (bound && (isfinite(change->low) || isfinite(change->high))) {
        write_bound(cells, change);
    } else if (!bound) {
        bool decibels = strcmp(change->unit, "dB") == 0, known = isfinite(change->low) || isfinite(change->high);
        snprintf(cells->number, sizeof cells->number, "%s", known ? reading.value : "");
        snprintf(cells->interval, sizeof cells->interval, "%s%s%s", reading.interval, decibels ? "" : " ",
                 decibels ? "" : reading.unit);
    }
}

static bool fit(const struct cells *cells)
{
    size_t whole = strcspn(cells->number, ".");
    return whole <= BEFORE && strlen(cells->number) - whole < AFTER && lds_words_width(cells->interval) <= INTERVAL &&
           lds_words_width(cells->values) <= VALUES && lds_words_width(cells->label) < LABEL;
}

static void print_row(FILE *out, const struct lds_change *change)
{
    struct cells cells;
    struct lds_text_scrap scrap;
    make_cells(&cells, change);
    if (fit(&cells)) {
        fputs("  ", out);
        lds_page_left(out, cells.label, LABEL);
        lds_page_left(out, cells.word, WORD);
        lds_page_number(out, cells.number, BEFORE, AFTER);
        lds_page_left(out, cells.interval, INTERVAL);
        lds_page_right(out, cells.values, VALUES);
        fputc('\n', out);
    } else if (lds_text_scrap_open(&scrap)) {
        fprintf(scrap.out, "%s: ", cells.label);
        if (cells.number[0] || cells.interval[0])
            fprintf(scrap.out, "%s %s %s%s, ", cells.word, cells.number, cells.interval,
                    strcmp(change->unit, "dB") == 0 ? " dB" : "");
        fputs(cells.values, scrap.out);
        lds_text_scrap_print(&scrap, out, 2, 2);
    }
    const unsigned said_elsewhere = LDS_FLAG_BELOW_FLOOR | LDS_FLAG_BAND_CUT | LDS_FLAG_CHAIN_NOT_MEASURED |
                                    LDS_FLAG_CHAIN_NOT_COMPARABLE | LDS_FLAG_CHAIN_LIMITED;
    if ((change->flags & ~said_elsewhere) && lds_text_scrap_open(&scrap)) {
        lds_flags_print(scrap.out, change->flags & ~said_elsewhere, "; ");
        lds_text_scrap_print(&scrap, out, 6, 0);
    }
}

/* The tables, in the order in which they are printed. */
enum group { CHANGED, SAME, LONGER, REPEAT, CHAIN, SHOWN, GROUPS };

static enum group group_of(const struct lds_change *change)
{
    if (!change->judged)
        return SHOWN;
    switch (change->word) {
    case LDS_LOWER:
    case LDS_HIGHER:
        return CHANGED;
    case LDS_SAME:
        return SAME;
    case LDS_UNRESOLVED:
        return isfinite(change->resolve_seconds) ? LONGER : REPEAT;
    case LDS_HIDDEN_BY_CHAIN:
        return CHAIN;
    }
    return SHOWN;
}

static void print_heading(FILE *out, const char *heading, const char *number)
{
    fputc('\n', out);
    lds_page_left(out, heading, 2 + LABEL + WORD);
    lds_page_left(out, number, BEFORE + AFTER + INTERVAL);
    lds_page_right(out, "before → after", VALUES);
    fputc('\n', out);
}

/* Seconds of capture as people say them, rounded up to two digits. */
static void write_length(char *text, size_t size, double seconds)
{
    double unit = seconds < 120.0 ? 1.0 : seconds < 7200.0 ? 60.0 : 3600.0;
    double step = pow(10.0, fmax(floor(log10(seconds / unit)) - 1.0, 0.0));
    snprintf(text, size, "%.0f %s", ceil(seconds / unit / step) * step, unit > 60.0 ? "h" : unit > 1.0 ? "min" : "s");
}

static size_t print_group(FILE *out, const struct lds_change *const *change, size_t count, enum group group)
{
    size_t printed = 0;
    for (size_t i = 0; i < count; i++) {
        if (group_of(change[i]) != group)
            continue;
        print_row(out, change[i]);
        printed++;
        if (group == LONGER) {
            char length[32];
            write_length(length, sizeof length, change[i]->resolve_seconds);
            fprintf(out, "      captures of %s would settle it\n", length);
        }
    }
    if (printed > 0 && group == REPEAT)
        lds_page_paragraph(out, 6, 0,
                           printed > 1 ? "no length of capture will settle these: repeat the capture on both sides"
                                       : "no length of capture will settle it: repeat the capture on both sides");
    if (printed > 0 && group == CHAIN)
        lds_page_paragraph(out, 6, 0,
                           printed > 1 ? "the capture chain hides these: one with a lower residual would show them"
                                       : "the capture chain hides it: one with a lower residual would show it");
    return printed;
}

bool lds_text_changes(FILE *out, const struct lds_compared_channel *channel)
{
    static const struct {
        const char *heading, *number;
        enum group first, last;
    } tables[] = {{"What changed", "change, dB", CHANGED, CHANGED},
                  {"What did not", "change, dB", SAME, SAME},
                  {"What cannot be told", "change, dB", LONGER, CHAIN},
                  {"Shown, not judged", "", SHOWN, SHOWN}};
    const struct lds_change **change = lds_changes_sorted(channel->change, channel->changes);
    if (!change)
        return false;
    for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++) {
        size_t wanted = 0;
        for (size_t i = 0; i < channel->changes; i++) {
            enum group group = group_of(change[i]);
            wanted += group >= tables[t].first && group <= tables[t].last;
        }
        if (wanted == 0)
            continue;
        print_heading(out, tables[t].heading, tables[t].number);
        for (enum group group = tables[t].first; group <= tables[t].last; group++)
            print_group(out, change, channel->changes, group);
    }
    free(change);
    return true;
}
