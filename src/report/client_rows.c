/* The table of the client's page: three digits, changes no finer than 0.1 dB. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/answer_parts.h"
#include "report/client.h"
#include "report/reading.h"
#include "report/screen.h"
#include "report/text.h"

static const double FINEST_DB = 0.1;
static const double PERCENT_DB = 3.0; /* half-width at which a ratio in per cent has two or three digits */

/* How the values of a row are written. */
struct scale {
    const char *unit;
    double reference; /* of lds_reading: the largest value, whose prefix all take */
    bool percent;
};

/* Three significant digits, or two to three for a ratio in per cent; decibels to a tenth. */
static struct lds_short value_words(const struct scale *scale, double value)
{
    if (!isfinite(value))
        return lds_short("< floor");
    if (scale->percent)
        return lds_short("%.31s", lds_screen_percent(value, value - PERCENT_DB, value + PERCENT_DB).text);
    if (strncmp(scale->unit, "dB", 2) == 0)
        return lds_short("%.1f", value);
    return lds_short("%s", lds_reading(value, NAN, NAN, scale->unit, scale->reference, false).value);
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
        cell->change = lds_short("%.1f", down ? change->high : change->low);
        cell->interval = lds_short("or more");
    } else if (isfinite(change->change)) {
        cell->change = lds_short("%+.1f", change->change);
        if (strspn(cell->change.text, "+-0.") == strlen(cell->change.text))
            cell->change = lds_short("0.0");
        if (isfinite(up) && isfinite(below))
            cell->interval = lds_short("±%.1f", tenth_up(fmax(up, below)));
    }
}

static void write_other(struct lds_client_cell *cell, const struct lds_change *change, const struct scale *scale)
{
    if (!isfinite(change->change))
        return;
    struct lds_reading reading =
        lds_reading(change->change, change->low, change->high, scale->unit, scale->reference, false);
    cell->change = lds_short("%s%s", change->change > 0.0 ? "+" : "", reading.value);
    cell->interval = lds_short("%s", reading.interval);
}

static struct scale make_scale(struct lds_client_row *row, const struct lds_answer_figure *figure)
{
    double largest = 0.0;
    for (size_t c = 0; c < figure->channels; c++) /* fmax ignores NAN */
        largest = fmax(largest, fmax(fabs(figure->change[c]->before), fabs(figure->change[c]->after)));
    const char *unit = figure->change[0]->value_unit;
    bool percent = figure->name.row->print == LDS_PRINT_RATIO && strcmp(unit, "dB") == 0;
    snprintf(row->unit, sizeof row->unit, "%s",
             percent ? "%" : lds_reading(largest, NAN, NAN, unit, lds_unit_is_linear(unit) ? 0.0 : NAN, false).unit);
    return (struct scale){unit, lds_unit_is_linear(unit) ? largest : NAN, percent};
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

struct lds_label lds_client_label(const char *key, const char *where)
{
    const struct lds_figure_name name = lds_key_read(key);
    const bool usual = where[0] && lds_figure_rank(&name) > 0; /* then the label needs no band */
    struct lds_label label = usual ? lds_label("%s", name.row->label) : lds_text_label(key, NULL);
    label = lds_label("%s%s", label.text, where);
    label.text[0] = (char)toupper((unsigned char)label.text[0]);
    return label;
}

static void make_row(struct lds_client *client, const struct lds_answer_figure *figure)
{
    struct lds_client_row *row = &client->row[client->rows++];
    /* with two channels there is only one pair, so the label does not name it */
    const struct lds_key *key = figure->name.row;
    bool pair = key->section == LDS_PAIR && !key->directed && client->channels <= 2;
    row->label = lds_client_label(pair ? key->stem : figure->key, lds_answer_where(figure).text);
    const struct scale scale = make_scale(row, figure);
    row->decibels = strcmp(figure->change[0]->unit, "dB") == 0;
    for (size_t c = 0; c < figure->channels; c++) {
        const struct lds_change *change = figure->change[c];
        struct lds_client_cell *cell = &row->cell[place_of(client, figure->channel[c])];
        cell->of = change;
        cell->before = value_words(&scale, change->before);
        cell->after = value_words(&scale, change->after);
        if (row->decibels)
            write_decibels(cell, change);
        else
            write_other(cell, change, &scale);
    }
    write_words(row, client->channels);
}

void lds_client_rows(struct lds_client *client, const struct lds_answer *answer)
{
    add_channels(client, answer);
    for (size_t i = 0; i < answer->figures; i++)
        make_row(client, &answer->figure[i]);
}
