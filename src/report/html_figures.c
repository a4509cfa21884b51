/* A group of captures without comparison: the figures of each. */
#include <math.h>
#include <stdlib.h>

#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/html_parts.h"
#include "report/html_table.h"
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
    char named[200];
    snprintf(named, sizeof named, "%s, %s", what, lds_plot_base_name(place->measurement->file));
    lds_html_table_begin(table, (struct lds_html_place){place->html, place->section}, named, place->group,
                         place->channel ? place->channel->channel : 0, column, columns);
}

static void put_figure(struct lds_html_table *table, const struct lds_figure *figure)
{
    struct lds_figure_cells cells;
    struct lds_scrap scrap;
    lds_figure_cells_make(&cells, figure);
    xmlNode *label = lds_html_table_row(table, LDS_HTML_CELLS(cells.label, cells.reading.value, cells.reading.interval,
                                                              cells.reading.unit, cells.second));
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

static void put_figures(const struct place *place)
{
    const struct lds_channel *channel = place->channel;
    const struct lds_figure **figure = lds_figures_sorted(channel->figure, channel->figures);
    const struct lds_absent **absent = lds_absents_sorted(channel->absent, channel->absents);
    struct lds_html_table table;
    open_table(&table, place, "Figures", figure_columns, FIGURE_COLUMNS);
    for (int s = 0; figure && s < LDS_SECTIONS; s++) {
        bool begun = false;
        for (size_t i = 0; i < channel->figures; i++) {
            if (!lds_key_belongs(figure[i]->key, (int)lds_sections[s].section))
                continue;
            if (!begun)
                lds_html_table_group(&table, lds_sections[s].heading);
            begun = true;
            put_figure(&table, figure[i]);
        }
    }
    lds_html_table_close(&table);
    struct lds_html_place paragraphs = {place->html, place->section};
    const struct lds_listener listener = lds_html_listener(&paragraphs);
    if (absent)
        lds_absents_say("No figure for", absent, channel->absents, LDS_TEXT_ANY_SECTION, &listener);
    free(figure);
    free(absent);
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
    char text[LDS_HTML_COLUMNS][160], flags[160];
    const char *cell[LDS_HTML_COLUMNS + 1] = {NULL};
    for (size_t i = 0; i < view->cells; i++) {
        lds_series_cell_write(series, row, &view->cell[i], calibrated, largest, text[i], sizeof text[i]);
        cell[i] = text[i];
    }
    if (series->text)
        cell[view->cells] = series->text[row];
    lds_series_flags_write(series, row, flags, sizeof flags);
    lds_html_table_remark(table, lds_html_table_row(table, cell), flags);
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
        const struct lds_figure **figure = lds_figures_sorted(pair->figure, pair->figures);
        struct lds_html_table table;
        char what[64];
        if (figure && pair->figures > 0) {
            snprintf(what, sizeof what, "Channels %d and %d together", pair->channels[0], pair->channels[1]);
            open_table(&table, place, what, figure_columns, FIGURE_COLUMNS);
            for (size_t i = 0; i < pair->figures; i++)
                put_figure(&table, figure[i]);
            lds_html_table_close(&table);
        }
        free(figure);
        put_series(place, pair->series, pair->series_count, lds_pairs_calibrated(place->measurement));
    }
}

static void put_capture(struct place *place, const char *when)
{
    const struct lds_measurement *measurement = place->measurement;
    for (size_t i = 0; i < measurement->channels; i++) {
        char words[160];
        place->channel = &measurement->channel[i];
        lds_job_channel_words(place->html->job->sheet, place->channel->channel, words, sizeof words);
        xmlNode *heading = lds_html_add(place->html, place->section, "h3");
        lds_html_format(place->html, heading, "%s%s%s, %s", lds_plot_base_name(measurement->file), when[0] ? ", " : "",
                        when, words);
        put_figures(place);
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
    char heading[256];
    snprintf(heading, sizeof heading, "Appendix: figures, %s", group->title);
    struct place place = {.html = html, .section = lds_html_section(html, heading), .group = group};
    for (size_t s = 0; s < sizeof sides / sizeof sides[0]; s++)
        for (size_t i = 0; i < sides[s].count; i++) {
            place.measurement = sides[s].capture[i];
            put_capture(&place, sides[s].when);
        }
}
