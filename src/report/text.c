/* The report for people: 80 columns, trust first, then level and power, distortion, noise, mains and other lines. */
#include <ctype.h>
#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"
#include "scarce.h"

void lds_text_titled(FILE *out, const char *title, const char *text)
{
    size_t indent = strlen(title);
    fputs(title, out);
    /* The title replaces the indent of the first line. */
    struct lds_scrap body;
    if (!lds_scrap_open(&body))
        return;
    lds_page_paragraph(body.out, (int)indent, 0, "%s", text);
    if (lds_scrap_close(&body))
        fputs(body.size > indent ? body.text + indent : "\n", out);
    free(body.text);
}

static void print_titled(FILE *out, const char *title,
                         void (*write)(FILE *out, const struct lds_measurement *measurement),
                         const struct lds_measurement *measurement)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    write(scrap.out, measurement);
    if (lds_scrap_close(&scrap))
        lds_text_titled(out, title, scrap.text);
    free(scrap.text);
}

static void print_power(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    lds_power_write(scrap.out, "Tested at ", measurement, channel);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

void lds_text_heading(FILE *out, const char *format, ...)
{
    char text[256];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    int width = lds_words_width(text);
    fputc('\n', out);
    if (width > LDS_PAGE_COLUMNS)
        lds_page_paragraph(out, 0, 0, "%s", text);
    else
        fprintf(out, "%s\n", text);
    for (int i = 0; i < width && i < LDS_PAGE_COLUMNS; i++)
        fputs("─", out);
    fputc('\n', out);
}

void lds_text_label_column(FILE *out, const char *label, int width)
{
    bool fits = lds_words_width(label) < width;
    if (!fits)
        lds_page_paragraph(out, 2, 2, "%s", label);
    fputs("  ", out);
    lds_page_left(out, fits ? label : "", width);
}

struct lds_label lds_channel_words(const char *name, int channel)
{
    return name ? lds_label("%s", name) : lds_label("channel %d", channel);
}

struct lds_label lds_pair_words(const char *const name[2], const int channel[2])
{
    return name[0] && name[1] ? lds_label("%s and %s", name[0], name[1])
                              : lds_label("channels %d and %d", channel[0], channel[1]);
}

struct lds_label lds_pair_words_of(const struct lds_measurement *measurement, const int channel[2])
{
    const char *name[2] = {NULL, NULL};
    for (size_t i = 0; i < measurement->channels; i++)
        for (int k = 0; k < 2; k++)
            if (measurement->channel[i].channel == channel[k])
                name[k] = measurement->channel[i].name;
    return lds_pair_words(name, channel);
}

struct lds_label lds_channel_title(const char *name, int channel)
{
    struct lds_label words = lds_channel_words(name, channel);
    words.text[0] = (char)toupper((unsigned char)words.text[0]);
    return words;
}

void lds_text_channel_heading(FILE *out, const char *name, int channel)
{
    char *safe = lds_words_escape(lds_channel_title(name, channel).text);
    lds_text_heading(out, "%s", safe ? safe : "");
    free(safe);
}

static void print_channel(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_listener listener = lds_text_listener(out);
    lds_text_channel_heading(out, channel->name, channel->channel);
    for (size_t i = 0; i < LDS_SECTIONS; i++) {
        enum lds_section section = lds_sections[i].section;
        if (section != LDS_TRUST && section != LDS_SPURS && !lds_channel_has_section(channel, section))
            continue;
        fprintf(out, "\n%s\n", lds_sections[i].heading);
        if (section == LDS_TRUST)
            lds_trust_say(channel, &listener);
        if (section == LDS_SPURS)
            lds_text_series(out, channel->series, channel->series_count, channel->calibrated, section);
        lds_text_section(out, channel->figure, channel->figures, channel->absent, channel->absents, section);
        if (section == LDS_LEVEL)
            print_power(out, measurement, channel);
        if (section != LDS_SPURS)
            lds_text_series(out, channel->series, channel->series_count, channel->calibrated, section);
    }
}

static void print_pair(FILE *out, const struct lds_measurement *measurement, const struct lds_pair *pair)
{
    if (pair->figures + pair->absents + pair->series_count == 0)
        return;
    lds_text_channel_heading(out, lds_pair_words_of(measurement, pair->channels).text, 0);
    lds_text_section(out, pair->figure, pair->figures, pair->absent, pair->absents, LDS_TRUST);
    lds_text_section(out, pair->figure, pair->figures, pair->absent, pair->absents, LDS_PAIR);
    lds_text_series(out, pair->series, pair->series_count, lds_pairs_calibrated(measurement), LDS_PAIR);
}

void lds_capture_print(FILE *page, const struct lds_measurement *measurement)
{
    lds_page_paragraph(page, 0, 0, "%s", measurement->file ? measurement->file : "");
    print_titled(page, "recording  ", lds_recording_write, measurement);
    print_titled(page, "bench      ", lds_bench_write, measurement);
    print_titled(page, "analysis   ", lds_analysis_write, measurement);
    for (size_t i = 0; i < measurement->channels; i++)
        print_channel(page, measurement, &measurement->channel[i]);
    for (size_t i = 0; i < measurement->pairs; i++)
        print_pair(page, measurement, &measurement->pair[i]);
}

FILE *lds_text_begin(struct lds_text_page *page)
{
    *page = (struct lds_text_page){.scrap = {0}};
    if (lds_point_locale_enter(&page->locale))
        (void)lds_scrap_open(&page->scrap);
    return page->scrap.out;
}

enum lds_status lds_text_finish(struct lds_text_page *page, FILE *out, struct lds_error *error)
{
    bool enough = page->scrap.out && lds_scrap_close(&page->scrap);
    if (page->locale.ours)
        lds_point_locale_leave(&page->locale);
    enough = !lds_scarce_take() && enough;
    if (enough)
        fwrite(page->scrap.text, 1, page->scrap.size, out);
    free(page->scrap.text);
    if (!enough)
        return lds_fail_memory(error, "the text report");
    if (fflush(out) != 0 || ferror(out))
        return lds_fail(error, LDS_IO, "cannot write the text report: %s: free some space, or choose another place",
                        strerror(errno));
    return LDS_OK;
}

enum lds_status lds_report_text(const struct lds_measurement *measurement, size_t count, FILE *out,
                                struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    for (size_t i = 0; text && i < count; i++) {
        fputs(i > 0 ? "\n\n" : "", text);
        lds_capture_print(text, &measurement[i]);
    }
    return lds_text_finish(&page, out, error);
}

struct lds_short lds_text_ordinal(int order)
{
    int tens = order / 10 % 10, ones = order % 10;
    const char *end = tens == 1 ? "th" : ones == 1 ? "st" : ones == 2 ? "nd" : ones == 3 ? "rd" : "th";
    return lds_short("%d%s", order, end);
}
