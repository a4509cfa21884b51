/* Tables of lines in the text report: harmonics, mains orders, other lines. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "safe_text.h"

bool lds_line_is_seen(const struct lds_line *line)
{
    return isfinite(line->level) && !(line->flags & LDS_FLAG_BELOW_FLOOR);
}

static void line_level(struct lds_reading *reading, bool calibrated, double reference, double level, double low,
                       double high)
{
    if (calibrated)
        lds_reading_make(reading, level, low, high, "V", reference, false);
    else
        lds_reading_make(reading, lds_dbfs(level), lds_dbfs(low), lds_dbfs(high), "dBFS", NAN, false);
}

void lds_frequency_make(double frequency_hz, char *text, size_t size)
{
    if (frequency_hz < 1e4)
        snprintf(text, size, "%.1f Hz", frequency_hz);
    else
        snprintf(text, size, "%.3f kHz", frequency_hz / 1e3);
}

double lds_lines_strongest(const struct lds_line *line, size_t count, int from)
{
    double strongest = 0.0;
    for (size_t i = 0; i < count; i++)
        if (line[i].order >= from && lds_line_is_seen(&line[i]))
            strongest = fmax(strongest, line[i].level);
    return strongest;
}

/* Where the tone or a harmonic stands on a mains order there is nothing to be found. */
static bool is_hidden(const struct lds_line *line)
{
    return !isfinite(line->level) && !isfinite(line->high) && line->flags & LDS_FLAG_NEAR_LINE;
}

static bool is_unseen(const struct lds_line *line)
{
    return !lds_line_is_seen(line) && !is_hidden(line);
}

/* "9, 11 to 20" after the title: the orders for which `is` holds. false: there is none. */
static bool write_orders(FILE *out, const char *title, const struct lds_line *line, size_t count, int from,
                         bool (*is)(const struct lds_line *line))
{
    size_t runs = 0, orders = 0;
    for (size_t i = 0; i < count; i++)
        orders += line[i].order >= from && is(&line[i]);
    for (size_t i = 0; i < count; i++) {
        if (line[i].order < from || !is(&line[i]))
            continue;
        size_t last = i;
        while (last + 1 < count && is(&line[last + 1]) && line[last + 1].order == line[last].order + 1)
            last++;
        if (runs++ == 0)
            fprintf(out, orders == 1 ? "%s: order " : "%s: orders ", title);
        fprintf(out, runs > 1 ? ", %d" : "%d", line[i].order);
        if (last > i)
            fprintf(out, last == i + 1 ? ", %d" : " to %d", line[last].order);
        i = last;
    }
    return runs > 0;
}

void lds_lines_hidden(FILE *out, const struct lds_line *line, size_t count)
{
    write_orders(out, "Hidden by the tone and its harmonics", line, count, 1, is_hidden);
}

void lds_lines_unseen(FILE *out, const struct lds_line *line, size_t count, int from, const char *unit, bool relative)
{
    double limit = NAN;
    for (size_t i = 0; i < count; i++)
        if (line[i].order >= from && is_unseen(&line[i]))
            limit = fmax(limit, relative ? line[i].high_db : line[i].high); /* fmax passes NAN over */
    if (write_orders(out, "Not found above the noise", line, count, from, is_unseen) && isfinite(limit)) {
        struct lds_reading reading;
        if (relative || unit[0] == 'V')
            lds_reading_make(&reading, NAN, NAN, limit, unit, relative ? NAN : 0.0, false);
        else
            lds_reading_make(&reading, NAN, NAN, lds_dbfs(limit), unit, NAN, false);
        fprintf(out, " (each %s %s)", reading.value, reading.unit);
    }
}

static void print_unseen(FILE *out, const struct lds_line *line, size_t count, int from, const char *unit,
                         bool relative)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_lines_unseen(scrap.out, line, count, from, unit, relative);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

static void print_hidden(FILE *out, const struct lds_line *line, size_t count)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_lines_hidden(scrap.out, line, count);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

static void write_flags(char *text, size_t size, unsigned flags)
{
    const unsigned chain = LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE;
    struct lds_scrap scrap;
    text[0] = '\0';
    if (!lds_scrap_open(&scrap))
        return;
    lds_flags_print(scrap.out, flags & ~chain, ", ");
    if (lds_scrap_close(&scrap))
        snprintf(text, size, "%s", scrap.text);
    free(scrap.text);
}

void lds_captured_line_make(struct lds_captured_line *cells, const struct lds_line *line, bool calibrated,
                            double reference)
{
    line_level(&cells->level, calibrated, reference, line->level, line->low, line->high);
    lds_reading_make(&cells->relative, line->relative_db, line->low_db, line->high_db, "dB", NAN, false);
    lds_reading_percent(line->relative_db, line->low_db, line->high_db, cells->percent, sizeof cells->percent);
    lds_frequency_make(line->frequency_hz, cells->frequency, sizeof cells->frequency);
    cells->phase[0] = '\0';
    if (isfinite(line->phase_deg)) /* as an integer, so that there is no "-0" */
        snprintf(cells->phase, sizeof cells->phase, "%d°", (int)lround(line->phase_deg));
    write_flags(cells->flags, sizeof cells->flags, line->flags);
}

static void print_harmonic(FILE *out, const struct lds_line *line, bool calibrated, double reference)
{
    struct lds_captured_line cells;
    lds_captured_line_make(&cells, line, calibrated, reference);
    fprintf(out, "  %5d", line->order);
    lds_page_right(out, cells.frequency, LDS_TEXT_FREQUENCY_COLUMNS);
    lds_page_number(out, cells.level.value, 6, 6);
    lds_page_left(out, cells.level.unit, 4);
    lds_page_number(out, cells.relative.value, 6, 7);
    lds_page_left(out, cells.relative.interval, 11);
    lds_page_right(out, cells.percent, 13);
    lds_page_right(out, cells.phase, 7);
    fputc('\n', out);
    if (cells.flags[0])
        fprintf(out, "         %s\n", cells.flags);
}

void lds_text_harmonics(FILE *out, const struct lds_channel *channel)
{
    size_t seen = 0;
    double strongest = lds_lines_strongest(channel->harmonic, channel->harmonics, 2);
    for (size_t i = 0; i < channel->harmonics; i++)
        seen += channel->harmonic[i].order > 1 && lds_line_is_seen(&channel->harmonic[i]);
    if (seen > 0)
        fputs("\n  order    frequency     level        re fundamental, dB                   phase\n", out);
    for (size_t i = 0; i < channel->harmonics; i++)
        if (channel->harmonic[i].order > 1 && lds_line_is_seen(&channel->harmonic[i]))
            print_harmonic(out, &channel->harmonic[i], channel->calibrated, strongest);
    print_unseen(out, channel->harmonic, channel->harmonics, 2, "dB", true);
}

/* The level that the n-th strongest of the lines that are seen has; 0 when all of them are to be shown. */
static double level_of_rank(const struct lds_line *line, size_t count, size_t rank)
{
    double least = 0.0;
    for (size_t i = 0; i < count; i++) {
        size_t stronger = 0;
        for (size_t k = 0; k < count; k++)
            stronger += lds_line_is_seen(&line[k]) && line[k].level > line[i].level;
        if (lds_line_is_seen(&line[i]) && stronger == rank)
            least = line[i].level;
    }
    return least;
}

double lds_lines_least(const struct lds_line *line, size_t count)
{
    size_t seen = 0;
    for (size_t i = 0; i < count; i++)
        seen += lds_line_is_seen(&line[i]);
    return seen > LDS_LINES_SHOWN ? level_of_rank(line, count, LDS_LINES_SHOWN - 1) : 0.0;
}

static void print_order(FILE *out, const struct lds_line *line, bool calibrated, double reference)
{
    struct lds_captured_line cells;
    lds_captured_line_make(&cells, line, calibrated, reference);
    fprintf(out, "  %5d", line->order);
    lds_page_right(out, cells.frequency, LDS_TEXT_FREQUENCY_COLUMNS);
    lds_page_number(out, cells.level.value, 8, 7);
    lds_page_left(out, cells.level.interval, 14);
    fprintf(out, "%s%s%s\n", cells.level.unit, cells.flags[0] ? "  " : "", cells.flags);
}

void lds_text_mains(FILE *out, const struct lds_channel *channel)
{
    size_t seen = 0, shown = 0;
    double strongest = lds_lines_strongest(channel->main, channel->mains, 1);
    for (size_t i = 0; i < channel->mains; i++)
        seen += lds_line_is_seen(&channel->main[i]);
    double least = lds_lines_least(channel->main, channel->mains);
    if (seen > 0)
        fputs("\n  order    frequency     level\n", out);
    for (size_t i = 0; i < channel->mains; i++)
        if (lds_line_is_seen(&channel->main[i]) && channel->main[i].level >= least && shown < LDS_LINES_SHOWN) {
            print_order(out, &channel->main[i], channel->calibrated, strongest);
            shown++;
        }
    if (seen > shown)
        fprintf(out, "  %zu weaker orders stand in the JSON and CSV reports\n", seen - shown);
    print_unseen(out, channel->main, channel->mains, 1, channel->calibrated ? "V" : "dBFS", false);
    print_hidden(out, channel->main, channel->mains);
}

static int by_margin(const void *left, const void *right)
{
    const struct lds_spur *a = left, *b = right;
    return a->margin_db < b->margin_db ? 1 : a->margin_db > b->margin_db ? -1 : 0;
}

static void print_spur(FILE *out, const struct lds_spur *spur, bool calibrated, double reference)
{
    struct lds_captured_spur cells;
    lds_captured_spur_make(&cells, spur, calibrated, reference);
    fputs("  ", out);
    lds_page_right(out, cells.frequency, LDS_TEXT_FREQUENCY_COLUMNS);
    lds_page_number(out, cells.level.value, 6, 4);
    lds_page_left(out, cells.level.unit, 6);
    lds_page_right(out, cells.margin, 8);
    fputs(" dB", out);
    char *origin = lds_words_escape(spur->origin);
    if (origin && lds_words_width(origin) <= 36) {
        fprintf(out, "   %s\n", origin);
    } else {
        fputc('\n', out);
        lds_page_paragraph(out, 10, 0, origin ? origin : "");
    }
    free(origin);
}

struct lds_spur *lds_spurs_sorted(const struct lds_channel *channel)
{
    struct lds_spur *sorted = malloc((channel->spurs + 1) * sizeof *sorted);
    for (size_t i = 0; sorted && i < channel->spurs; i++)
        sorted[i] = channel->spur[i];
    if (sorted)
        qsort(sorted, channel->spurs, sizeof *sorted, by_margin);
    return sorted;
}

double lds_spurs_strongest(const struct lds_channel *channel)
{
    double strongest = 0.0;
    for (size_t i = 0; i < channel->spurs; i++)
        strongest = fmax(strongest, channel->spur[i].level);
    return strongest;
}

void lds_captured_spur_make(struct lds_captured_spur *cells, const struct lds_spur *spur, bool calibrated,
                            double reference)
{
    line_level(&cells->level, calibrated, reference, spur->level, NAN, NAN);
    lds_frequency_make(spur->frequency_hz, cells->frequency, sizeof cells->frequency);
    snprintf(cells->margin, sizeof cells->margin, "%.1f", spur->margin_db);
}

void lds_text_spurs(FILE *out, const struct lds_channel *channel)
{
    if (channel->spurs == 0) {
        fputs("  None found above the floor.\n", out);
        return;
    }
    struct lds_spur *sorted = lds_spurs_sorted(channel);
    if (!sorted)
        return;
    double strongest = lds_spurs_strongest(channel);
    fputs("      frequency     level        over threshold   origin\n", out);
    for (size_t i = 0; i < channel->spurs && i < LDS_LINES_SHOWN; i++)
        print_spur(out, &sorted[i], channel->calibrated, strongest);
    if (channel->spurs > LDS_LINES_SHOWN)
        fprintf(out, "  %zu weaker ones stand in the JSON and CSV reports\n", channel->spurs - LDS_LINES_SHOWN);
    free(sorted);
}
