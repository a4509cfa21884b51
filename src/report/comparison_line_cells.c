/* Lines, noise over frequency and limits as cells and sentences, the same in text and HTML. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/comparison_cells.h"
#include "report/reading.h"
#include "report/text.h"

enum { LINES_SHOWN = 8 };

bool lds_line_is_called(const struct lds_line_change *line)
{
    return line->appeared || line->vanished || line->word == LDS_LOWER || line->word == LDS_HIGHER;
}

/* A level, or its upper limit; false: neither is known. reference: as of lds_reading. */
static bool read_level(struct lds_reading *reading, const struct lds_compared_channel *channel, double level,
                       double limit, double reference)
{
    bool volts = channel->calibrated;
    double high = isfinite(level) ? NAN : lds_compared_level(channel, limit);
    *reading = lds_reading(lds_compared_level(channel, level), NAN, high, volts ? "V" : "dBFS", volts ? reference : NAN,
                           false);
    return isfinite(level) || isfinite(high);
}

/* "12.3 µV", "< 0.31 µV", "not found". */
static struct lds_short level_words(const struct lds_compared_channel *channel, double level, double limit)
{
    struct lds_reading reading;
    return read_level(&reading, channel, level, limit, 0.0) ? lds_short("%s %s", reading.value, reading.unit)
                                                            : lds_short("not found");
}

void lds_line_levels(struct lds_line_cells *cells, const struct lds_compared_channel *channel,
                     const struct lds_line_change *line, double largest, char *unit, size_t size)
{
    const double level[] = {line->before, line->after};
    struct lds_short *const words[] = {&cells->before, &cells->after};
    for (int side = 0; side < 2; side++) {
        struct lds_reading reading;
        bool known = read_level(&reading, channel, level[side], line->limit, lds_compared_level(channel, largest));
        *words[side] = lds_short("%s", known ? reading.value : "not found");
        if (known)
            snprintf(unit, size, "%s", reading.unit);
    }
}

struct lds_line_cells lds_line_cells(const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    const bool other = line->kind->match == LDS_MATCH_NEAREST;
    struct lds_line_cells cells = {.label = other ? lds_short("other line") : lds_line_label(line),
                                   .origin = other ? line->origin : "",
                                   .frequency = lds_line_frequency(line->frequency_hz),
                                   .before = level_words(channel, line->before, line->limit),
                                   .after = level_words(channel, line->after, line->limit),
                                   .word = lds_line_word(line)};
    if (isfinite(line->change_db))
        cells.change = lds_reading(line->change_db, line->low_db, line->high_db, "dB", NAN, false);
    return cells;
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

struct lds_sentence lds_lines_weaker(const struct lds_compared_channel *channel)
{
    size_t called = called_of(channel), shown = 0;
    for (size_t i = 0; i < channel->lines; i++)
        shown += lds_line_is_shown(channel, &channel->line[i]);
    return called > shown
               ? lds_sentence("%zu weaker ones that changed stand in the JSON and CSV reports", called - shown)
               : (struct lds_sentence){""};
}

struct lds_sentence lds_lines_uncalled(const struct lds_compared_channel *channel)
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
    if (all == 0)
        return (struct lds_sentence){""};
    char part[3][64] = {"", "", ""};
    if (slight > 0)
        snprintf(part[0], sizeof part[0], "%zu changed by less than matters%s", slight, same > 0 ? ", " : "");
    if (same > 0)
        snprintf(part[1], sizeof part[1], "%zu the same", same);
    if (open > 0)
        snprintf(part[2], sizeof part[2], "%sof %zu it cannot be told", same + slight > 0 ? "; " : "", open);
    return lds_sentence("%s%zu line%s: %s%s%s.", called_of(channel) > 0 ? "The other " : "All ", all,
                        all == 1 ? "" : "s", same == all ? "the same" : part[0], same == all ? "" : part[1],
                        open == all ? "it cannot be told whether they changed" : part[2]);
}

struct lds_short lds_axis_x(const struct lds_axis_change *axis, double x)
{
    enum lds_quantity quantity = axis->kind->column[axis->kind->axis].quantity;
    if (quantity == LDS_QUANTITY_HZ)
        return lds_hz(x);
    const struct lds_reading reading =
        lds_reading(x, NAN, NAN, lds_quantity_unit(quantity, axis->calibrated), NAN, false);
    return lds_short("%s %s", reading.value, reading.unit);
}

struct lds_label lds_axis_title(const struct lds_axis_change *axis)
{
    const bool pair = axis->channels[0] > 0;
    return lds_label("%c%s%s%s", toupper((unsigned char)axis->kind->label[0]), axis->kind->label + 1, pair ? ", " : "",
                     pair ? lds_pair_words(axis->channel_name, axis->channels).text : "");
}

struct lds_sentence lds_region_sentence(const struct lds_axis_change *axis, const struct lds_axis_span *region)
{
    const struct lds_short from = lds_axis_x(axis, region->from), to = lds_axis_x(axis, region->to);
    bool fell = region->change < 0.0, at_least = isnan(region->low) || isnan(region->high);
    double low = fell ? -region->high : region->low, high = fell ? -region->low : region->high;
    /* The word gives the direction, so the number has no sign. */
    const struct lds_reading change =
        lds_reading(at_least ? low : fabs(region->change), low, high, lds_series_change_unit(axis->kind), NAN, false);
    const char *word = lds_word_name(region->word);
    const bool one = strcmp(from.text, to.text) == 0;
    return lds_sentence("%c%s %s %s%s%s, by %s%s%s%s %s", toupper((unsigned char)word[0]), word + 1,
                        one ? "at" : "from", from.text, one ? "" : " to ", one ? "" : to.text,
                        at_least ? "at least " : "", change.value, at_least ? "" : " ", at_least ? "" : change.interval,
                        change.unit);
}

struct lds_sentence lds_regions_none(const struct lds_axis_change *axis)
{
    if (axis->regions > 0 || axis->points == 0 || axis->kind->family == LDS_FAMILY_NONE)
        return (struct lds_sentence){""};
    return lds_sentence("Nowhere from %s to %s shown to differ, with the false-alarm rate held over the whole axis.",
                        lds_axis_x(axis, axis->point[0].from).text,
                        lds_axis_x(axis, axis->point[axis->points - 1].to).text);
}

/* As stated: four digits, without trailing zeros. */
static struct lds_short bound_words(double value, const char *unit)
{
    double half = fabs(value) * 5e-3;
    struct lds_reading reading =
        lds_reading(value, value - half, value + half, unit, lds_unit_is_linear(unit) ? 0.0 : NAN, false);
    lds_reading_trim(&reading);
    return lds_short("%s%s%s", reading.value, reading.unit[0] ? " " : "", reading.unit);
}

struct lds_limit_cells lds_limit_cells(const struct lds_compared_channel *channel, const struct lds_limit_result *limit)
{
    const char *unit = lds_limit_unit(channel, limit);
    struct lds_limit_cells cells = {.result = lds_limit_result_name(limit),
                                    .kind = lds_limit_kind_name(limit->kind),
                                    .label = lds_text_label(limit->key, NULL),
                                    .bound = bound_words(limit->limit, unit)};
    if (isfinite(limit->value) || isfinite(limit->high))
        cells.reading =
            lds_reading(limit->value, limit->low, limit->high, unit, lds_unit_is_linear(unit) ? 0.0 : NAN, false);
    const struct lds_reading *reading = &cells.reading;
    cells.found = lds_label("%s%s%s%s%s", reading->value, reading->interval[0] ? " " : "", reading->interval,
                            reading->unit[0] ? " " : "", reading->unit);
    return cells;
}
