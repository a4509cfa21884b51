/* A comparison for people: 80 columns, the answer first, then its basis, then each channel. */

#include "report/comparison_text.h"
#include "loadside/report.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/text.h"
#include "scarce.h"

static void print_files(FILE *out, const char *side, char *const *file, size_t count)
{
    for (size_t i = 0; i < count; i++)
        lds_text_titled(out, i == 0 ? side : "        ", file[i][0] ? file[i] : "a capture without a name");
}

void lds_text_sides(FILE *out, const struct lds_comparison *comparison)
{
    print_files(out, "before  ", comparison->before_file, comparison->before_files);
    print_files(out, "after   ", comparison->after_file, comparison->after_files);
}

void lds_text_verdicts(FILE *out, const struct lds_comparison *comparison, const struct lds_answer *answer)
{
    for (size_t c = 0; c < answer->channels; c++)
        if (answer->channels == 1)
            lds_page_paragraph(out, 0, 0, "%s", answer->channel_verdict[c]);
        else {
            lds_page_paragraph(out, 0, 2, "%s: %s",
                               lds_channel_title(comparison->channel[c].name, comparison->channel[c].channel).text,
                               answer->channel_verdict[c]);
        }
}

static void print_hints(FILE *out, const struct lds_compared_channel *channel)
{
    if (channel->hints > 0)
        fputs("\nHints\n", out);
    for (size_t i = 0; i < channel->hints; i++)
        lds_page_paragraph(out, 2, 2, "%s", channel->hint[i]);
}

/* bench: with advice for whoever works at the bench. */
static void print_channel(FILE *out, const struct lds_compared_channel *channel, bool bench)
{
    lds_text_channel_heading(out, channel->name, channel->channel);
    lds_text_changes(out, channel, bench);
    lds_text_line_changes(out, channel);
    lds_text_axes(out, channel);
    if (bench) { /* a job has one table of all its limits */
        lds_text_limits(out, channel);
        print_hints(out, channel);
    }
    if (channel->not_compared > 0)
        fputs("\nNot compared\n", out);
    lds_text_absents(out, "", channel->not_compared_why, channel->not_compared, LDS_TEXT_ANY_SECTION);
}

static void print_tables(FILE *page, const struct lds_comparison *comparison, bool bench)
{
    const bool scatter = comparison->scatter_note && !bench;
    lds_text_sides(page, comparison);
    if (comparison->notes > scatter)
        fputc('\n', page);
    for (size_t i = 0; i < comparison->notes; i++)
        if (bench || comparison->note[i] != comparison->scatter_note)
            lds_page_paragraph(page, 0, 2, "- %s", comparison->note[i]);
    for (size_t i = 0; i < comparison->channels; i++)
        print_channel(page, &comparison->channel[i], bench);
}

void lds_comparison_tables(FILE *page, const struct lds_comparison *comparison)
{
    print_tables(page, comparison, false);
}

enum lds_status lds_comparison_text(const struct lds_comparison *comparison, FILE *out, struct lds_error *error)
{
    const struct lds_answer_group group = {.comparison = comparison};
    struct lds_answer answer;
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (lds_answer_make(&answer, &group, 1, NULL) != LDS_OK) {
        lds_scarce_note();
    } else if (text) {
        lds_text_verdicts(text, comparison, &answer);
        fputc('\n', text);
        print_tables(text, comparison, true);
    }
    lds_answer_free(&answer);
    return lds_text_finish(&page, out, error);
}
