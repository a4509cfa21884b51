/* Single lines that changed, where a curve changed, and the limits, each for all channels. */

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/html_beside.h"

/* The strongest level of a row decides its unit. */
static double largest_of(const struct lds_line_row *row)
{
    double largest = 0.0;
    for (size_t c = 0; c < LDS_SIDE_BY_SIDE; c++)
        if (row->of[c])
            largest = fmax(largest, lds_line_strength(row->of[c]));
    return largest;
}

static void put_line(struct lds_html_beside *table, const struct lds_beside *beside, const struct lds_line_row *row)
{
    struct lds_line_cells cells[LDS_SIDE_BY_SIDE];
    struct lds_label label = {""};
    char unit[24] = "", marks[LDS_MARKS_SIZE] = "";
    const char *text[LDS_HTML_COLUMNS + 1] = {NULL, unit};
    size_t used = 2;
    for (size_t c = 0; c < beside->channels; c++) {
        cells[c] = (struct lds_line_cells){.word = ""};
        if (row->of[c]) {
            cells[c] = lds_line_cells(beside->channel[c], row->of[c]);
            lds_line_levels(&cells[c], beside->channel[c], row->of[c], largest_of(row), unit, sizeof unit);
            label = lds_label("%s, %s", cells[c].label.text, cells[c].frequency.text);
            if (cells[c].origin[0])
                lds_footnote(&table->notes, cells[c].origin, marks);
        }
        const char *const all[LDS_HTML_JUDGED] = {cells[c].before.text, cells[c].after.text, cells[c].change.value,
                                                  cells[c].change.interval, cells[c].word};
        memcpy(&text[used], all, sizeof all);
        used += LDS_HTML_JUDGED;
    }
    const struct lds_sentence marked = lds_html_marked(label.text, marks);
    text[0] = marked.text;
    lds_html_table_row(&table->table, text);
}

/* "Left: 32 weaker ones that changed stand in the JSON and CSV reports. The other 4 lines: the same." */
static void put_rest(const struct lds_html_place *place, const struct lds_compared_channel *channel)
{
    const struct lds_sentence weaker = lds_lines_weaker(channel), uncalled = lds_lines_uncalled(channel);
    if (weaker.text[0] || uncalled.text[0])
        lds_html_sentence(place, lds_sentence("%s: %s%s%s", lds_html_channel_name(place->html, channel->channel).text,
                                              weaker.text, weaker.text[0] ? ". " : "", uncalled.text)
                                     .text);
}

void lds_html_line_changes(const struct lds_html_place *place, const struct lds_job_group *group,
                           const struct lds_beside *beside)
{
    const struct lds_html_beside_form form = {"Lines that changed", "line",          group,
                                              lds_html_judged,      LDS_HTML_JUDGED, true};
    struct lds_html_beside table;
    size_t rows;
    struct lds_line_row *row = lds_line_rows(beside, &rows);
    if (rows > 0)
        lds_html_beside_open(&table, *place, beside->number, beside->channels, &form);
    for (size_t i = 0; i < rows; i++)
        put_line(&table, beside, &row[i]);
    if (rows > 0)
        lds_html_beside_close(&table);
    for (size_t c = 0; c < beside->channels; c++)
        put_rest(place, beside->channel[c]);
    free(row);
}

static void put_axis(const struct lds_html_place *place, const char *channel, const struct lds_axis_change *axis)
{
    xmlNode *paragraph = lds_html_element(place->html, place->parent, "p", "note", NULL);
    lds_html_format(place->html, paragraph, "%s, %s: ", lds_axis_title(axis).text, channel);
    for (size_t i = 0; i < axis->regions; i++)
        lds_html_format(place->html, paragraph, "%s. ", lds_region_sentence(axis, &axis->region[i]).text);
    lds_html_text(place->html, paragraph, lds_regions_none(axis).text);
}

void lds_html_axes(const struct lds_html_place *place, const struct lds_comparison *comparison)
{
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_compared_channel *channel = &comparison->channel[c];
        for (size_t a = 0; a < channel->axes; a++)
            put_axis(place, lds_job_channel_words(place->html->job->sheet, channel->channel).text, &channel->axis[a]);
    }
}

static void put_limits(struct lds_html_table *table, struct lds_footnotes *notes, const struct lds_html *html,
                       const struct lds_job_group *group)
{
    for (size_t c = 0; c < group->comparison.channels; c++) {
        const struct lds_compared_channel *channel = &group->comparison.channel[c];
        for (size_t i = 0; i < channel->limits; i++) {
            char marks[LDS_MARKS_SIZE] = "";
            struct lds_limit_cells cells = lds_limit_cells(channel, &channel->limit[i]);
            if (channel->limit[i].reason)
                lds_footnote(notes, channel->limit[i].reason, marks);
            lds_html_table_row(table, LDS_HTML_CELLS(lds_html_marked(cells.label.text, marks).text,
                                                     lds_html_channel_name(html, channel->channel).text,
                                                     lds_label("%s %s", cells.kind, cells.bound.text).text,
                                                     cells.reading.value, cells.reading.interval, cells.reading.unit,
                                                     cells.result));
        }
    }
}

static size_t limits_of(const struct lds_job_group *group)
{
    size_t limits = 0;
    for (size_t c = 0; c < group->comparison.channels; c++)
        limits += group->comparison.channel[c].limits;
    return limits;
}

void lds_html_limits(struct lds_html *html)
{
    static const struct lds_html_column heads[] = {
        {"figure", LDS_HTML_LABEL}, {"channel", LDS_HTML_TEXT}, {"limit", LDS_HTML_TEXT}, {"found", LDS_HTML_NUMBER},
        {"±", LDS_HTML_TEXT},       {"unit", LDS_HTML_TEXT},    {"result", LDS_HTML_TEXT}};
    struct lds_html_place place = {html, NULL};
    struct lds_html_table table;
    struct lds_footnotes notes = {0};
    for (size_t g = 0; g < html->job->groups; g++) {
        if (limits_of(&html->job->group[g]) == 0)
            continue;
        if (!place.parent) {
            place.parent = lds_html_section(html, "Limits");
            lds_html_table_open(&table, html, place.parent, "Limits of this job", heads,
                                sizeof heads / sizeof heads[0]);
        }
        lds_html_table_group(&table, html->job->group[g].title);
        put_limits(&table, &notes, html, &html->job->group[g]);
    }
    if (place.parent)
        lds_html_table_close(&table);
    lds_html_notes(html, place.parent, &notes);
    lds_footnotes_free(&notes);
}
