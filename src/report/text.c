/* The report for people: 80 columns, trust first, then level and power, distortion, noise, mains and other lines. */
#include <errno.h>
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
    /* The title takes the place of the first line's indent. */
    struct lds_scrap body;
    if (!lds_scrap_open(&body))
        return;
    lds_page_paragraph(body.out, (int)indent, 0, text);
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

void lds_text_heading(FILE *out, const char *heading)
{
    fprintf(out, "\n%s\n", heading);
    for (size_t i = 0; i < strlen(heading); i++)
        fputs("─", out);
    fputc('\n', out);
}

static bool print_channel(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_figure **figure = lds_figures_sorted(channel->figure, channel->figures);
    const struct lds_absent **absent = lds_absents_sorted(channel->absent, channel->absents);
    const struct lds_listener listener = lds_text_listener(out);
    bool enough = figure && absent;
    char heading[32];
    snprintf(heading, sizeof heading, "Channel %d", channel->channel);
    lds_text_heading(out, heading);
    for (size_t i = 0; enough && i < LDS_SECTIONS; i++) {
        enum lds_section section = lds_sections[i].section;
        if (section != LDS_TRUST && section != LDS_SPURS && !lds_channel_has_section(channel, section))
            continue;
        fprintf(out, "\n%s\n", lds_sections[i].heading);
        if (section == LDS_TRUST)
            lds_trust_say(channel, &listener);
        if (section == LDS_SPURS)
            lds_text_series(out, channel->series, channel->series_count, channel->calibrated, section);
        lds_text_section(out, figure, channel->figures, absent, channel->absents, section);
        if (section == LDS_LEVEL)
            print_power(out, measurement, channel);
        if (section != LDS_SPURS)
            lds_text_series(out, channel->series, channel->series_count, channel->calibrated, section);
    }
    free(figure);
    free(absent);
    return enough;
}

static bool print_pair(FILE *out, const struct lds_pair *pair, bool calibrated)
{
    const struct lds_figure **figure = lds_figures_sorted(pair->figure, pair->figures);
    const struct lds_absent **absent = lds_absents_sorted(pair->absent, pair->absents);
    bool enough = figure && absent;
    if (enough && pair->figures + pair->absents + pair->series_count > 0) {
        char heading[64];
        snprintf(heading, sizeof heading, "Channels %d and %d", pair->channels[0], pair->channels[1]);
        lds_text_heading(out, heading);
        lds_text_section(out, figure, pair->figures, absent, pair->absents, LDS_TRUST);
        lds_text_section(out, figure, pair->figures, absent, pair->absents, LDS_PAIR);
        lds_text_series(out, pair->series, pair->series_count, calibrated, LDS_PAIR);
    }
    free(figure);
    free(absent);
    return enough;
}

static bool print_capture(FILE *out, const struct lds_measurement *measurement)
{
    char *file = lds_words_escape(measurement->file ? measurement->file : "");
    if (!file)
        return false;
    lds_page_paragraph(out, 0, 0, file);
    free(file);
    print_titled(out, "recording  ", lds_recording_write, measurement);
    print_titled(out, "bench      ", lds_bench_write, measurement);
    print_titled(out, "analysis   ", lds_analysis_write, measurement);
    bool enough = true;
    for (size_t i = 0; enough && i < measurement->channels; i++)
        enough = print_channel(out, measurement, &measurement->channel[i]);
    for (size_t i = 0; enough && i < measurement->pairs; i++)
        enough = print_pair(out, &measurement->pair[i], lds_pairs_calibrated(measurement));
    return enough;
}

FILE *lds_text_begin(struct lds_text_sheet *sheet, FILE *to)
{
    sheet->to = to;
    return lds_scrap_open(&sheet->scrap) ? sheet->scrap.out : NULL;
}

enum lds_status lds_text_finish(struct lds_text_sheet *sheet, bool enough, struct lds_error *error)
{
    FILE *out = sheet->to;
    enough = sheet->scrap.out && lds_scrap_close(&sheet->scrap) && enough;
    enough = !lds_scarce_take() && enough;
    if (enough)
        fwrite(sheet->scrap.text, 1, sheet->scrap.size, out);
    free(sheet->scrap.text);
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
    struct lds_point_locale locale;
    struct lds_text_sheet sheet;
    FILE *page = lds_text_begin(&sheet, out);
    bool enough = page && lds_point_locale_enter(&locale);
    if (enough) {
        for (size_t i = 0; enough && i < count; i++) {
            if (i > 0)
                fputs("\n\n", page);
            enough = print_capture(page, &measurement[i]);
        }
        lds_point_locale_leave(&locale);
    }
    return lds_text_finish(&sheet, enough, error);
}
