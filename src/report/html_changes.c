/* A group of captures before and after the work: what changed, what did not, and what is uncertain. */
#include <stdlib.h>

#include "report/comparison_cells.h"
#include "report/figures.h"
#include "report/html_parts.h"
#include "report/html_table.h"

/* The result comes first, as in the text: on a narrow screen the other columns scroll. */
static const struct lds_html_column change_columns[] = {
    {"figure", LDS_HTML_LABEL},       {"result", LDS_HTML_TEXT},   {"change, dB", LDS_HTML_NUMBER},
    {"95 % interval", LDS_HTML_TEXT}, {"before", LDS_HTML_NUMBER}, {"after", LDS_HTML_NUMBER},
    {"unit", LDS_HTML_TEXT},
};
static const struct lds_html_column shown_columns[] = {
    {"figure", LDS_HTML_LABEL}, {"before", LDS_HTML_NUMBER}, {"after", LDS_HTML_NUMBER}, {"unit", LDS_HTML_TEXT}};

static void put_flags(struct lds_html_table *table, xmlNode *cell, unsigned flags)
{
    struct lds_scrap scrap;
    if (!flags || !lds_scrap_open(&scrap))
        return;
    lds_flags_print(scrap.out, flags, "; ");
    if (lds_scrap_close(&scrap))
        lds_html_table_remark(table, cell, scrap.text);
    free(scrap.text);
}

static void put_change(struct lds_html_table *table, const struct lds_change *change)
{
    struct lds_change_cells cells;
    char advice[80], word[64];
    lds_change_cells_make(&cells, change);
    lds_change_advice(change, advice, sizeof advice);
    snprintf(word, sizeof word, "%s%s", change->judged ? lds_word_name(change->word) : "",
             change->worse ? ", worse" : "");
    xmlNode *label =
        lds_html_table_row(table, change->judged ? LDS_HTML_CELLS(cells.label, word, cells.number, cells.interval,
                                                                  cells.before, cells.after, cells.unit)
                                                 : LDS_HTML_CELLS(cells.label, cells.before, cells.after, cells.unit));
    put_flags(table, label, lds_change_flags(change));
    lds_html_table_remark(table, label, advice);
}

/* The rows of a group of changes; returns how many. */
static size_t put_group(struct lds_html_table *table, const struct lds_change *const *change, size_t count,
                        enum lds_change_group group)
{
    size_t put = 0;
    for (size_t i = 0; i < count; i++)
        if (lds_change_group_of(change[i]) == group) {
            put_change(table, change[i]);
            put++;
        }
    return put;
}

static void put_judged(struct lds_html *html, xmlNode *section, const struct lds_job_group *group,
                       const struct lds_compared_channel *channel, const struct lds_change *const *change)
{
    struct lds_html_table table;
    const char *advice[LDS_CHANGES_SHOWN + 1] = {""};
    if (lds_changes_count(channel, LDS_CHANGES_CHANGED, LDS_CHANGES_CHAIN) == 0)
        return;
    lds_html_table_begin(&table, (struct lds_html_place){html, section}, "Changes", group, channel->channel,
                         change_columns, sizeof change_columns / sizeof change_columns[0]);
    for (int t = 0; t < LDS_CHANGE_TABLES; t++) {
        const struct lds_change_table *part = &lds_change_tables[t];
        if (part->last == LDS_CHANGES_SHOWN || lds_changes_count(channel, part->first, part->last) == 0)
            continue;
        lds_html_table_group(&table, part->heading);
        for (enum lds_change_group one = part->first; one <= part->last; one++)
            advice[one] = lds_change_group_advice(one, put_group(&table, change, channel->changes, one));
    }
    lds_html_table_close(&table);
    for (int one = 0; one < LDS_CHANGES_SHOWN; one++)
        if (advice[one] && advice[one][0])
            lds_html_format(html, lds_html_add(html, section, "p"), "%s: %s.",
                            lds_change_group_name((enum lds_change_group)one), advice[one]);
}

static void put_lines(struct lds_html *html, xmlNode *section, const struct lds_job_group *group,
                      const struct lds_compared_channel *channel)
{
    static const struct lds_html_column columns[] = {
        {"line", LDS_HTML_LABEL},         {"result", LDS_HTML_TEXT},     {"change, dB", LDS_HTML_NUMBER},
        {"95 % interval", LDS_HTML_TEXT}, {"frequency", LDS_HTML_RIGHT}, {"before", LDS_HTML_RIGHT},
        {"after", LDS_HTML_RIGHT},
    };
    struct lds_html_table table = {0};
    char text[400];
    for (size_t i = 0; i < channel->lines; i++) {
        struct lds_line_cells cells;
        if (!lds_line_is_shown(channel, &channel->line[i]))
            continue;
        if (!table.html)
            lds_html_table_begin(&table, (struct lds_html_place){html, section}, "Lines that changed", group,
                                 channel->channel, columns, sizeof columns / sizeof columns[0]);
        lds_line_cells_make(&cells, channel, &channel->line[i]);
        xmlNode *label =
            lds_html_table_row(&table, LDS_HTML_CELLS(cells.label, cells.word, cells.number, cells.interval,
                                                      cells.frequency, cells.before, cells.after));
        lds_html_table_remark(&table, label, channel->line[i].origin);
    }
    if (table.html)
        lds_html_table_close(&table);
    char weaker[160], uncalled[192];
    lds_lines_weaker(channel, weaker, sizeof weaker);
    lds_lines_uncalled(channel, uncalled, sizeof uncalled);
    snprintf(text, sizeof text, "%s%s%s", weaker, weaker[0] ? ". " : "", uncalled);
    lds_html_paragraph(html, section, text);
}

static void put_axes(struct lds_html *html, xmlNode *section, const struct lds_compared_channel *channel)
{
    char sentence[192];
    for (size_t a = 0; a < channel->axes; a++) {
        const struct lds_axis_change *axis = &channel->axis[a];
        lds_axis_title(axis, sentence, sizeof sentence);
        xmlNode *paragraph = lds_html_add(html, section, "p");
        lds_html_format(html, paragraph, "%s: ", sentence);
        for (size_t i = 0; i < axis->regions; i++) {
            lds_region_sentence(axis, &axis->region[i], sentence, sizeof sentence);
            lds_html_format(html, paragraph, "%s. ", sentence);
        }
        lds_regions_none(axis, sentence, sizeof sentence);
        lds_html_text(html, paragraph, sentence);
    }
}

static void put_limits(struct lds_html *html, xmlNode *section, const struct lds_job_group *group,
                       const struct lds_compared_channel *channel)
{
    static const struct lds_html_column columns[] = {
        {"figure", LDS_HTML_LABEL}, {"limit", LDS_HTML_TEXT}, {"found", LDS_HTML_TEXT}, {"result", LDS_HTML_TEXT}};
    struct lds_html_table table;
    char text[400];
    if (channel->limits == 0)
        return;
    lds_html_table_begin(&table, (struct lds_html_place){html, section}, "Limits", group, channel->channel, columns,
                         sizeof columns / sizeof columns[0]);
    for (size_t i = 0; i < channel->limits; i++) {
        struct lds_limit_cells cells;
        lds_limit_cells_make(&cells, channel, &channel->limit[i]);
        snprintf(text, sizeof text, "%s %s", cells.kind, cells.bound);
        xmlNode *label = lds_html_table_row(&table, LDS_HTML_CELLS(cells.label, text, cells.found, cells.result));
        lds_html_table_remark(&table, label, channel->limit[i].reason);
    }
    lds_html_table_close(&table);
}

void lds_html_changes(struct lds_html *html, const struct lds_job_group *group)
{
    char heading[256];
    snprintf(heading, sizeof heading, "Before and after: %s", group->title);
    xmlNode *section = lds_html_section(html, heading);
    lds_html_list(html, section, group->comparison.note, group->comparison.notes);
    for (size_t i = 0; i < group->comparison.channels; i++) {
        const struct lds_compared_channel *channel = &group->comparison.channel[i];
        const struct lds_change **change = lds_changes_sorted(channel->change, channel->changes);
        lds_html_channel_heading(html, section, channel->channel);
        if (change)
            put_judged(html, section, group, channel, change);
        put_limits(html, section, group, channel);
        put_lines(html, section, group, channel);
        put_axes(html, section, channel);
        lds_html_list(html, section, channel->hint, channel->hints);
        free(change);
    }
}

void lds_html_shown(struct lds_html *html, const struct lds_job_group *group, xmlNode *section)
{
    for (size_t i = 0; group->compared && i < group->comparison.channels; i++) {
        const struct lds_compared_channel *channel = &group->comparison.channel[i];
        const struct lds_change **change = lds_changes_sorted(channel->change, channel->changes);
        const struct lds_absent **absent = lds_absents_sorted(channel->not_compared_why, channel->not_compared);
        struct lds_html_place place = {html, lds_html_add(html, section, "div")};
        const struct lds_listener listener = lds_html_listener(&place);
        if (change && lds_changes_count(channel, LDS_CHANGES_SHOWN, LDS_CHANGES_SHOWN) > 0) {
            struct lds_html_table table;
            lds_html_table_begin(&table, place, "Shown, not judged", group, channel->channel, shown_columns,
                                 sizeof shown_columns / sizeof shown_columns[0]);
            put_group(&table, change, channel->changes, LDS_CHANGES_SHOWN);
            lds_html_table_close(&table);
        }
        if (absent)
            lds_absents_say("Not compared:", absent, channel->not_compared, LDS_TEXT_ANY_SECTION, &listener);
        free(change);
        free(absent);
    }
}
