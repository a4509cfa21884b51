/* A comparison for people: 80 columns, the answer first, then what it rests on, then each channel. */
#include <stdlib.h>

#include "loadside/report.h"
#include "report/comparison_text.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"

static void print_files(FILE *out, const char *side, char *const *file, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        char *name = lds_words_escape(file[i]);
        lds_text_titled(out, i == 0 ? side : "        ", name && name[0] ? name : "a capture without a name");
        free(name);
    }
}

static void print_escaped(FILE *out, int indent, int hanging, const char *before, const char *text)
{
    struct lds_scrap scrap;
    char *safe = lds_words_escape(text);
    if (lds_scrap_open(&scrap)) {
        fprintf(scrap.out, "%s%s", before, safe ? safe : "");
        lds_text_scrap_print(&scrap, out, indent, hanging);
    }
    free(safe);
}

static bool print_channel(FILE *out, const struct lds_compared_channel *channel)
{
    char heading[32];
    const struct lds_absent **absent = lds_absents_sorted(channel->not_compared_why, channel->not_compared);
    snprintf(heading, sizeof heading, "Channel %d", channel->channel);
    lds_text_heading(out, heading);
    bool enough = absent && lds_text_changes(out, channel);
    if (enough) {
        lds_text_line_changes(out, channel);
        lds_text_axes(out, channel);
        lds_text_limits(out, channel);
        if (channel->hints > 0)
            fputs("\nHints\n", out);
        for (size_t i = 0; i < channel->hints; i++)
            print_escaped(out, 2, 2, "", channel->hint[i]);
        if (channel->not_compared > 0) {
            fputs("\nNot compared\n", out);
            lds_text_absents(out, "", absent, channel->not_compared, LDS_TEXT_ANY_SECTION);
        }
    }
    free(absent);
    return enough;
}

static bool print_all(FILE *out, const struct lds_comparison *comparison)
{
    print_escaped(out, 0, 0, "", comparison->summary ? comparison->summary : "");
    fputc('\n', out);
    print_files(out, "before  ", comparison->before_file, comparison->before_files);
    print_files(out, "after   ", comparison->after_file, comparison->after_files);
    fputc('\n', out);
    for (size_t i = 0; i < comparison->notes; i++)
        print_escaped(out, 0, 2, "- ", comparison->note[i]);
    bool enough = true;
    for (size_t i = 0; enough && i < comparison->channels; i++)
        enough = print_channel(out, &comparison->channel[i]);
    return enough;
}

enum lds_status lds_comparison_text(const struct lds_comparison *comparison, FILE *out, struct lds_error *error)
{
    struct lds_point_locale locale;
    struct lds_text_sheet sheet;
    FILE *page = lds_text_begin(&sheet, out);
    bool enough = page && lds_point_locale_enter(&locale);
    if (enough) {
        enough = print_all(page, comparison);
        lds_point_locale_leave(&locale);
    }
    return lds_text_finish(&sheet, enough, error);
}
