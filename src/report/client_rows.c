/* The table of the client's page: three digits, changes no finer than 0.1 dB. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/client_parts.h"
#include "report/figures.h"
#include "report/text.h"

static const double FINEST_DB = 0.1;

/* A value of a change as people read it: volts as they are, ratios in per cent. */
static double as_read(const struct lds_change *change, double value)
{
    bool ratio = lds_key_find(change->key)->print == LDS_PRINT_RATIO && strcmp(change->value_unit, "dB") == 0;
    return ratio ? lds_percent(value) : value;
}

/* The largest value of a row decides its unit. */
static double set_unit(struct lds_client_row *row, const struct lds_change *change, double largest)
{
    static const struct {
        double least;
        const char *prefix;
    } prefixes[] = {{1.0, ""}, {1e-3, "m"}, {1e-6, "µ"}, {0.0, "n"}};
    if (lds_key_find(change->key)->print == LDS_PRINT_RATIO && strcmp(change->value_unit, "dB") == 0) {
        snprintf(row->unit, sizeof row->unit, "%%");
        return 1.0;
    }
    if (change->value_unit[0] != 'V') {
        snprintf(row->unit, sizeof row->unit, "%s", change->value_unit);
        return 1.0;
    }
    size_t i = 0;
    while (i + 1 < sizeof prefixes / sizeof prefixes[0] && largest < prefixes[i].least)
        i++;
    snprintf(row->unit, sizeof row->unit, "%s%s", prefixes[i].prefix, change->value_unit);
    return prefixes[i].least > 0.0 ? prefixes[i].least : 1e-9;
}

/* Three significant digits, two of a ratio in per cent; decibels to a tenth. */
static void write_value(const struct lds_change *change, double value, double scale, char *text, size_t size)
{
    double number = as_read(change, value) / scale;
    if (!isfinite(number)) {
        snprintf(text, size, "< floor");
        return;
    }
    bool decibels = strncmp(change->value_unit, "dB", 2) == 0 && number == value;
    int digits = number == value / scale ? 3 : 2;
    int decimals = decibels || number == 0.0 ? 1 : digits - 1 - (int)floor(log10(fabs(number)) + 1e-12);
    decimals = decimals < 0 ? 0 : decimals > 5 ? 5 : decimals;
    snprintf(text, size, "%.*f", decimals, number);
}

static double tenth_up(double width)
{
    return fmax(ceil(width / FINEST_DB - 0.5) * FINEST_DB, FINEST_DB);
}

/* A change in dB to a tenth, with the larger side of its interval. */
static void write_decibels(struct lds_client_cell *cell, const struct lds_change *change)
{
    bool down = change->word == LDS_LOWER || change->word == LDS_SLIGHTLY_LOWER;
    double up = change->high - change->change, below = change->change - change->low;
    if (change->at_least) {
        snprintf(cell->change, sizeof cell->change, "%.1f", down ? change->high : change->low);
        snprintf(cell->interval, sizeof cell->interval, "or more");
    } else if (isfinite(change->change)) {
        snprintf(cell->change, sizeof cell->change, "%+.1f", change->change);
        if (strspn(cell->change, "+-0.") == strlen(cell->change))
            snprintf(cell->change, sizeof cell->change, "0.0");
        if (isfinite(up) && isfinite(below))
            snprintf(cell->interval, sizeof cell->interval, "±%.1f", tenth_up(fmax(up, below)));
    }
}

static void write_other(struct lds_client_cell *cell, const struct lds_change *change, double scale)
{
    if (!isfinite(change->change))
        return;
    double half = fmax(change->high - change->change, change->change - change->low) / scale;
    snprintf(cell->change, sizeof cell->change, "%+.3g", change->change / scale);
    if (isfinite(half))
        snprintf(cell->interval, sizeof cell->interval, "±%.2g", half);
}

static void write_words(struct lds_client_row *row, size_t channels)
{
    const char *first = NULL;
    bool all = true;
    size_t used = 0;
    for (size_t c = 0; c < channels; c++) {
        const char *word = row->cell[c].of ? lds_word_name(row->cell[c].of->word) : NULL;
        all = all && (!word || !first || strcmp(word, first) == 0);
        first = first ? first : word;
    }
    row->word[0] = '\0';
    for (size_t c = 0; c < channels; c++) {
        const struct lds_change *change = row->cell[c].of;
        if (!change || (all && used > 0))
            continue;
        int length = snprintf(row->word + used, sizeof row->word - used, "%s%s%s", used > 0 ? ", " : "",
                              lds_word_name(change->word), change->worse ? " (worse)" : "");
        used += length > 0 && (size_t)length < sizeof row->word - used ? (size_t)length : 0;
    }
}

static size_t place_of(const struct lds_client *client, int channel)
{
    size_t place = 0;
    while (place < client->channels && client->channel[place] != channel)
        place++;
    return place;
}

static void add_channels(struct lds_client *client, const struct lds_answer *answer)
{
    for (int number = 1; number <= LDS_CHANNELS_MAX; number++)
        for (size_t i = 0; i < answer->figures; i++)
            for (size_t c = 0; c < answer->figure[i].channels; c++)
                if (answer->figure[i].channel[c] == number && place_of(client, number) == client->channels)
                    client->channel[client->channels++] = number;
}

void lds_client_label(const char *key, const char *title, char *label, size_t size)
{
    char text[160];
    const struct lds_figure_name name = lds_key_read(key);
    if (title && lds_figure_rank(&name) > 0) /* its usual band need not be said */
        snprintf(text, sizeof text, "%s", name.row->label);
    else
        lds_text_label(key, NULL, text, sizeof text);
    if (title && strchr(title, ','))
        snprintf(label, size, "%s (%s)", text, title);
    else
        snprintf(label, size, "%s%s%s", text, title ? " at " : "", title ? title : "");
    label[0] = (char)toupper((unsigned char)label[0]);
}

static void make_row(struct lds_client *client, const struct lds_answer_figure *figure, const char *title)
{
    struct lds_client_row *row = &client->row[client->rows++];
    double largest = 0.0;
    /* of two channels it is clear which the pair is */
    char stem[64];
    const struct lds_key *key = figure->name.row;
    bool pair = key->section == LDS_PAIR && !key->directed && client->channels <= 2;
    snprintf(stem, sizeof stem, "%s", pair ? key->stem : figure->key);
    lds_client_label(stem, title, row->label, sizeof row->label);
    for (size_t c = 0; c < figure->channels; c++)
        largest = fmax(largest, fmax(fabs(figure->change[c]->before), fabs(figure->change[c]->after)));
    double scale = set_unit(row, figure->change[0], largest);
    row->decibels = strcmp(figure->change[0]->unit, "dB") == 0;
    for (size_t c = 0; c < figure->channels; c++) {
        const struct lds_change *change = figure->change[c];
        struct lds_client_cell *cell = &row->cell[place_of(client, figure->channel[c])];
        cell->of = change;
        write_value(change, change->before, scale, cell->before, sizeof cell->before);
        write_value(change, change->after, scale, cell->after, sizeof cell->after);
        if (row->decibels)
            write_decibels(cell, change);
        else
            write_other(cell, change, scale);
    }
    write_words(row, client->channels);
}

void lds_client_rows(struct lds_client *client, const struct lds_answer *answer, const struct lds_answer_group *group)
{
    add_channels(client, answer);
    for (size_t i = 0; i < answer->figures; i++)
        make_row(client, &answer->figure[i], group[answer->figure[i].group].title);
}
