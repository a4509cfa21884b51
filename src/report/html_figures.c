/* A group of captures without comparison: the figures of each. */
#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/html_beside.h"
#include "report/plot.h"
#include "report/series_cells.h"

struct place {
    struct lds_html *html;
    xmlNode *section;
    const struct lds_job_group *group;
    const struct lds_measurement *measurement;
    const struct lds_channel *channel;
};

static void open_table(struct lds_html_table *table, const struct place *place, const char *what,
                       const struct lds_html_column *column, size_t columns)
{
    const struct lds_sentence named = lds_sentence("%s, %s", what, lds_plot_base_name(place->measurement->file));
    lds_html_table_begin(table, (struct lds_html_place){place->html, place->section}, named.text, place->group,
                         place->channel ? place->channel->channel : 0, column, columns);
}

static void put_figure(struct lds_html_table *table, const struct lds_figure *figure)
{
    struct lds_scrap scrap;
    struct lds_figure_cells cells = lds_figure_cells(figure);
    xmlNode *label =
        lds_html_table_row(table, LDS_HTML_CELLS(cells.label.text, cells.reading.value, cells.reading.interval,
                                                 cells.reading.unit, cells.second.text));
    if (lds_scrap_open(&scrap)) {
        lds_figure_conditions(scrap.out, figure);
        if (lds_scrap_close(&scrap))
            lds_html_table_remark(table, label, scrap.text);
        free(scrap.text);
    }
}

static const struct lds_html_column figure_columns[] = {{"figure", LDS_HTML_LABEL},
                                                        {"value", LDS_HTML_NUMBER},
                                                        {"95 % interval", LDS_HTML_TEXT},
                                                        {"unit", LDS_HTML_TEXT},
                                                        {"in dBV or %", LDS_HTML_RIGHT}};
enum { FIGURE_COLUMNS = sizeof figure_columns / sizeof figure_columns[0] };

static const struct lds_html_column beside_columns[] = {
    {"value", LDS_HTML_NUMBER}, {"±", LDS_HTML_TEXT}, {"unit", LDS_HTML_TEXT}, {"in dBV or %", LDS_HTML_RIGHT}};
enum { BESIDE = sizeof beside_columns / sizeof beside_columns[0] };

static const struct lds_figure *figure_of(const struct lds_channel *channel, const char *key)
{
    for (size_t i = 0; i < channel->figures; i++)
        if (strcmp(channel->figure[i].key, key) == 0)
            return &channel->figure[i];
    return NULL;
}

/* A row with the figure of this key of each channel. */
static void put_beside(struct lds_html_beside *table, const struct lds_channel *channel, size_t channels,
                       const char *key)
{
    struct lds_figure_cells cells[LDS_SIDE_BY_SIDE];
    struct lds_label label = {""};
    char marks[LDS_MARKS_SIZE] = "";
    const char *text[LDS_HTML_COLUMNS + 1] = {NULL};
    size_t used = 1;
    for (size_t c = 0; c < channels; c++) {
        const struct lds_figure *figure = figure_of(&channel[c], key);
        struct lds_scrap scrap;
        cells[c] = (struct lds_figure_cells){.second = {""}};
        if (figure)
            cells[c] = lds_figure_cells(figure);
        if (figure && lds_scrap_open(&scrap)) {
            lds_figure_conditions(scrap.out, figure);
            if (lds_scrap_close(&scrap) && scrap.text[0])
                lds_footnote(&table->notes, scrap.text, marks);
            free(scrap.text);
        }
        label = figure ? cells[c].label : label;
        const char *const all[BESIDE] = {cells[c].reading.value, cells[c].reading.interval, cells[c].reading.unit,
                                         cells[c].second.text};
        memcpy(&text[used], all, sizeof all);
        used += BESIDE;
    }
    const struct lds_sentence marked = lds_html_marked(label.text, marks);
    text[0] = marked.text;
    lds_html_table_row(&table->table, text);
}

/* The rows of a section, those that only another channel has at its end. */
static void put_section(struct lds_html_beside *table, const struct lds_channel *channel, size_t channels, size_t s)
{
    bool begun = false;
    for (size_t c = 0; c < channels; c++) {
        for (const struct lds_figure *figure = NULL;
             (figure = lds_next_figure(figure, channel[c].figure, channel[c].figures)) != NULL;) {
            if (!lds_key_belongs(figure->key, (int)lds_sections[s].section) || figure->name.row->restates ||
                (c > 0 && figure_of(&channel[0], figure->key)))
                continue;
            if (!begun)
                lds_html_table_group(&table->table, lds_sections[s].heading);
            begun = true;
            put_beside(table, channel, channels, figure->key);
        }
    }
}

/* The figures of channels side by side. */
static void put_figures(const struct place *place, const struct lds_channel *channel, size_t channels)
{
    const struct lds_html_place paragraphs = {place->html, place->section};
    const struct lds_sentence caption = lds_sentence("Figures, %.190s", lds_plot_base_name(place->measurement->file));
    const struct lds_html_beside_form form = {caption.text, "figure", place->group, beside_columns, BESIDE, false};
    struct lds_html_beside table;
    struct lds_footnotes once = {0};
    const struct lds_listener listener = lds_html_once_listener(&once);
    int number[LDS_SIDE_BY_SIDE];
    for (size_t c = 0; c < channels; c++)
        number[c] = channel[c].channel;
    lds_html_beside_open(&table, paragraphs, number, channels, &form);
    for (size_t s = 0; s < LDS_SECTIONS; s++)
        put_section(&table, channel, channels, s);
    lds_html_beside_close(&table);
    for (size_t c = 0; c < channels; c++)
        lds_absents_say("No figure for", channel[c].absent, channel[c].absents, LDS_TEXT_ANY_SECTION, &listener);
    lds_html_once_put(&once, &paragraphs);
}

static void open_series(struct lds_html_table *table, const struct place *place, const struct lds_series_kind *kind,
                        struct lds_html_column column[LDS_HTML_COLUMNS])
{
    static const enum lds_html_kind kinds[] = {[LDS_CELL_LABEL] = LDS_HTML_LABEL,
                                               [LDS_CELL_LEFT] = LDS_HTML_TEXT,
                                               [LDS_CELL_RIGHT] = LDS_HTML_RIGHT,
                                               [LDS_CELL_POINT] = LDS_HTML_NUMBER};
    const struct lds_table_view *view = lds_table_view_of(kind);
    size_t columns = view->cells;
    for (size_t i = 0; i < columns; i++)
        column[i] = (struct lds_html_column){view->cell[i].heading, kinds[view->cell[i].place]};
    if (kind->text)
        column[columns++] = (struct lds_html_column){kind->text, LDS_HTML_TEXT};
    open_table(table, place, view->caption ? view->caption : kind->label, column, columns);
}

static void put_row(struct lds_html_table *table, const struct lds_series *series, size_t row, bool calibrated,
                    double largest)
{
    const struct lds_table_view *view = lds_table_view_of(series->kind);
    struct lds_label text[LDS_HTML_COLUMNS];
    const char *cell[LDS_HTML_COLUMNS + 1] = {NULL};
    for (size_t i = 0; i < view->cells; i++) {
        text[i] = lds_series_cell_words(series, row, &view->cell[i], calibrated, largest);
        cell[i] = text[i].text;
    }
    if (series->text)
        cell[view->cells] = series->text[row];
    lds_html_table_remark(table, lds_html_table_row(table, cell), lds_series_flag_words(series, row).text);
}

static void put_one_series(const struct place *place, const struct lds_series *series, bool calibrated)
{
    const struct lds_table_view *view = lds_table_view_of(series->kind);
    struct lds_html_place paragraphs = {place->html, place->section};
    const struct lds_listener listener = lds_html_listener(&paragraphs);
    struct lds_html_column column[LDS_HTML_COLUMNS];
    struct lds_html_table table;
    size_t shown, more, *row = lds_series_pick(series, &shown, &more);
    if (shown > 0)
        open_series(&table, place, series->kind, column);
    for (size_t i = 0; i < shown; i++)
        put_row(&table, series, row[i], calibrated, lds_series_largest(series));
    if (shown > 0)
        lds_html_table_close(&table);
    if (more > 0)
        lds_html_format(place->html, lds_html_add(place->html, place->section, "p"),
                        "%zu %s stand in the JSON and CSV reports.", more, view->more);
    lds_series_unseen_say(series, calibrated, &listener);
    free(row);
}

static void put_series(const struct place *place, const struct lds_series *series, size_t count, bool calibrated)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        const struct lds_table_view *view = lds_table_view_of(&kind[k]);
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        if (view && one->rows > 0)
            put_one_series(place, one, calibrated);
        else if (view && view->none && place->channel)
            lds_html_format(place->html, lds_html_add(place->html, place->section, "p"), "%s: %s", view->caption,
                            view->none);
    }
}

static void put_pairs(struct place *place)
{
    place->channel = NULL;
    for (size_t p = 0; p < place->measurement->pairs; p++) {
        const struct lds_pair *pair = &place->measurement->pair[p];
        struct lds_html_table table;
        if (pair->figures > 0) {
            const struct lds_label words = lds_pair_words_of(place->measurement, pair->channels);
            open_table(&table, place,
                       lds_sentence("%c%s together", toupper((unsigned char)words.text[0]), words.text + 1).text,
                       figure_columns, FIGURE_COLUMNS);
            for (const struct lds_figure *one = NULL;
                 (one = lds_next_figure(one, pair->figure, pair->figures)) != NULL;)
                put_figure(&table, one);
            lds_html_table_close(&table);
        }
        put_series(place, pair->series, pair->series_count, lds_pairs_calibrated(place->measurement));
    }
}

static void put_capture(struct place *place, const char *when)
{
    const struct lds_measurement *measurement = place->measurement;
    const size_t channels = measurement->channels;
    lds_html_format(place->html, lds_html_add(place->html, place->section, "h3"), "%s%s%s",
                    lds_plot_base_name(measurement->file), when[0] ? ", " : "", when);
    for (size_t i = 0; i < channels; i += LDS_SIDE_BY_SIDE)
        put_figures(place, &measurement->channel[i], channels - i < LDS_SIDE_BY_SIDE ? channels - i : LDS_SIDE_BY_SIDE);
    for (size_t i = 0; i < channels; i++) {
        place->channel = &measurement->channel[i];
        put_series(place, place->channel->series, place->channel->series_count, place->channel->calibrated);
    }
    put_pairs(place);
}

void lds_html_figures(struct lds_html *html, const struct lds_job_group *group)
{
    const struct {
        const char *when;
        const struct lds_measurement **capture;
        size_t count;
    } sides[] = {{"before", group->before_capture, group->before},
                 {"after", group->after_capture, group->after},
                 {"", group->other_capture, group->other}};
    const struct lds_sentence heading = lds_sentence("Appendix: figures, %s", group->title);
    struct place place = {.html = html, .section = lds_html_section(html, heading.text), .group = group};
    for (size_t s = 0; s < sizeof sides / sizeof sides[0]; s++)
        for (size_t i = 0; i < sides[s].count; i++) {
            place.measurement = sides[s].capture[i];
            put_capture(&place, sides[s].when);
        }
}
