/* One screen a channel: whether the capture is sound, the figures that are read first, and notes at the foot. */
#include "report/screen.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/series_cells.h"
#include "report/text.h"
#include "scarce.h"
#include "scrap.h"

/* "before.wav: 10 s at 192 kHz, WAV 24 bit, 2026-05-17. Sound card behind a divider, load 8 Ω." */
static void print_capture_line(FILE *out, const struct lds_measurement *m)
{
    const struct lds_bench *bench = &m->bench;
    bool calibrated = m->channels > 0 && m->channel[0].calibrated;
    lds_page_paragraph(out, 0, 0, "%s: %.4g s at %s%s%s%s%.10s. Bench: %s%s%s.", m->file ? m->file : "", m->seconds,
                       lds_hz(m->rate_hz).text, m->format[0] ? ", " : "", m->format, m->date[0] ? ", " : "", m->date,
                       bench->name  ? bench->name
                       : calibrated ? "calibrated"
                                    : "not calibrated",
                       calibrated ? "" : ": levels in dBFS (a full-scale sine is 0 dBFS)",
                       isfinite(bench->load_ohm) ? lds_short(", load %.4g Ω", bench->load_ohm).text : "");
}

static void hear_words(void *context, const char *sentence)
{
    struct lds_scrap *scrap = context;
    fprintf(scrap->out, "%s ", sentence);
}

static void print_trust(FILE *out, const struct lds_channel *channel)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    const struct lds_listener listener = {hear_words, &scrap};
    lds_trust_say(channel, &listener);
    lds_text_scrap_print(&scrap, out, 2, 0);
}

/* Whether another figure of the section is there to be read first. */
static bool has_other(const struct lds_figure *figure, size_t figures, enum lds_section section)
{
    for (size_t i = 0; i < figures; i++)
        if (figure[i].name.row->section == section && figure[i].name.row->glance != LDS_GLANCE_NO &&
            figure[i].name.row->glance != LDS_GLANCE_ALONE)
            return true;
    return false;
}

/* figure: the list that the one is in. */
static bool is_read_first(const struct lds_figure *one, const struct lds_figure *figure, size_t figures)
{
    switch (one->name.row->glance) {
    case LDS_GLANCE_NO:
        return false;
    case LDS_GLANCE_YES:
    case LDS_GLANCE_THERE:
        return isfinite(one->value) || isfinite(one->high);
    case LDS_GLANCE_FOUND:
        return one->value > 0.0;
    case LDS_GLANCE_ALONE:
        return !has_other(figure, figures, one->name.row->section);
    }
    return false;
}

static void print_section(struct lds_screen *screen, const struct lds_channel *channel, enum lds_section section)
{
    bool any = false;
    for (const struct lds_figure *one = NULL;
         (one = lds_next_figure(one, channel->figure, channel->figures)) != NULL;) {
        if (one->name.row->section != section || !is_read_first(one, channel->figure, channel->figures))
            continue;
        fputs(any ? "" : "\n", screen->out);
        any = true;
        lds_screen_row(screen, one, NULL);
    }
    for (size_t i = 0; i < channel->series_count; i++) {
        const struct lds_series *series = &channel->series[i];
        const struct lds_table_view *view = lds_table_view_of(series->kind);
        if (series->kind->section == section && view && view->screen.label)
            lds_screen_lines(screen, series, channel->calibrated);
    }
}

/* Whether a figure of this row should be there and is not. Of a figure in several bands, one is enough. */
static bool is_missed(const struct lds_channel *channel, const struct lds_key *row)
{
    const struct lds_signal *signal = &channel->signal; /* in a sweep or noise that was found nobody expects a tone */
    if (isfinite(signal->delay_s) && lds_signal_has(signal->kind, LDS_PLAYS_BROAD))
        return false;
    for (size_t i = 0; i < channel->figures; i++)
        if (channel->figure[i].name.row == row)
            return false;
    return row->glance == LDS_GLANCE_YES;
}

static void print_absents(FILE *out, const struct lds_channel *channel)
{
    struct lds_absent *first = calloc(channel->absents + 1, sizeof *first); /* shallow copies */
    size_t kept = 0;
    if (!first) {
        lds_scarce_note();
        return;
    }
    for (size_t i = 0; i < channel->absents; i++)
        if (is_missed(channel, channel->absent[i].name.row))
            first[kept++] = channel->absent[i];
    fputs(kept > 0 ? "\n" : "", out);
    lds_text_absents(out, "No", first, kept, LDS_TEXT_ANY_SECTION);
    free(first);
}

static void print_channel(struct lds_screen *screen, const struct lds_channel *channel)
{
    const struct lds_figure *tone = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
    screen->on_mains = tone && tone->flags & LDS_FLAG_NEAR_LINE;
    fputc('\n', screen->out);
    lds_page_paragraph(screen->out, 0, 0, "%s", lds_channel_title(channel->name, channel->channel).text);
    print_trust(screen->out, channel);
    for (size_t i = 0; i < LDS_SECTIONS; i++)
        print_section(screen, channel, lds_sections[i].section);
    print_absents(screen->out, channel);
}

static void print_pair(struct lds_screen *screen, const struct lds_pair *pair)
{
    for (const struct lds_figure *one = NULL; (one = lds_next_figure(one, pair->figure, pair->figures)) != NULL;)
        if (is_read_first(one, pair->figure, pair->figures))
            lds_screen_row(screen, one, pair->channels);
}

static void print_capture(struct lds_screen *screen)
{
    const struct lds_measurement *m = screen->measurement;
    print_capture_line(screen->out, m);
    for (size_t i = 0; i < m->channels; i++)
        print_channel(screen, &m->channel[i]);
    fputs(m->pairs > 0 ? "\n" : "", screen->out);
    for (size_t i = 0; i < m->pairs; i++)
        print_pair(screen, &m->pair[i]);
    if (screen->notes.count > 0)
        fputc('\n', screen->out);
    lds_footnotes_print(&screen->notes, screen->out);
    lds_footnotes_free(&screen->notes);
}

enum lds_status lds_report_screen(const struct lds_measurement *measurement, size_t count, unsigned options, FILE *out,
                                  struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    for (size_t i = 0; text && i < count; i++) {
        struct lds_screen screen = {
            .out = text, .keys = (options & LDS_SCREEN_KEYS) != 0, .measurement = &measurement[i]};
        fputs(i > 0 ? "\n\n" : "", text);
        print_capture(&screen);
    }
    return lds_text_finish(&page, out, error);
}
