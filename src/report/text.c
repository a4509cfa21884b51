/* The report for people: 80 columns, trust first, then level and power, distortion, noise, mains and other lines. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"
#include "report/words.h"

void lds_text_titled(FILE *out, const char *title, const char *text)
{
    size_t indent = strlen(title);
    fputs(title, out);
    /* The title takes the place of the first line's indent. */
    char *line = NULL;
    size_t size = 0;
    FILE *body = open_memstream(&line, &size);
    if (body) {
        lds_page_paragraph(body, (int)indent, 0, text);
        fclose(body);
        fputs(size > indent ? line + indent : "\n", out);
    }
    free(line);
}

static void print_titled(FILE *out, const char *title, struct lds_text_scrap *scrap)
{
    if (fclose(scrap->out) == 0)
        lds_text_titled(out, title, scrap->text);
    free(scrap->text);
}

static void print_recording(FILE *out, const struct lds_measurement *measurement)
{
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    char rate[32];
    lds_reading_hz(measurement->rate_hz, rate, sizeof rate);
    char *date = lds_words_escape(measurement->date);
    char *format = lds_words_escape(measurement->format);
    fprintf(scrap.out, "%s, %s, sampled at %s, %.4g s long", date && date[0] ? date : "date not stated",
            format && format[0] ? format : "encoding not stated", rate, measurement->seconds);
    free(date);
    free(format);
    print_titled(out, "recording  ", &scrap);
}

static void print_bench(FILE *out, const struct lds_measurement *measurement)
{
    const struct lds_bench *bench = &measurement->bench;
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    bool calibrated = measurement->channels > 0 && measurement->channel[0].calibrated;
    if (bench->name) {
        char *name = lds_words_escape(bench->name);
        fprintf(scrap.out, "%s: ", name ? name : "");
        free(name);
    }
    if (isfinite(bench->full_scale_v))
        fprintf(scrap.out, "full scale %.5g V peak, divider %.5g:1, ", bench->full_scale_v, bench->attenuation);
    else if (calibrated)
        fputs("samples in volts, ", scrap.out);
    else
        fputs("not calibrated, so levels are in dBFS (a full-scale sine is 0 dBFS, AES17), ", scrap.out);
    if (isfinite(bench->load_ohm))
        fprintf(scrap.out, "load %.4g Ω, ", bench->load_ohm);
    else
        fputs("load not stated, ", scrap.out);
    double fits_w = lds_bench_largest_sine_w(bench);
    if (isfinite(fits_w))
        fprintf(scrap.out, "a sine of up to %.3g W fits, ", fits_w);
    fputs(bench->dc_coupled ? "DC coupled" : "DC coupling not stated", scrap.out);
    if (isfinite(bench->usable_to_hz)) {
        char edge[32];
        lds_reading_hz(bench->usable_to_hz, edge, sizeof edge);
        fprintf(scrap.out, ", usable to %s", edge);
    }
    print_titled(out, "bench      ", &scrap);
}

static void print_analysis(FILE *out, const struct lds_measurement *measurement)
{
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    if (measurement->averages > 0 && isfinite(measurement->window_s))
        fprintf(scrap.out, "7-term cosine window, %d averages of %.3g s, ", measurement->averages,
                measurement->window_s);
    fputs("95 % intervals", scrap.out);
    print_titled(out, "analysis   ", &scrap);
}

/* What makes a power figure mean something (IEC 60268-3); what is not known is said. */
static void print_power(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_figure(channel, "tone.power");
    const struct lds_figure *tone = lds_channel_figure(channel, "tone.frequency");
    const struct lds_figure *thd_n = lds_channel_figure(channel, "thd_n");
    struct lds_text_scrap scrap;
    if (!power || !isfinite(power->value) || !lds_text_scrap_open(&scrap))
        return;
    struct lds_reading watts;
    lds_reading_make(&watts, power->value, power->low, power->high, power->unit, 0.0, false);
    fprintf(scrap.out, "%s %s is continuous average sine power. Load: ", watts.value, watts.unit);
    if (isfinite(measurement->bench.load_ohm))
        fprintf(scrap.out, "%.4g Ω", measurement->bench.load_ohm);
    else
        fputs("not stated", scrap.out);
    fputs(". THD+N at that power: ", scrap.out);
    if (thd_n && isfinite(thd_n->value)) {
        char percent[64], low[32], high[32];
        lds_reading_percent(thd_n->value, thd_n->low, thd_n->high, percent, sizeof percent);
        lds_reading_hz(thd_n->band_hz[0], low, sizeof low);
        lds_reading_hz(thd_n->band_hz[1], high, sizeof high);
        fprintf(scrap.out, "%s in %s to %s", percent, low, high);
    } else {
        fputs("not stated", scrap.out);
    }
    fputs(". Frequency range: ", scrap.out);
    if (tone && isfinite(tone->value)) {
        char hz[32];
        lds_reading_hz(tone->value, hz, sizeof hz);
        fprintf(scrap.out, "%s alone", hz);
    } else {
        fputs("not stated", scrap.out);
    }
    fprintf(scrap.out, ". Channels driven: not stated. Held for %.3g s.", measurement->seconds);
    lds_text_scrap_print(&scrap, out, 2, 2);
}

static bool has_section(const struct lds_channel *channel, enum lds_section section)
{
    for (size_t i = 0; i < channel->figures; i++) {
        const struct lds_key *row = lds_key_find(channel->figure[i].key);
        if (row && row->section == section)
            return true;
    }
    for (size_t i = 0; i < channel->absents; i++) {
        const struct lds_key *row = lds_key_find(channel->absent[i].key);
        if (row && row->section == section)
            return true;
    }
    return false;
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
    static const struct {
        enum lds_section section;
        const char *heading;
    } sections[] = {
        {LDS_TRUST, "The recording"}, {LDS_LEVEL, "Level and power"}, {LDS_TONE, "Distortion"},
        {LDS_NOISE, "Noise"},         {LDS_MAINS, "Mains"},           {LDS_SPURS, "Other lines"},
    };
    const struct lds_figure **figure = lds_figures_sorted(channel->figure, channel->figures);
    const struct lds_absent **absent = lds_absents_sorted(channel->absent, channel->absents);
    bool enough = figure && absent;
    char heading[32];
    snprintf(heading, sizeof heading, "Channel %d", channel->channel);
    lds_text_heading(out, heading);
    for (size_t i = 0; enough && i < sizeof sections / sizeof sections[0]; i++) {
        enum lds_section section = sections[i].section;
        if (section != LDS_TRUST && section != LDS_SPURS && !has_section(channel, section))
            continue;
        fprintf(out, "\n%s\n", sections[i].heading);
        if (section == LDS_TRUST)
            lds_text_trust(out, channel);
        if (section == LDS_SPURS)
            lds_text_spurs(out, channel);
        lds_text_section(out, figure, channel->figures, absent, channel->absents, section);
        if (section == LDS_LEVEL)
            print_power(out, measurement, channel);
        if (section == LDS_TONE)
            lds_text_harmonics(out, channel);
        if (section == LDS_MAINS)
            lds_text_mains(out, channel);
    }
    free(figure);
    free(absent);
    return enough;
}

static bool print_pair(FILE *out, const struct lds_pair *pair)
{
    const struct lds_figure **figure = lds_figures_sorted(pair->figure, pair->figures);
    const struct lds_absent **absent = lds_absents_sorted(pair->absent, pair->absents);
    bool enough = figure && absent;
    if (enough && pair->figures + pair->absents > 0) {
        char heading[64];
        snprintf(heading, sizeof heading, "Channels %d and %d", pair->channels[0], pair->channels[1]);
        lds_text_heading(out, heading);
        lds_text_section(out, figure, pair->figures, absent, pair->absents, LDS_TRUST);
        lds_text_section(out, figure, pair->figures, absent, pair->absents, LDS_PAIR);
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
    print_recording(out, measurement);
    print_bench(out, measurement);
    print_analysis(out, measurement);
    bool enough = true;
    for (size_t i = 0; enough && i < measurement->channels; i++)
        enough = print_channel(out, measurement, &measurement->channel[i]);
    for (size_t i = 0; enough && i < measurement->pairs; i++)
        enough = print_pair(out, &measurement->pair[i]);
    return enough;
}

enum lds_status lds_text_finish(FILE *out, bool enough, struct lds_error *error)
{
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
    bool enough = lds_point_locale_enter(&locale);
    if (enough) {
        for (size_t i = 0; enough && i < count; i++) {
            if (i > 0)
                fputs("\n\n", out);
            enough = print_capture(out, &measurement[i]);
        }
        lds_point_locale_leave(&locale);
    }
    return lds_text_finish(out, enough, error);
}
