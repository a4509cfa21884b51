/* Lines, noise over frequency and limits in the text of a comparison. */

#include "report/comparison_cells.h"
#include "report/comparison_text.h"
#include "report/page.h"
#include "report/text.h"

/* indent 2, label, frequency, both levels, word, digits before and after the point, interval: 80 columns in all. */
enum { LABEL = 14, FREQUENCY = LDS_TEXT_FREQUENCY_COLUMNS - 2, LEVEL = 12, WORD = 9, BEFORE = 4, AFTER = 5 };

static void print_line(FILE *out, const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    struct lds_line_cells cells = lds_line_cells(channel, line);
    fputs("  ", out);
    lds_page_left(out, cells.label.text, LABEL);
    lds_page_right(out, cells.frequency.text, FREQUENCY);
    lds_page_right(out, cells.before.text, LEVEL);
    lds_page_right(out, cells.after.text, LEVEL);
    fputs("  ", out);
    bool sized = cells.change.value[0];
    lds_page_left(out, cells.word, sized ? WORD : 0);
    if (sized) {
        lds_page_number(out, cells.change.value, BEFORE, cells.change.interval[0] ? AFTER : 0);
        fputs(cells.change.interval, out);
    }
    fputc('\n', out);
    lds_page_paragraph(out, 6, 0, "%s", cells.origin);
}

static void print_columns(FILE *out)
{
    fputs("  ", out);
    lds_page_left(out, "", LABEL);
    lds_page_right(out, "frequency", FREQUENCY);
    lds_page_right(out, "before", LEVEL);
    lds_page_right(out, "after", LEVEL);
    lds_page_left(out, "", 2 + WORD);
    fputs("  change, dB\n", out);
}

void lds_text_line_changes(FILE *out, const struct lds_compared_channel *channel)
{
    size_t shown = 0;
    if (channel->lines == 0)
        return;
    fputs("\nLines\n", out);
    for (size_t i = 0; i < channel->lines; i++)
        if (lds_line_is_shown(channel, &channel->line[i])) {
            if (shown++ == 0)
                print_columns(out);
            print_line(out, channel, &channel->line[i]);
        }
    lds_page_paragraph(out, 2, 0, "%s", lds_lines_weaker(channel).text);
    lds_page_paragraph(out, 2, 0, "%s", lds_lines_uncalled(channel).text);
}

void lds_text_axes(FILE *out, const struct lds_compared_channel *channel)
{
    for (size_t a = 0; a < channel->axes; a++) {
        const struct lds_axis_change *axis = &channel->axis[a];
        fprintf(out, "\n%s\n", lds_axis_title(axis).text);
        for (size_t i = 0; i < axis->regions; i++)
            lds_page_paragraph(out, 2, 2, "%s", lds_region_sentence(axis, &axis->region[i]).text);
        lds_page_paragraph(out, 2, 0, "%s", lds_regions_none(axis).text);
    }
}

void lds_text_limits(FILE *out, const struct lds_compared_channel *channel)
{
    if (channel->limits > 0)
        fputs("\nLimits\n", out);
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        struct lds_limit_cells cells = lds_limit_cells(channel, limit);
        lds_page_paragraph(out, 2, 4, "%s: %s%s%s%s; %s %s%s%s", cells.result, cells.label.text,
                           cells.found.text[0] && limit->kind == LDS_CHANGE_AT_MOST ? ", change" : "",
                           cells.found.text[0] ? " " : "", cells.found.text, cells.kind, cells.bound.text,
                           limit->reason ? "; " : "", limit->reason ? limit->reason : "");
    }
}
