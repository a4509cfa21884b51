/* Says in plain sentences what the reader must know before believing any other figure. */
#include <math.h>
#include <string.h>

#include "loadside/series.h"
#include "report/figures.h"
#include "report/text.h"

enum { TIMES_LISTED = 4 };

/* All flags of any figure or line of the channel. */
static unsigned all_flags(const struct lds_channel *channel)
{
    unsigned flags = 0;
    for (size_t i = 0; i < channel->figures; i++)
        flags |= channel->figure[i].flags;
    for (size_t s = 0; s < channel->series_count; s++) {
        const struct lds_series *series = &channel->series[s];
        flags |= series->flags;
        for (size_t i = 0; series->flag && i < series->rows; i++)
            flags |= series->flag[i];
    }
    return flags;
}

static double value_of(const struct lds_channel *channel, enum lds_figure_id id)
{
    const struct lds_figure *figure = lds_channel_find(channel, id);
    return figure ? figure->value : NAN;
}

static bool is_first_of_kind(const struct lds_channel *channel, size_t place)
{
    for (size_t i = 0; i < place; i++)
        if (strcmp(channel->problem[i].kind, channel->problem[place].kind) == 0)
            return false;
    return true;
}

/* "clipped at 0.120, 1.234 and 7.100 s, and 12 times more" */
static void write_kind(FILE *out, const struct lds_channel *channel, size_t first)
{
    size_t times = 0;
    for (size_t i = first; i < channel->problems; i++)
        times += strcmp(channel->problem[i].kind, channel->problem[first].kind) == 0;
    size_t shown = 0, show = times < TIMES_LISTED ? times : TIMES_LISTED;
    fprintf(out, "%s at ", channel->problem[first].kind);
    for (size_t i = first; i < channel->problems && shown < show; i++) {
        if (strcmp(channel->problem[i].kind, channel->problem[first].kind) != 0)
            continue;
        bool last = shown + 1 == show && show == times;
        fprintf(out, "%s%.3f", shown == 0 ? "" : last ? " and " : ", ", channel->problem[i].at_s);
        shown++;
    }
    fputs(" s", out);
    if (times > show)
        fprintf(out, ", and %zu times more", times - show);
}

static bool is_of_recording(const struct lds_problem *problem)
{
    return strcmp(problem->kind, LDS_PROBLEM_AMPLIFIER_CLIPS) != 0;
}

/* false: the recording has none. */
static bool say_problems(const struct lds_channel *channel, bool marked, const struct lds_listener *listener)
{
    size_t first = 0;
    while (first < channel->problems && !is_of_recording(&channel->problem[first]))
        first++;
    struct lds_scrap scrap;
    if (first == channel->problems || !lds_scrap_open(&scrap))
        return first < channel->problems;
    fputs("Found in the recording: ", scrap.out);
    for (size_t i = first; i < channel->problems; i++)
        if (is_of_recording(&channel->problem[i]) && is_first_of_kind(channel, i)) {
            fputs(i == first ? "" : "; ", scrap.out);
            write_kind(scrap.out, channel, i);
        }
    fputs(marked ? ". The figures that it affects say so." : ".", scrap.out);
    lds_text_scrap_say(&scrap, listener);
    return true;
}

static void say_amplifier(const struct lds_channel *channel, const struct lds_listener *listener)
{
    const struct lds_problem *problem = lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS);
    struct lds_scrap scrap;
    if (!problem || !lds_scrap_open(&scrap))
        return;
    fputs("The amplifier clips, and not the recording: the peaks of the tone are flattened", scrap.out);
    if (problem->ceiling > 0.0 && channel->calibrated)
        fprintf(scrap.out, " at %.3g V", problem->ceiling);
    else if (problem->ceiling > 0.0)
        fprintf(scrap.out, " at the peak of a sine of %.1f dBFS", lds_dbfs(problem->ceiling * M_SQRT1_2));
    fputs(".", scrap.out);
    lds_text_scrap_say(&scrap, listener);
}

static const struct {
    unsigned flag;
    const char *sentence, *marked; /* marked: the sentence if figures have the flag */
} faults[] = {
    {LDS_FLAG_CLIPPED, "The recording clips.", "The recording clips: the figures marked so are those of the clipping."},
    {LDS_FLAG_GAP, "The recording has gaps.",
     "The recording has gaps: the figures marked so may be those of the gaps."},
    {LDS_FLAG_BANDWIDTH, NULL,
     "The noise floor falls away below half the sampling rate (a resampled recording, or the edge of a filter): "
     "figures that reach past that edge say so."},
    {LDS_FLAG_FEW_BITS, NULL, "Fewer bits are used than the recording has: its noise may be that of rounding."},
    {LDS_FLAG_IDENTICAL, NULL, "This channel equals another, inverts it, or is dead: look at the wiring."},
};

/* A remark on a capture of one tone, or of silence, means that its figures are doubtful. */
static bool is_odd(const struct lds_signal *signal)
{
    return signal->words[0] && lds_signal_has(signal->kind, LDS_PLAYS_ONE);
}

/* Warming up helps only a tone that was there throughout. */
static const char *drift_words(const struct lds_signal *signal, unsigned flags)
{
    if (is_odd(signal))
        return "The tone is not there all the time, or moves: figures that need it steady are marked. Cut the "
               "recording to where it is steady.";
    if (signal->kind == LDS_SIGNAL_SINE && !(flags & LDS_FLAG_GAP))
        return "The tone moves more than some figures allow for: let the amplifier and the source warm up.";
    return "The tone moves more than some figures allow for, which are marked.";
}

/* ---- the capture chain ---- */

enum { NAMED = 3 };

/* Figures that the chain affects, and how many of them have the flag. */
struct share {
    unsigned flag;
    size_t figures, marked, lines;
};

static size_t count_lines(const struct lds_channel *channel, unsigned flag)
{
    size_t lines = 0;
    for (size_t s = 0; s < channel->series_count; s++) {
        const struct lds_series *series = &channel->series[s];
        for (size_t i = 0; series->kind->match == LDS_MATCH_ORDER && i < series->rows; i++)
            lines += (series->flag[i] & flag) != 0;
    }
    return lines;
}

static struct share share_of(const struct lds_channel *channel, unsigned flag)
{
    struct share share = {.flag = flag, .lines = count_lines(channel, flag)};
    for (size_t i = 0; i < channel->figures; i++) {
        if (channel->figure[i].name.row->chain == LDS_CHAIN_NONE)
            continue;
        share.figures++;
        share.marked += (channel->figure[i].flags & flag) != 0;
    }
    return share;
}

/* "THD re fundamental, SINAD and 4 more"; "single lines". */
static void write_marked(FILE *out, const struct lds_channel *channel, const struct share *share)
{
    size_t named = 0, last = share->marked <= NAMED + 1 ? share->marked : NAMED;
    for (size_t i = 0; i < channel->figures && named < last; i++) {
        const struct lds_figure *figure = &channel->figure[i];
        if (figure->name.row->chain == LDS_CHAIN_NONE || !(figure->flags & share->flag))
            continue;
        fprintf(out, "%s%s",
                named == 0                   ? ""
                : named + 1 == share->marked ? " and "
                                             : "; ",
                lds_text_label(figure->key, figure).text);
        named++;
    }
    if (share->marked > last)
        fprintf(out, " and %zu more", share->marked - last);
    if (share->marked == 0)
        fputs(share->lines == 1 ? "a single line" : "single lines", out);
}

/* all: the sentence if every figure that the chain affects has the flag; some: else the words before the names of those
 * that have it. */
static void say_chain(const struct lds_channel *channel, unsigned flag, const char *all, const char *some,
                      const struct lds_listener *listener)
{
    struct share share = share_of(channel, flag);
    struct lds_scrap scrap;
    if (share.marked + share.lines == 0)
        return;
    if (share.marked == share.figures) {
        listener->hear(listener->context, all);
        return;
    }
    if (!lds_scrap_open(&scrap))
        return;
    fprintf(scrap.out, "%s ", some);
    write_marked(scrap.out, channel, &share);
    fputs(": how much of it is the chain's own is not known.", scrap.out);
    lds_text_scrap_say(&scrap, listener);
}

static void say_signal(const struct lds_channel *channel, const struct lds_listener *listener)
{
    struct lds_scrap scrap;
    if (!channel->signal.words[0] || !lds_scrap_open(&scrap))
        return;
    fprintf(scrap.out, "What was played: %s.", channel->signal.words);
    if (isfinite(channel->signal.delay_s)) {
        fprintf(scrap.out, " It begins at %.4f s", channel->signal.delay_s);
        if (fabs(channel->signal.clock_ppm) < 0.005)
            fputs(", both clocks agree", scrap.out);
        else if (isfinite(channel->signal.clock_ppm))
            fprintf(scrap.out, ", the clock of the recorder is %.2f ppm %s than that of the player",
                    fabs(channel->signal.clock_ppm), channel->signal.clock_ppm < 0.0 ? "slower" : "faster");
        fputs(channel->signal.inverted == 1   ? ", and it is inverted."
              : channel->signal.inverted == 0 ? ", and it is not inverted."
                                              : ".",
              scrap.out);
    }
    lds_text_scrap_say(&scrap, listener);
}

void lds_trust_say(const struct lds_channel *channel, const struct lds_listener *listener)
{
    unsigned marks = all_flags(channel), flags = marks;
    bool checked = lds_channel_find(channel, LDS_FIGURE_CLIPPED) || channel->problems > 0;
    if (value_of(channel, LDS_FIGURE_CLIPPED) > 0.0)
        flags |= LDS_FLAG_CLIPPED;
    if (value_of(channel, LDS_FIGURE_GAPS) > 0.0)
        flags |= LDS_FLAG_GAP;
    say_signal(channel, listener);
    bool faulty = say_problems(channel, marks & (LDS_FLAG_CLIPPED | LDS_FLAG_GAP), listener) || channel->problems > 0 ||
                  is_odd(&channel->signal) || !lds_signal_is_steady(channel->signal.kind);
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        if (flags & faults[i].flag) {
            listener->hear(listener->context, marks & faults[i].flag ? faults[i].marked : faults[i].sentence);
            faulty = true;
        }
    if (flags & LDS_FLAG_DRIFTING)
        listener->hear(listener->context, drift_words(&channel->signal, flags));
    if (!faulty && !(flags & LDS_FLAG_DRIFTING))
        listener->hear(listener->context, checked ? "Capture sound: no clipping, gaps or missing bits."
                                                  : "The capture itself was not checked.");
    say_amplifier(channel, listener);
    say_chain(channel, LDS_FLAG_CHAIN_NOT_MEASURED,
              "The capture chain was not measured: part of the noise and distortion may be its own.",
              "The capture chain was not measured for", listener);
    say_chain(
        channel, LDS_FLAG_CHAIN_NOT_COMPARABLE,
        "The recording of the capture chain is not comparable with this one: how much of the noise and distortion "
        "is the chain's own is not known.",
        "The recording of the capture chain is not comparable in", listener);
}
