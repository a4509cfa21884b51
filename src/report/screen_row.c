/* Figures on one screen: four significant digits, decibels to 0.01 at the finest, notes by number. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/screen.h"
#include "report/text.h"
#include "safe_text.h"

/* Columns: label, number before and after its point, unit, decibels before and after their point, interval. */
enum { BEFORE = 5, AFTER = 8, UNIT = 5, DB_BEFORE = 5, FRACTION = 3, DB_AFTER = 9, INTERVAL = 8 };
static const double DIGITS = 0.0105; /* half-width re value at which a reading has three or four significant digits */
static const double LEAST_PERCENT = 1e-4;
static const double PERCENT_DB = 0.3; /* and a ratio in per cent three */
static const double FINEST_DB = 0.01;
static const double UNEVEN_DB = 0.3; /* with smaller sides, an interval is printed as one number */

/* A row as it is printed. */
struct cells {
    struct lds_label label;
    char number[40], unit[24];
    struct lds_reading db;
    char rest[80];
    char marks[LDS_MARKS_SIZE];
};

struct lds_reading lds_screen_number(double value, double low, double high, const char *unit)
{
    double least = DIGITS * fabs(value);
    if (isfinite(value)) {
        low = fmin(isfinite(low) ? low : value, value - least);
        high = fmax(isfinite(high) ? high : value, value + least);
    }
    return lds_reading(value, low, high, unit, 0.0, false);
}

static double rounded_up(double width, int decimals)
{
    double step = pow(10.0, -decimals);
    return fmax(ceil(width / step - 0.5) * step, step);
}

struct lds_short lds_screen_percent(double value_db, double low_db, double high_db)
{
    struct lds_short words = lds_percent_words(value_db, low_db, high_db);
    char *sign = strrchr(words.text, ' ');
    if (sign)
        *sign = '\0';
    return words;
}

/* The interval in decibels: the larger side, or both where they differ by much. */
static void write_interval(double up, double down, int decimals, char *text, size_t size)
{
    double larger = fmax(up, down), smaller = fmin(up, down);
    if (!isfinite(larger) && isfinite(smaller))
        snprintf(text, size, isfinite(up) ? "+%.*f/-∞" : "+∞/-%.*f", decimals, rounded_up(smaller, decimals));
    else if (smaller < 0.5 * larger && larger >= UNEVEN_DB)
        snprintf(text, size, "+%.*f/-%.*f", decimals > 0, rounded_up(up, decimals > 0), decimals > 0,
                 rounded_up(down, decimals > 0));
    else
        snprintf(text, size, "±%.*f", decimals, rounded_up(larger, decimals));
}

struct lds_reading lds_screen_decibels(double value, double low, double high, const char *unit)
{
    struct lds_reading db = {.value = ""};
    if (!isfinite(value)) {
        if (isfinite(high))
            snprintf(db.value, sizeof db.value, "< %.0f %s", ceil(high), unit);
        return db;
    }
    double up = high - value, down = value - low, width = fmax(isfinite(up) ? up : 0.0, isfinite(down) ? down : 0.0);
    int decimals = lds_reading_decimals(fmax(width, 10.0 * FINEST_DB));
    decimals = decimals < 0 ? 0 : decimals;
    snprintf(db.value, sizeof db.value, "%.*f%s%s", decimals, value, unit[0] ? " " : "", unit);
    if (db.value[0] == '-' && strspn(db.value, "-0.") == strcspn(db.value, " ")) /* no "-0.00" */
        memmove(db.value, db.value + 1, strlen(db.value));
    if (isfinite(up) || isfinite(down))
        write_interval(isnan(up) ? INFINITY : up, isnan(down) ? INFINITY : down, decimals, db.interval,
                       sizeof db.interval);
    return db;
}

static double db_of(double amplitude)
{
    return amplitude > 0.0 ? 20.0 * log10(amplitude) : amplitude == 0.0 ? -INFINITY : NAN;
}

static void write_percent(struct cells *cells, const struct lds_figure *figure)
{
    const bool known = isfinite(figure->value);
    double least = figure->value - PERCENT_DB, most = figure->value + PERCENT_DB;
    if (!known && lds_percent(figure->high) < LEAST_PERCENT)
        return; /* the limit in decibels takes fewer digits */
    snprintf(cells->number, sizeof cells->number, "%.39s",
             lds_screen_percent(figure->value, known ? fmin(figure->low, least) : figure->low,
                                known ? fmax(figure->high, most) : figure->high)
                 .text);
    snprintf(cells->unit, sizeof cells->unit, "%s", cells->number[0] ? "%" : "");
}

static void write_number(struct cells *cells, const struct lds_figure *figure)
{
    const struct lds_reading reading = lds_screen_number(figure->value, figure->low, figure->high, figure->unit);
    snprintf(cells->number, sizeof cells->number, "%.23s", reading.value);
    snprintf(cells->unit, sizeof cells->unit, "%s", reading.unit);
}

static void write_plain(struct cells *cells, const struct lds_figure *figure)
{
    const struct lds_reading full = lds_figure_cells(figure).reading;
    snprintf(cells->number, sizeof cells->number, "%s", full.value);
    snprintf(cells->unit, sizeof cells->unit, "%s", full.unit);
    snprintf(cells->rest, sizeof cells->rest, "%s", full.interval);
}

static void write_ratio(struct cells *cells, const struct lds_figure *figure)
{
    cells->db = lds_screen_decibels(figure->value, figure->low, figure->high, figure->unit);
    if (figure->name.row->print == LDS_PRINT_RATIO || figure->name.row->print == LDS_PRINT_PERCENT)
        write_percent(cells, figure);
}

static struct lds_figure from_percent(const struct lds_figure *figure)
{
    struct lds_figure ratio = *figure;
    ratio.value = db_of(figure->value / 100.0);
    ratio.low = db_of(figure->low / 100.0);
    ratio.high = db_of(figure->high / 100.0);
    snprintf(ratio.unit, sizeof ratio.unit, "dB");
    return ratio;
}

static void fill(struct cells *cells, const struct lds_figure *figure, const struct lds_bench *bench)
{
    enum lds_print print = figure->name.row->print;
    if (strncmp(figure->unit, "dB", 2) == 0 && !strchr(figure->unit, (int)'/')) {
        write_ratio(cells, figure);
    } else if (print == LDS_PRINT_PERCENT) {
        const struct lds_figure ratio = from_percent(figure);
        write_ratio(cells, &ratio);
    } else if (print == LDS_PRINT_VOLTS) {
        write_number(cells, figure);
        cells->db = lds_screen_decibels(db_of(figure->value), db_of(figure->low), db_of(figure->high), "dBV");
    } else if (print == LDS_PRINT_PLAIN || print == LDS_PRINT_HZ || figure->conditions[0]) {
        write_plain(cells, figure);
    } else {
        write_number(cells, figure);
        if (print == LDS_PRINT_WATTS && isfinite(bench->load_ohm))
            snprintf(cells->rest, sizeof cells->rest, "into %.4g Ω", bench->load_ohm);
    }
}

/* "-90.66 dB", "< -73 dB": points and units each in their column. */
static void print_db(FILE *out, const char *db)
{
    const char *unit = strrchr(db, ' ');
    int digits = unit ? (int)(unit - db) : (int)strlen(db), whole = (int)strcspn(db, ".");
    whole = whole < digits ? whole : digits;
    int before = whole < DB_BEFORE ? DB_BEFORE - whole : 0, used = before + digits;
    int between = used < DB_BEFORE + FRACTION ? DB_BEFORE + FRACTION - used : 0;
    fprintf(out, "%*s%.*s%*s", before, "", digits, db, between, "");
    lds_page_left(out, unit ? unit : "", DB_BEFORE + DB_AFTER - used - between);
}

static void print_columns(FILE *out, const struct cells *cells)
{
    fputs("  ", out);
    lds_page_left(out, cells->label.text, LDS_SCREEN_LABEL);
    lds_page_number(out, cells->number, BEFORE, AFTER);
    lds_page_left(out, cells->unit, UNIT);
    if (lds_words_width(cells->unit) >= UNIT)
        fputc(' ', out);
    if (cells->rest[0]) {
        fprintf(out, "%s", cells->rest);
        fputs(cells->marks[0] ? "  " : "", out);
    } else {
        print_db(out, cells->db.value);
        int wide = lds_words_width(cells->db.interval);
        lds_page_left(out, cells->db.interval, !cells->marks[0] ? 0 : wide < INTERVAL ? INTERVAL : wide);
    }
    fputs(cells->marks, out);
}

static void print(FILE *out, const struct cells *cells)
{
    struct lds_scrap line;
    if (!lds_scrap_open(&line))
        return;
    print_columns(line.out, cells);
    if (lds_scrap_close(&line)) {
        while (line.size > 0 && line.text[line.size - 1] == ' ')
            line.text[--line.size] = '\0';
        if (lds_words_width(line.text) <= LDS_PAGE_COLUMNS)
            fprintf(out, "%s\n", line.text);
        else /* numbers of an absurd size */
            lds_page_paragraph(out, 2, 2, "%s: %s %s %s %s %s %s", cells->label.text, cells->number, cells->unit,
                               cells->db.value, cells->db.interval, cells->rest, cells->marks);
    }
    free(line.text);
}

void lds_screen_marks(struct lds_screen *screen, unsigned flags, const double *band_hz, char *marks)
{
    if (flags & LDS_FLAG_BAND_CUT && band_hz && isfinite(band_hz[0]) && isfinite(band_hz[1])) {
        const struct lds_label covers = lds_label("covers %s to %s, not all of the band asked for.",
                                                  lds_hz(band_hz[0]).text, lds_hz(band_hz[1]).text);
        lds_footnote(&screen->notes, covers.text, marks);
    }
    lds_footnote_flags(&screen->notes, flags & ~(unsigned)LDS_FLAG_NEAR_LINE, true, marks);
    lds_footnote_flags(&screen->notes, flags & LDS_FLAG_NEAR_LINE, screen->on_mains, marks);
}

/* A label that is too long for its column takes a line of its own. */
static void print_label(FILE *out, struct cells *cells)
{
    if (lds_words_width(cells->label.text) < LDS_SCREEN_LABEL)
        return;
    lds_page_paragraph(out, 2, 2, "%s", cells->label.text);
    cells->label.text[0] = '\0';
}

/* The key takes the place of the decibels and the notes. */
static void put_key(const struct lds_figure *figure, struct cells *cells)
{
    snprintf(cells->rest, sizeof cells->rest, "%s", figure->key);
    const char *db = cells->db.value;
    if (!cells->number[0] && db[0]) {
        const char *unit = strrchr(db, ' ');
        snprintf(cells->unit, sizeof cells->unit, "%s", unit ? unit + 1 : "");
        snprintf(cells->number, sizeof cells->number, "%.*s", unit ? (int)(unit - db) : 0, db);
    }
    cells->marks[0] = '\0';
}

/* The label, without the band or orders that the figure covers if there is no room for them. */
static struct lds_label label_of(const struct lds_bench *bench, const struct lds_figure *figure, const int *channels)
{
    char key[96];
    const char *name[2] = {NULL, NULL};
    for (int k = 0; channels && k < 2; k++)
        name[k] = lds_bench_channel_name(bench, channels[k]);
    snprintf(key, sizeof key, channels ? "%s.%d-%d" : "%s", figure->key, channels ? channels[0] : 0,
             channels ? channels[1] : 0);
    const struct lds_label label = lds_named_label(key, figure, name);
    return lds_words_width(label.text) < LDS_SCREEN_LABEL ? label : lds_named_label(key, NULL, name);
}

void lds_screen_row(struct lds_screen *screen, const struct lds_figure *figure, const int *channels)
{
    struct cells cells = {.label = label_of(&screen->measurement->bench, figure, channels)};
    fill(&cells, figure, &screen->measurement->bench);
    if (screen->keys)
        put_key(figure, &cells);
    else
        lds_screen_marks(screen, figure->flags, figure->band_hz, cells.marks);
    if (figure->conditions[0] && !screen->keys)
        lds_footnote(&screen->notes, lds_sentence("%s.", figure->conditions).text, cells.marks);
    print_label(screen->out, &cells);
    print(screen->out, &cells);
}
