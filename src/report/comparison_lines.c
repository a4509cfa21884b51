/* Lines, noise over frequency and limits in the text of a comparison. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/comparison.h"
#include "report/comparison_text.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "report/words.h"

/* indent 2, label, frequency, both levels, word, digits before and after the point, interval: 80 columns in all. */
enum { LABEL = 14, LEVEL = 10, WORD = 9, BEFORE = 4, AFTER = 5, LINES_SHOWN = 8 };

static bool is_called(const struct lds_line_change *line)
{
    return line->appeared || line->vanished || line->word == LDS_LOWER || line->word == LDS_HIGHER;
}

/* "12.3 µV", "< 0.31 µV", "?": a level, or the limit that it stays below. */
static void print_level(FILE *out, const struct lds_compared_channel *channel, double level, double limit)
{
    struct lds_reading reading;
    char text[64];
    bool volts = channel->calibrated;
    double high = isfinite(level) ? NAN : lds_compared_level(channel, limit);
    lds_reading_make(&reading, lds_compared_level(channel, level), NAN, high, volts ? "V" : "dBFS", volts ? 0.0 : NAN,
                     false);
    if (isfinite(level) || isfinite(high))
        snprintf(text, sizeof text, "%s %s", reading.value, reading.unit);
    else
        snprintf(text, sizeof text, "not found");
    lds_page_right(out, text, LEVEL);
}

static void print_line(FILE *out, const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    char label[64] = "other line";
    struct lds_reading change;
    if (line->kind != LDS_LINE_OTHER)
        lds_line_label(line, label, sizeof label);
    lds_reading_make(&change, line->change_db, line->low_db, line->high_db, "dB", NAN, false);
    fputs("  ", out);
    lds_page_left(out, label, LABEL);
    lds_text_frequency(out, line->frequency_hz);
    print_level(out, channel, line->before, line->limit);
    print_level(out, channel, line->after, line->limit);
    fputs("  ", out);
    bool sized = isfinite(line->change_db);
    lds_page_left(out, lds_line_word(line), sized ? WORD : 0);
    if (sized) {
        lds_page_number(out, change.value, BEFORE, change.interval[0] ? AFTER : 0);
        fputs(change.interval, out);
    }
    fputc('\n', out);
    if (line->kind == LDS_LINE_OTHER && line->origin[0]) {
        char *origin = lds_words_escape(line->origin);
        lds_page_paragraph(out, 6, 0, origin ? origin : "");
        free(origin);
    }
}

static void print_uncalled(FILE *out, const struct lds_compared_channel *channel, size_t called)
{
    size_t same = 0, open = 0;
    for (size_t i = 0; i < channel->lines; i++)
        if (!is_called(&channel->line[i])) {
            same += channel->line[i].word == LDS_SAME;
            open += channel->line[i].word != LDS_SAME;
        }
    if (same + open == 0)
        return;
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    fprintf(scrap.out, "%s%zu line%s: ", called > 0 ? "The other " : "All ", same + open, same + open == 1 ? "" : "s");
    if (open == 0)
        fputs("the same.", scrap.out);
    else if (same == 0)
        fputs("it cannot be told whether they changed.", scrap.out);
    else
        fprintf(scrap.out, "%zu the same; of %zu it cannot be told.", same, open);
    lds_text_scrap_print(&scrap, out, 2, 0);
}

static double strength(const struct lds_line_change *line)
{
    return fmax(line->before, line->after);
}

/* Whether a line that changed is among the strongest of its kind. */
static bool is_shown(const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    size_t stronger = 0;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *other = &channel->line[i];
        stronger += is_called(other) && other->kind == line->kind && strength(other) > strength(line);
    }
    return is_called(line) && stronger < LINES_SHOWN;
}

static void print_columns(FILE *out)
{
    fputs("  ", out);
    lds_page_left(out, "", LABEL);
    lds_page_right(out, "frequency", LDS_TEXT_FREQUENCY_COLUMNS);
    lds_page_right(out, "before", LEVEL);
    lds_page_right(out, "after", LEVEL);
    lds_page_left(out, "", 2 + WORD);
    fputs("  change, dB\n", out);
}

void lds_text_line_changes(FILE *out, const struct lds_compared_channel *channel)
{
    size_t called = 0, shown = 0;
    if (channel->lines == 0)
        return;
    for (size_t i = 0; i < channel->lines; i++)
        called += is_called(&channel->line[i]);
    fputs("\nLines\n", out);
    if (called > 0)
        print_columns(out);
    for (size_t i = 0; i < channel->lines; i++)
        if (is_shown(channel, &channel->line[i])) {
            print_line(out, channel, &channel->line[i]);
            shown++;
        }
    if (called > shown)
        fprintf(out, "  %zu weaker ones that changed stand in the JSON and CSV reports\n", called - shown);
    print_uncalled(out, channel, called);
}

static void print_region(FILE *out, const struct lds_region *region)
{
    struct lds_text_scrap scrap;
    struct lds_reading change;
    char low[32], high[32];
    if (!lds_text_scrap_open(&scrap))
        return;
    lds_reading_hz(region->low_hz, low, sizeof low);
    lds_reading_hz(region->high_hz, high, sizeof high);
    bool fell = region->change_db < 0.0;
    /* The word says which way, so the number has no sign. */
    lds_reading_make(&change, fabs(region->change_db), fell ? -region->high : region->low,
                     fell ? -region->low : region->high, "dB", NAN, false);
    fprintf(scrap.out, "%s from %s to %s, by %s %s dB", fell ? "Lower" : "Higher", low, high, change.value,
            change.interval);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

void lds_text_density_change(FILE *out, const struct lds_compared_channel *channel)
{
    if (channel->densities == 0 && channel->regions == 0)
        return;
    fputs("\nNoise density over frequency\n", out);
    for (size_t i = 0; i < channel->regions; i++)
        print_region(out, &channel->region[i]);
    if (channel->regions > 0)
        return;
    struct lds_text_scrap scrap;
    char low[32], high[32];
    if (!lds_text_scrap_open(&scrap))
        return;
    lds_reading_hz(channel->density[0].low_hz, low, sizeof low);
    lds_reading_hz(channel->density[channel->densities - 1].high_hz, high, sizeof high);
    fprintf(scrap.out, "Nowhere from %s to %s shown to differ, with the false-alarm rate held over the whole axis.",
            low, high);
    lds_text_scrap_print(&scrap, out, 2, 0);
}

static bool is_linear(const char *unit)
{
    return strcmp(unit, "V") == 0 || strcmp(unit, "W") == 0 || strcmp(unit, "V/√Hz") == 0;
}

static void make_amount(char *text, size_t size, double value, double low, double high, const char *unit)
{
    struct lds_reading reading;
    lds_reading_make(&reading, value, low, high, unit, is_linear(unit) ? 0.0 : NAN, false);
    snprintf(text, size, "%s%s%s%s%s", reading.value, reading.interval[0] ? " " : "", reading.interval,
             reading.unit[0] ? " " : "", reading.unit);
}

/* As it was stated: four digits, without the zeros at the end. */
static void make_bound(char *text, size_t size, double value, const char *unit)
{
    struct lds_reading reading;
    double half = fabs(value) * 5e-3;
    lds_reading_make(&reading, value, value - half, value + half, unit, is_linear(unit) ? 0.0 : NAN, false);
    size_t length = strlen(reading.value);
    while (strchr(reading.value, '.') && (reading.value[length - 1] == '0' || reading.value[length - 1] == '.')) {
        bool point = reading.value[length - 1] == '.';
        reading.value[--length] = '\0';
        if (point)
            break;
    }
    snprintf(text, size, "%s%s%s", reading.value, reading.unit[0] ? " " : "", reading.unit);
}

void lds_text_limits(FILE *out, const struct lds_compared_channel *channel)
{
    if (channel->limits > 0)
        fputs("\nLimits\n", out);
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        const char *unit = lds_limit_unit(channel, limit);
        char label[160], found[128], bound[64];
        struct lds_text_scrap scrap;
        if (!lds_text_scrap_open(&scrap))
            return;
        lds_text_label(limit->key, NULL, label, sizeof label);
        make_amount(found, sizeof found, limit->value, limit->low, limit->high, unit);
        make_bound(bound, sizeof bound, limit->limit, unit);
        char *reason = limit->reason ? lds_words_escape(limit->reason) : NULL;
        fprintf(scrap.out, "%s: %s", lds_limit_result_name(limit), label);
        if (isfinite(limit->value) || isfinite(limit->high))
            fprintf(scrap.out, "%s %s", limit->kind == LDS_CHANGE_AT_MOST ? ", change" : "", found);
        fprintf(scrap.out, "; %s%s%s", lds_limit_kind_name(limit->kind), " ", bound);
        if (reason)
            fprintf(scrap.out, "; %s", reason);
        free(reason);
        lds_text_scrap_print(&scrap, out, 2, 4);
    }
}
