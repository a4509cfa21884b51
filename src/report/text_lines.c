/* Tables of lines in the text report: harmonics, mains orders, other lines. */
#include <math.h>
#include <stdlib.h>

#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "report/words.h"

enum { LINES_SHOWN = 16 };

static bool is_seen(const struct lds_line *line)
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

void lds_text_frequency(FILE *out, double frequency_hz)
{
    char text[40];
    if (frequency_hz < 1e4)
        snprintf(text, sizeof text, "%.1f Hz", frequency_hz);
    else
        snprintf(text, sizeof text, "%.3f kHz", frequency_hz / 1e3);
    lds_page_right(out, text, LDS_TEXT_FREQUENCY_COLUMNS);
}

/* The level whose prefix a column of levels takes. */
static double strongest_of(const struct lds_line *line, size_t count, int from)
{
    double strongest = 0.0;
    for (size_t i = 0; i < count; i++)
        if (line[i].order >= from && is_seen(&line[i]))
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
    return !is_seen(line) && !is_hidden(line);
}

/* "9, 11 to 20" after the title: the orders for which `is` holds. false: there is none. */
static bool print_orders(FILE *out, const char *title, const struct lds_line *line, size_t count, int from,
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

static void print_hidden(FILE *out, const struct lds_line *line, size_t count)
{
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    print_orders(scrap.out, "Hidden by the tone and its harmonics", line, count, 1, is_hidden);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

/* Orders that were looked for and not found, and the highest of their limits. */
static void print_unseen(FILE *out, const struct lds_line *line, size_t count, int from, const char *unit,
                         bool relative)
{
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    double limit = NAN;
    for (size_t i = 0; i < count; i++)
        if (line[i].order >= from && is_unseen(&line[i]))
            limit = fmax(limit, relative ? line[i].high_db : line[i].high); /* fmax passes NAN over */
    if (print_orders(scrap.out, "Not found above the noise", line, count, from, is_unseen) && isfinite(limit)) {
        struct lds_reading reading;
        if (relative || unit[0] == 'V')
            lds_reading_make(&reading, NAN, NAN, limit, unit, relative ? NAN : 0.0, false);
        else
            lds_reading_make(&reading, NAN, NAN, lds_dbfs(limit), unit, NAN, false);
        fprintf(scrap.out, " (each %s %s)", reading.value, reading.unit);
    }
    lds_text_scrap_print(&scrap, out, 2, 2);
}

static void print_flags(FILE *out, unsigned flags, unsigned without)
{
    if (flags & ~without)
        fputs("  ", out);
    lds_flags_print(out, flags & ~without, ", ");
}

static const unsigned chain_flags = LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE;

static void print_harmonic(FILE *out, const struct lds_line *line, bool calibrated, double reference)
{
    struct lds_reading level, relative;
    char percent[64], phase[32] = "";
    line_level(&level, calibrated, reference, line->level, line->low, line->high);
    lds_reading_make(&relative, line->relative_db, line->low_db, line->high_db, "dB", NAN, false);
    lds_reading_percent(line->relative_db, line->low_db, line->high_db, percent, sizeof percent);
    if (isfinite(line->phase_deg))
        snprintf(phase, sizeof phase, "%d°",
                 (int)lround(line->phase_deg)); /* as an integer, so that there is no "-0" */
    fprintf(out, "  %5d", line->order);
    lds_text_frequency(out, line->frequency_hz);
    lds_page_number(out, level.value, 6, 6);
    lds_page_left(out, level.unit, 4);
    lds_page_number(out, relative.value, 6, 7);
    lds_page_left(out, relative.interval, 11);
    lds_page_right(out, percent, 13);
    lds_page_right(out, phase, 7);
    fputc('\n', out);
    if (line->flags & ~chain_flags) {
        fputs("       ", out);
        print_flags(out, line->flags, chain_flags);
        fputc('\n', out);
    }
}

void lds_text_harmonics(FILE *out, const struct lds_channel *channel)
{
    size_t seen = 0;
    double strongest = strongest_of(channel->harmonic, channel->harmonics, 2);
    for (size_t i = 0; i < channel->harmonics; i++)
        seen += channel->harmonic[i].order > 1 && is_seen(&channel->harmonic[i]);
    if (seen > 0)
        fputs("\n  order    frequency     level        re fundamental, dB                   phase\n", out);
    for (size_t i = 0; i < channel->harmonics; i++)
        if (channel->harmonic[i].order > 1 && is_seen(&channel->harmonic[i]))
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
            stronger += is_seen(&line[k]) && line[k].level > line[i].level;
        if (is_seen(&line[i]) && stronger == rank)
            least = line[i].level;
    }
    return least;
}

static void print_order(FILE *out, const struct lds_line *line, bool calibrated, double reference)
{
    struct lds_reading level;
    line_level(&level, calibrated, reference, line->level, line->low, line->high);
    fprintf(out, "  %5d", line->order);
    lds_text_frequency(out, line->frequency_hz);
    lds_page_number(out, level.value, 8, 7);
    lds_page_left(out, level.interval, 14);
    fputs(level.unit, out);
    print_flags(out, line->flags, chain_flags);
    fputc('\n', out);
}

void lds_text_mains(FILE *out, const struct lds_channel *channel)
{
    size_t seen = 0, shown = 0;
    double strongest = strongest_of(channel->main, channel->mains, 1);
    for (size_t i = 0; i < channel->mains; i++)
        seen += is_seen(&channel->main[i]);
    double least = seen > LINES_SHOWN ? level_of_rank(channel->main, channel->mains, LINES_SHOWN - 1) : 0.0;
    if (seen > 0)
        fputs("\n  order    frequency     level\n", out);
    for (size_t i = 0; i < channel->mains; i++)
        if (is_seen(&channel->main[i]) && channel->main[i].level >= least && shown < LINES_SHOWN) {
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
    struct lds_reading level;
    line_level(&level, calibrated, reference, spur->level, NAN, NAN);
    fputs("  ", out);
    lds_text_frequency(out, spur->frequency_hz);
    lds_page_number(out, level.value, 6, 4);
    lds_page_left(out, level.unit, 6);
    fprintf(out, "%8.1f dB", spur->margin_db);
    char *origin = lds_words_escape(spur->origin);
    if (origin && lds_words_width(origin) <= 36) {
        fprintf(out, "   %s\n", origin);
    } else {
        fputc('\n', out);
        lds_page_paragraph(out, 10, 0, origin ? origin : "");
    }
    free(origin);
}

void lds_text_spurs(FILE *out, const struct lds_channel *channel)
{
    if (channel->spurs == 0) {
        fputs("  None found above the floor.\n", out);
        return;
    }
    struct lds_spur *sorted = malloc(channel->spurs * sizeof *sorted);
    if (!sorted)
        return;
    double strongest = 0.0;
    for (size_t i = 0; i < channel->spurs; i++) {
        sorted[i] = channel->spur[i];
        strongest = fmax(strongest, sorted[i].level);
    }
    qsort(sorted, channel->spurs, sizeof *sorted, by_margin);
    fputs("      frequency     level        over threshold   origin\n", out);
    for (size_t i = 0; i < channel->spurs && i < LINES_SHOWN; i++)
        print_spur(out, &sorted[i], channel->calibrated, strongest);
    if (channel->spurs > LINES_SHOWN)
        fprintf(out, "  %zu weaker ones stand in the JSON and CSV reports\n", channel->spurs - LINES_SHOWN);
    free(sorted);
}
