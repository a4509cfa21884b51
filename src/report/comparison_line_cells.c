/* Lines, noise over frequency and limits as cells and sentences, the same in text and HTML. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/comparison.h"
#include "report/comparison_cells.h"
#include "report/reading.h"
#include "report/text.h"

enum { LINES_SHOWN = 8 };

bool lds_line_is_called(const struct lds_line_change *line)
{
    return line->appeared || line->vanished || line->word == LDS_LOWER || line->word == LDS_HIGHER;
}

/* A level, or its upper limit; false: neither is known. reference: as of lds_reading_make. */
static bool read_level(struct lds_reading *reading, const struct lds_compared_channel *channel, double level,
                       double limit, double reference)
{
    bool volts = channel->calibrated;
    double high = isfinite(level) ? NAN : lds_compared_level(channel, limit);
    lds_reading_make(reading, lds_compared_level(channel, level), NAN, high, volts ? "V" : "dBFS",
                     volts ? reference : NAN, false);
    return isfinite(level) || isfinite(high);
}

/* "12.3 µV", "< 0.31 µV", "not found". */
static void write_level(char *text, size_t size, const struct lds_compared_channel *channel, double level, double limit)
{
    struct lds_reading reading;
    if (read_level(&reading, channel, level, limit, 0.0))
        snprintf(text, size, "%s %s", reading.value, reading.unit);
    else
        snprintf(text, size, "not found");
}

void lds_line_levels(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                     const struct lds_line_change *line, double largest, char *unit, size_t size)
{
    const double level[] = {line->before, line->after};
    char *const text[] = {cells->before, cells->after};
    for (int side = 0; side < 2; side++) {
        struct lds_reading reading;
        bool known = read_level(&reading, channel, level[side], line->limit, lds_compared_level(channel, largest));
        snprintf(text[side], sizeof cells->before, "%s", known ? reading.value : "not found");
        if (known)
            snprintf(unit, size, "%s", reading.unit);
    }
}

void lds_line_cells_make(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                         const struct lds_line_change *line)
{
    struct lds_reading change;
    snprintf(cells->label, sizeof cells->label, "other line");
    cells->origin = line->kind->match == LDS_MATCH_NEAREST ? line->origin : "";
    if (line->kind->match != LDS_MATCH_NEAREST)
        lds_line_label(line, cells->label, sizeof cells->label);
    lds_frequency_make(line->frequency_hz, cells->frequency, sizeof cells->frequency);
    write_level(cells->before, sizeof cells->before, channel, line->before, line->limit);
    write_level(cells->after, sizeof cells->after, channel, line->after, line->limit);
    cells->word = lds_line_word(line);
    cells->number[0] = cells->interval[0] = '\0';
    if (!isfinite(line->change_db))
        return;
    lds_reading_make(&change, line->change_db, line->low_db, line->high_db, "dB", NAN, false);
    snprintf(cells->number, sizeof cells->number, "%s", change.value);
    snprintf(cells->interval, sizeof cells->interval, "%s", change.interval);
}

double lds_line_strength(const struct lds_line_change *line)
{
    return fmax(line->before, line->after);
}

bool lds_line_is_shown(const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    size_t stronger = 0;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *other = &channel->line[i];
        stronger += lds_line_is_called(other) && other->kind == line->kind &&
                    lds_line_strength(other) > lds_line_strength(line);
    }
    return lds_line_is_called(line) && stronger < LINES_SHOWN;
}

static size_t called_of(const struct lds_compared_channel *channel)
{
    size_t called = 0;
    for (size_t i = 0; i < channel->lines; i++)
        called += lds_line_is_called(&channel->line[i]);
    return called;
}

void lds_lines_weaker(const struct lds_compared_channel *channel, char *text, size_t size)
{
    size_t called = called_of(channel), shown = 0;
    for (size_t i = 0; i < channel->lines; i++)
        shown += lds_line_is_shown(channel, &channel->line[i]);
    text[0] = '\0';
    if (called > shown)
        snprintf(text, size, "%zu weaker ones that changed stand in the JSON and CSV reports", called - shown);
}

void lds_lines_uncalled(const struct lds_compared_channel *channel, char *text, size_t size)
{
    size_t same = 0, slight = 0, all = 0;
    for (size_t i = 0; i < channel->lines; i++)
        if (!lds_line_is_called(&channel->line[i])) {
            enum lds_word word = channel->line[i].word;
            same += word == LDS_SAME;
            slight += word == LDS_SLIGHTLY_LOWER || word == LDS_SLIGHTLY_HIGHER;
            all++;
        }
    size_t open = all - same - slight;
    text[0] = '\0';
    if (all == 0)
        return;
    char what[64], part[3][64] = {"", "", ""};
    snprintf(what, sizeof what, "%s%zu line%s", called_of(channel) > 0 ? "The other " : "All ", all,
             all == 1 ? "" : "s");
    if (slight > 0)
        snprintf(part[0], sizeof part[0], "%zu changed by less than matters%s", slight, same > 0 ? ", " : "");
    if (same > 0)
        snprintf(part[1], sizeof part[1], "%zu the same", same);
    if (open > 0)
        snprintf(part[2], sizeof part[2], "%sof %zu it cannot be told", same + slight > 0 ? "; " : "", open);
    snprintf(text, size, "%s: %s%s%s.", what, same == all ? "the same" : part[0], same == all ? "" : part[1],
             open == all ? "it cannot be told whether they changed" : part[2]);
}

void lds_axis_x_make(const struct lds_axis_change *axis, double x, char *text, size_t size)
{
    enum lds_quantity quantity = axis->kind->column[axis->kind->axis].quantity;
    struct lds_reading reading;
    if (quantity == LDS_QUANTITY_HZ) {
        lds_reading_hz(x, text, size);
        return;
    }
    lds_reading_make(&reading, x, NAN, NAN, lds_quantity_unit(quantity, axis->calibrated), NAN, false);
    snprintf(text, size, "%s %s", reading.value, reading.unit);
}

void lds_axis_title(const struct lds_axis_change *axis, char *text, size_t size)
{
    char channels[48] = "";
    if (axis->channels[0] > 0)
        snprintf(channels, sizeof channels, ", channels %d and %d", axis->channels[0], axis->channels[1]);
    snprintf(text, size, "%c%s%s", toupper((unsigned char)axis->kind->label[0]), axis->kind->label + 1, channels);
}

void lds_region_sentence(const struct lds_axis_change *axis, const struct lds_axis_span *region, char *text,
                         size_t size)
{
    struct lds_reading change;
    char from[64], to[64];
    lds_axis_x_make(axis, region->from, from, sizeof from);
    lds_axis_x_make(axis, region->to, to, sizeof to);
    bool fell = region->change < 0.0, at_least = isnan(region->low) || isnan(region->high);
    double low = fell ? -region->high : region->low, high = fell ? -region->low : region->high;
    /* The word gives the direction, so the number has no sign. */
    lds_reading_make(&change, at_least ? low : fabs(region->change), low, high, lds_series_change_unit(axis->kind), NAN,
                     false);
    const char *word = lds_word_name(region->word);
    snprintf(text, size, "%c%s from %s to %s, by %s%s%s%s %s", toupper((unsigned char)word[0]), word + 1, from, to,
             at_least ? "at least " : "", change.value, at_least ? "" : " ", at_least ? "" : change.interval,
             change.unit);
}

void lds_regions_none(const struct lds_axis_change *axis, char *text, size_t size)
{
    char from[64], to[64];
    text[0] = '\0';
    if (axis->regions > 0 || axis->points == 0 || axis->kind->family == LDS_FAMILY_NONE)
        return;
    lds_axis_x_make(axis, axis->point[0].from, from, sizeof from);
    lds_axis_x_make(axis, axis->point[axis->points - 1].to, to, sizeof to);
    snprintf(text, size, "Nowhere from %s to %s shown to differ, with the false-alarm rate held over the whole axis.",
             from, to);
}

static void make_amount(char *text, size_t size, double value, double low, double high, const char *unit)
{
    struct lds_reading reading;
    lds_reading_make(&reading, value, low, high, unit, lds_unit_is_linear(unit) ? 0.0 : NAN, false);
    snprintf(text, size, "%s%s%s%s%s", reading.value, reading.interval[0] ? " " : "", reading.interval,
             reading.unit[0] ? " " : "", reading.unit);
}

/* As stated: four digits, without trailing zeros. */
static void make_bound(char *text, size_t size, double value, const char *unit)
{
    struct lds_reading reading;
    double half = fabs(value) * 5e-3;
    lds_reading_make(&reading, value, value - half, value + half, unit, lds_unit_is_linear(unit) ? 0.0 : NAN, false);
    size_t length = strlen(reading.value);
    while (strchr(reading.value, '.') && (reading.value[length - 1] == '0' || reading.value[length - 1] == '.')) {
        bool point = reading.value[length - 1] == '.';
        reading.value[--length] = '\0';
        if (point)
            break;
    }
    snprintf(text, size, "%s%s%s", reading.value, reading.unit[0] ? " " : "", reading.unit);
}

void lds_limit_cells_make(struct lds_limit_cells *cells, const struct lds_compared_channel *channel,
                          const struct lds_limit_result *limit)
{
    const char *unit = lds_limit_unit(channel, limit);
    cells->result = lds_limit_result_name(limit);
    cells->kind = lds_limit_kind_name(limit->kind);
    lds_text_label(limit->key, NULL, cells->label, sizeof cells->label);
    cells->found[0] = '\0';
    if (isfinite(limit->value) || isfinite(limit->high))
        make_amount(cells->found, sizeof cells->found, limit->value, limit->low, limit->high, unit);
    make_bound(cells->bound, sizeof cells->bound, limit->limit, unit);
}
