/* A group of captures with nothing to compare them with: the figures of each. */
#include <math.h>
#include <stdlib.h>

#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/html_parts.h"
#include "report/html_table.h"
#include "report/plot.h"

struct place {
    struct lds_html *html;
    xmlNode *section;
    const struct lds_job_group *group;
    const struct lds_measurement *measurement;
    const struct lds_channel *channel;
};

static void make_caption(const struct place *place, const char *what, char *caption, size_t size)
{
    char named[200];
    snprintf(named, sizeof named, "%s, %s", what, lds_plot_base_name(place->measurement->file));
    lds_html_caption(place->html, named, place->group, place->channel ? place->channel->channel : 0, caption, size);
}

static void put_figure(struct lds_html_table *table, const struct lds_figure *figure)
{
    struct lds_figure_cells cells;
    struct lds_scrap scrap;
    lds_figure_cells_make(&cells, figure);
    lds_html_table_row(table);
    xmlNode *label = lds_html_table_cell(table, cells.label);
    if (lds_scrap_open(&scrap)) {
        lds_figure_conditions(scrap.out, figure);
        if (lds_scrap_close(&scrap))
            lds_html_table_remark(table, label, scrap.text);
        free(scrap.text);
    }
    lds_html_table_cell(table, cells.reading.value);
    lds_html_table_cell(table, cells.reading.interval);
    lds_html_table_cell(table, cells.reading.unit);
    lds_html_table_cell(table, cells.second);
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
    place->html->failed = place->html->failed || !figure || !absent;
    struct lds_html_table table;
    char caption[400];
    make_caption(place, "Figures", caption, sizeof caption);
    lds_html_table_open(&table, place->html, place->section, caption, figure_columns, FIGURE_COLUMNS);
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

/* A paragraph of what was written, which is freed. */
static void put_scrap(const struct place *place, struct lds_scrap *scrap)
{
    if (lds_scrap_close(scrap))
        lds_html_paragraph(place->html, place->section, scrap->text);
    free(scrap->text);
}

static void put_unseen(const struct place *place, const struct lds_line *line, size_t count, int from, const char *unit,
                       bool relative)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_lines_unseen(scrap.out, line, count, from, unit, relative);
    put_scrap(place, &scrap);
}

static void put_hidden(const struct place *place, const struct lds_line *line, size_t count)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_lines_hidden(scrap.out, line, count);
    put_scrap(place, &scrap);
}

static void put_harmonics(const struct place *place)
{
    static const struct lds_html_column columns[] = {{"harmonic", LDS_HTML_LABEL},
                                                     {"frequency", LDS_HTML_RIGHT},
                                                     {"level", LDS_HTML_NUMBER},
                                                     {"unit", LDS_HTML_TEXT},
                                                     {"re fundamental, dB", LDS_HTML_NUMBER},
                                                     {"95 % interval", LDS_HTML_TEXT},
                                                     {"per cent", LDS_HTML_RIGHT},
                                                     {"phase", LDS_HTML_RIGHT}};
    const struct lds_channel *channel = place->channel;
    double strongest = lds_lines_strongest(channel->harmonic, channel->harmonics, 2);
    struct lds_html_table table = {0};
    char text[400];
    for (size_t i = 0; i < channel->harmonics; i++) {
        struct lds_captured_line cells;
        if (channel->harmonic[i].order < 2 || !lds_line_is_seen(&channel->harmonic[i]))
            continue;
        if (!table.html) {
            make_caption(place, "Harmonics", text, sizeof text);
            lds_html_table_open(&table, place->html, place->section, text, columns, sizeof columns / sizeof columns[0]);
        }
        lds_captured_line_make(&cells, &channel->harmonic[i], channel->calibrated, strongest);
        lds_html_table_row(&table);
        snprintf(text, sizeof text, "%d", channel->harmonic[i].order);
        lds_html_table_remark(&table, lds_html_table_cell(&table, text), cells.flags);
        lds_html_table_cell(&table, cells.frequency);
        lds_html_table_cell(&table, cells.level.value);
        lds_html_table_cell(&table, cells.level.unit);
        lds_html_table_cell(&table, cells.relative.value);
        lds_html_table_cell(&table, cells.relative.interval);
        lds_html_table_cell(&table, cells.percent);
        lds_html_table_cell(&table, cells.phase);
    }
    if (table.html)
        lds_html_table_close(&table);
    put_unseen(place, channel->harmonic, channel->harmonics, 2, "dB", true);
}

static void put_mains(const struct place *place)
{
    static const struct lds_html_column columns[] = {{"mains order", LDS_HTML_LABEL},
                                                     {"frequency", LDS_HTML_RIGHT},
                                                     {"level", LDS_HTML_NUMBER},
                                                     {"95 % interval", LDS_HTML_TEXT},
                                                     {"unit", LDS_HTML_TEXT}};
    const struct lds_channel *channel = place->channel;
    double strongest = lds_lines_strongest(channel->main, channel->mains, 1);
    double least = lds_lines_least(channel->main, channel->mains);
    struct lds_html_table table = {0};
    size_t seen = 0, shown = 0;
    char text[400];
    for (size_t i = 0; i < channel->mains; i++) {
        struct lds_captured_line cells;
        const struct lds_line *line = &channel->main[i];
        seen += lds_line_is_seen(line);
        if (!lds_line_is_seen(line) || line->level < least || shown == LDS_LINES_SHOWN)
            continue;
        if (shown++ == 0) {
            make_caption(place, "Mains orders", text, sizeof text);
            lds_html_table_open(&table, place->html, place->section, text, columns, sizeof columns / sizeof columns[0]);
        }
        lds_captured_line_make(&cells, line, channel->calibrated, strongest);
        lds_html_table_row(&table);
        snprintf(text, sizeof text, "%d", line->order);
        lds_html_table_remark(&table, lds_html_table_cell(&table, text), cells.flags);
        lds_html_table_cell(&table, cells.frequency);
        lds_html_table_cell(&table, cells.level.value);
        lds_html_table_cell(&table, cells.level.interval);
        lds_html_table_cell(&table, cells.level.unit);
    }
    if (table.html)
        lds_html_table_close(&table);
    if (seen > shown)
        lds_html_format(place->html, lds_html_add(place->html, place->section, "p"),
                        "%zu weaker orders stand in the JSON and CSV reports.", seen - shown);
    put_unseen(place, channel->main, channel->mains, 1, channel->calibrated ? "V" : "dBFS", false);
    put_hidden(place, channel->main, channel->mains);
}

static void put_spurs(const struct place *place)
{
    static const struct lds_html_column columns[] = {{"other line", LDS_HTML_LABEL},
                                                     {"level", LDS_HTML_NUMBER},
                                                     {"unit", LDS_HTML_TEXT},
                                                     {"over threshold, dB", LDS_HTML_NUMBER},
                                                     {"origin", LDS_HTML_TEXT}};
    const struct lds_channel *channel = place->channel;
    struct lds_spur *spur = lds_spurs_sorted(channel);
    double strongest = lds_spurs_strongest(channel);
    struct lds_html_table table;
    char caption[400];
    place->html->failed = place->html->failed || !spur;
    if (!spur || channel->spurs == 0) {
        lds_html_paragraph(place->html, place->section, "Other lines: none found above the floor.");
        free(spur);
        return;
    }
    make_caption(place, "Other lines", caption, sizeof caption);
    lds_html_table_open(&table, place->html, place->section, caption, columns, sizeof columns / sizeof columns[0]);
    for (size_t i = 0; i < channel->spurs && i < LDS_LINES_SHOWN; i++) {
        struct lds_captured_spur cells;
        lds_captured_spur_make(&cells, &spur[i], channel->calibrated, strongest);
        lds_html_table_row(&table);
        lds_html_table_cell(&table, cells.frequency);
        lds_html_table_cell(&table, cells.level.value);
        lds_html_table_cell(&table, cells.level.unit);
        lds_html_table_cell(&table, cells.margin);
        lds_html_table_cell(&table, spur[i].origin);
    }
    lds_html_table_close(&table);
    if (channel->spurs > LDS_LINES_SHOWN)
        lds_html_format(place->html, lds_html_add(place->html, place->section, "p"),
                        "%zu weaker ones stand in the JSON and CSV reports.", channel->spurs - LDS_LINES_SHOWN);
    free(spur);
}

static void put_pairs(struct place *place)
{
    place->channel = NULL;
    for (size_t p = 0; p < place->measurement->pairs; p++) {
        const struct lds_pair *pair = &place->measurement->pair[p];
        const struct lds_figure **figure = lds_figures_sorted(pair->figure, pair->figures);
        struct lds_html_table table;
        char what[64], caption[400];
        place->html->failed = place->html->failed || !figure;
        if (figure && pair->figures > 0) {
            snprintf(what, sizeof what, "Channels %d and %d together", pair->channels[0], pair->channels[1]);
            make_caption(place, what, caption, sizeof caption);
            lds_html_table_open(&table, place->html, place->section, caption, figure_columns, FIGURE_COLUMNS);
            for (size_t i = 0; i < pair->figures; i++)
                put_figure(&table, figure[i]);
            lds_html_table_close(&table);
        }
        free(figure);
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
        if (measurement->channel[i].harmonics > 0)
            put_harmonics(place);
        if (measurement->channel[i].mains > 0)
            put_mains(place);
        put_spurs(place);
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
    snprintf(heading, sizeof heading, "Figures: %s", group->title);
    struct place place = {.html = html, .section = lds_html_section(html, heading), .group = group};
    for (size_t s = 0; s < sizeof sides / sizeof sides[0]; s++)
        for (size_t i = 0; i < sides[s].count; i++) {
            place.measurement = sides[s].capture[i];
            put_capture(&place, sides[s].when);
        }
}
