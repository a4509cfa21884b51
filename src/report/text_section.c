/* One section of the text report: a row per figure, then why others are absent. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "record/record.h"
#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "safe_text.h"

/* indent 2, label, digits before and after the point, interval, unit and second reading: 80 columns in total. */
enum { LABEL = 34, BEFORE = 5, AFTER = 6, INTERVAL = 14, REST = 18 };

void lds_text_scrap_say(struct lds_scrap *scrap, const struct lds_listener *listener)
{
    if (lds_scrap_close(scrap) && scrap->size > 0)
        listener->hear(listener->context, scrap->text);
    free(scrap->text);
}

void lds_text_scrap_print(struct lds_scrap *scrap, FILE *out, int indent, int hanging)
{
    if (lds_scrap_close(scrap) && scrap->size > 0)
        lds_page_paragraph(out, indent, hanging, "%s", scrap->text);
    free(scrap->text);
}

/* "20k" as keys write it becomes "20 kHz"; without its unit where the other edge has the same: "20 to 100 kHz". */
static void spell_edge(FILE *out, const char *edge, const char *other)
{
    size_t digits = strspn(edge, "0123456789.");
    fprintf(out, "%.*s", (int)digits, edge);
    if (strcmp(edge + digits, other + strspn(other, "0123456789.")) != 0 || edge == other)
        fprintf(out, " %sHz", edge + digits);
}

static void spell_asked(FILE *out, const double asked_hz[2])
{
    char low[32], high[32];
    lds_edge_name(asked_hz[0], low, sizeof low);
    lds_edge_name(asked_hz[1], high, sizeof high);
    fputs(asked_hz[0] < asked_hz[1] ? ", " : " at ", out);
    if (asked_hz[0] < asked_hz[1]) {
        spell_edge(out, low, high);
        fputs(" to ", out);
    }
    spell_edge(out, high, high);
}

static void spell_band(FILE *out, const double band_hz[2])
{
    struct lds_short low = lds_hz(band_hz[0]);
    const struct lds_short high = lds_hz(band_hz[1]);
    char *unit = strchr(low.text, ' ');
    if (unit && strcmp(unit, strchr(high.text, ' ')) == 0)
        *unit = '\0';
    fprintf(out, "%s to %s", low.text, high.text);
}

struct lds_label lds_text_label(const char *key, const struct lds_figure *figure)
{
    static const char *const nameless[2] = {NULL, NULL};
    return lds_named_label(key, figure, nameless);
}

struct lds_label lds_named_label(const char *key, const struct lds_figure *figure, const char *const channel_name[2])
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return (struct lds_label){""};
    FILE *out = scrap.out;
    const struct lds_figure_name name = lds_key_read(key);
    const char *stem = lds_label_of(key);
    fputs(stem ? stem : key, out);
    if (name.channels[0] > 0 && channel_name[0] && channel_name[1])
        fprintf(out, name.row->directed ? ", %s to %s" : ", %s and %s", channel_name[0], channel_name[1]);
    else if (name.channels[0] > 0)
        fprintf(out, name.row->directed ? ", channel %d to %d" : ", channels %d and %d", name.channels[0],
                name.channels[1]);
    if (figure && figure->orders[1] > 0 && !(name.asked_hz[0] == name.asked_hz[1]))
        fprintf(out, ", orders %d to %d", figure->orders[0], figure->orders[1]);
    else if (!isnan(name.asked_hz[0]))
        spell_asked(out, name.asked_hz);
    else if (figure && isfinite(figure->band_hz[0]) && isfinite(figure->band_hz[1]) && name.row->stem[0] != '\0' &&
             name.row->section != LDS_LEVEL) {
        fputs(", ", out);
        spell_band(out, figure->band_hz);
    }
    const struct lds_label label = lds_label("%s", lds_scrap_close(&scrap) ? scrap.text : "");
    free(scrap.text);
    return label;
}

/* Flags that have words of their own elsewhere, or that are given once for the whole channel. */
static const unsigned said_elsewhere =
    LDS_FLAG_BELOW_FLOOR | LDS_FLAG_BAND_CUT | LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE;

void lds_figure_conditions(FILE *out, const struct lds_figure *figure)
{
    const char *between = "";
    if (figure->flags & LDS_FLAG_BAND_CUT) {
        fputs("band cut: covers ", out);
        if (isfinite(figure->band_hz[0]) && isfinite(figure->band_hz[1]))
            spell_band(out, figure->band_hz);
        else
            fputs("less than asked", out);
        between = "; ";
    }
    if (figure->removed_hz > 0.0) {
        fprintf(out, "%slines over %s of it taken out", between, lds_hz(figure->removed_hz).text);
        between = "; ";
    }
    if (figure->conditions[0]) {
        fprintf(out, "%s%s", between, figure->conditions);
        between = "; ";
    }
    if (figure->others > 0) {
        fprintf(out, "%smade from %zu captures", between, figure->others + 1);
        between = "; ";
    }
    if (figure->flags & ~said_elsewhere)
        fputs(between, out);
    lds_flags_print(out, figure->flags & ~said_elsewhere, "; ");
}

static void print_conditions(FILE *out, const struct lds_figure *figure)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_figure_conditions(scrap.out, figure);
    lds_text_scrap_print(&scrap, out, 6, 0);
}

static double decibels(double amplitude)
{
    return 20.0 * log10(amplitude);
}

static struct lds_short in_decibels(const struct lds_figure *figure, double reference, const char *unit)
{
    return lds_short("%s %s",
                     lds_reading(decibels(figure->value / reference), decibels(figure->low / reference),
                                 decibels(figure->high / reference), unit, NAN, false)
                         .value,
                     unit);
}

/* The same figure in another common form. */
static struct lds_short second_reading(const struct lds_figure *figure, enum lds_print print)
{
    const bool known = isfinite(figure->value) || isfinite(figure->high);
    if (known && print == LDS_PRINT_RATIO)
        return lds_percent_words(figure->value, figure->low, figure->high);
    if (known && print == LDS_PRINT_VOLTS && strcmp(figure->unit, "V") == 0)
        return in_decibels(figure, 1.0, "dBV");
    if (known && print == LDS_PRINT_PERCENT)
        return in_decibels(figure, 100.0, "dB");
    return (struct lds_short){""};
}

struct lds_figure_cells lds_figure_cells(const struct lds_figure *figure)
{
    const enum lds_print print = figure->name.row->print;
    const char *unit = figure->unit;
    bool whole = lds_unit_is_whole(unit) ||
                 (unit[0] == '\0' && !(figure->high > figure->low) && figure->value == floor(figure->value));
    struct lds_figure_cells cells = {.label = lds_text_label(figure->key, figure),
                                     .second = second_reading(figure, print)};
    cells.reading =
        lds_reading(figure->value, figure->low, figure->high, unit, lds_unit_is_scaled(unit) ? 0.0 : NAN, whole);
    if (print == LDS_PRINT_DENSITY && strcmp(unit, "dBFS") == 0)
        snprintf(cells.reading.unit, sizeof cells.reading.unit, "dBFS in 1 Hz");
    if (strcmp(unit, "count") == 0)
        cells.reading.unit[0] = '\0';
    return cells;
}

static void print_cells(FILE *out, const struct lds_figure_cells *cells)
{
    const struct lds_reading *reading = &cells->reading;
    const char *label = cells->label.text;
    int whole = (int)strcspn(reading->value, "."), wider = whole > BEFORE ? whole - BEFORE : 0;
    int width = lds_words_width(label);
    if (width > LABEL || width + 1 + whole > LABEL + BEFORE) {
        lds_page_paragraph(out, 2, 2, "%s", label);
        label = "";
    }
    fputs("  ", out);
    lds_page_left(out, label, LABEL - wider);
    bool more = reading->interval[0] || reading->unit[0];
    lds_page_number(out, reading->value, BEFORE + wider, more ? AFTER + 1 : 0);
    lds_page_left(out, reading->interval, reading->unit[0] ? INTERVAL : 0);
    fputs(reading->unit, out);
    if (cells->second.text[0])
        lds_page_right(out, cells->second.text, REST - lds_words_width(reading->unit));
    fputc('\n', out);
}

/* Whether the cells fit their columns; absurdly large numbers do not. */
static bool fit(const struct lds_figure_cells *cells)
{
    const struct lds_reading *reading = &cells->reading;
    size_t whole = strcspn(reading->value, ".");
    return whole <= BEFORE + 4 && strlen(reading->value) - whole <= AFTER &&
           lds_words_width(reading->interval) < INTERVAL &&
           lds_words_width(cells->second.text) + lds_words_width(reading->unit) < REST;
}

static void print_row(FILE *out, const struct lds_figure *figure)
{
    const struct lds_figure_cells cells = lds_figure_cells(figure);
    const struct lds_reading *reading = &cells.reading;
    if (fit(&cells))
        print_cells(out, &cells);
    else
        lds_page_paragraph(out, 2, 2, "%s: %s %s %s%s%s", cells.label.text, reading->value, reading->interval,
                           reading->unit, cells.second.text[0] ? ", " : "", cells.second.text);
    print_conditions(out, figure);
}

bool lds_key_belongs(const char *key, int section)
{
    return section == LDS_TEXT_ANY_SECTION || (int)lds_section_of(key) == section;
}

static bool is_alike(const struct lds_absent *one, const struct lds_absent *other, int section)
{
    return lds_key_belongs(other->key, section) && strcmp(other->reason, one->reason) == 0;
}

void lds_absents_say(const char *what, const struct lds_absent *absent, size_t count, int section,
                     const struct lds_listener *listener)
{
    for (const struct lds_absent *one = NULL; (one = lds_next_absent(one, absent, count)) != NULL;) {
        const struct lds_absent *other = NULL;
        size_t same = 0, named = 0;
        while ((other = lds_next_absent(other, absent, count)) != one && !is_alike(one, other, section)) {
        }
        if (other != one || !lds_key_belongs(one->key, section)) /* printed before, or of another section */
            continue;
        for (size_t i = 0; i < count; i++)
            same += is_alike(one, &absent[i], section);
        struct lds_scrap scrap;
        if (!lds_scrap_open(&scrap))
            return;
        fprintf(scrap.out, "%s%s", what, what[0] ? " " : "");
        for (; other; other = lds_next_absent(other, absent, count)) {
            if (!is_alike(one, other, section))
                continue;
            fprintf(scrap.out, "%s%s",
                    named == 0          ? ""
                    : named + 1 == same ? " and "
                                        : "; ",
                    lds_named_label(other->key, NULL, other->channel_name).text);
            named++;
        }
        char *reason = lds_words_escape(one->reason);
        fprintf(scrap.out, ": %s", reason ? reason : "");
        free(reason);
        lds_text_scrap_say(&scrap, listener);
    }
}

static void hear_paragraph(void *out, const char *sentence)
{
    lds_page_paragraph(out, 2, 2, "%s", sentence);
}

struct lds_listener lds_text_listener(FILE *out)
{
    return (struct lds_listener){hear_paragraph, out};
}

void lds_text_absents(FILE *out, const char *what, const struct lds_absent *absent, size_t count, int section)
{
    const struct lds_listener listener = lds_text_listener(out);
    lds_absents_say(what, absent, count, section, &listener);
}

void lds_text_section(FILE *out, const struct lds_figure *figure, size_t figures, const struct lds_absent *absent,
                      size_t absents, enum lds_section section)
{
    for (const struct lds_figure *one = NULL; (one = lds_next_figure(one, figure, figures)) != NULL;)
        if (lds_key_belongs(one->key, (int)section) && !one->name.row->restates)
            print_row(out, one);
    lds_text_absents(out, "No figure for", absent, absents, (int)section);
}
