/* What must be known before any other figure is believed, in plain sentences. */
#include <math.h>
#include <string.h>

#include "report/figures.h"
#include "report/text.h"

enum { TIMES_LISTED = 4 };

/* Every flag that any figure or line of the channel carries. */
static unsigned all_flags(const struct lds_channel *channel)
{
    unsigned flags = 0;
    for (size_t i = 0; i < channel->figures; i++)
        flags |= channel->figure[i].flags;
    for (size_t i = 0; i < channel->harmonics; i++)
        flags |= channel->harmonic[i].flags;
    for (size_t i = 0; i < channel->mains; i++)
        flags |= channel->main[i].flags;
    return flags;
}

static double value_of(const struct lds_channel *channel, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(channel, key);
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
static bool say_problems(const struct lds_channel *channel, const struct lds_listener *listener)
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
    fputs(". The figures that it touches say so.", scrap.out);
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
    const char *sentence;
} faults[] = {
    {LDS_FLAG_CLIPPED, "The recording clips: distortion figures are those of the clipping."},
    {LDS_FLAG_GAP, "The recording has gaps: noise and distortion figures may be those of the gaps."},
    {LDS_FLAG_BANDWIDTH, "The noise floor falls away below half the sampling rate (a resampled recording, or the edge "
                         "of a filter): figures that reach past that edge say so."},
    {LDS_FLAG_FEW_BITS, "Fewer bits are used than the recording has: its noise may be that of rounding."},
    {LDS_FLAG_IDENTICAL, "This channel equals another, inverts it, or is dead: look at the wiring."},
    {LDS_FLAG_DRIFTING, "The tone moves more than some figures allow for: let the amplifier and the source warm up."},
};

static const char part_of_it[] =
    "The tone is not there all the time, or moves: figures that need it steady are marked. "
    "Cut the recording to where it is steady.";

static const struct {
    unsigned flag;
    const char *sentence;
} chain[] = {
    {LDS_FLAG_CHAIN_NOT_MEASURED,
     "The capture chain was not recorded by itself: how much of the noise and distortion is its own is not known."},
    {LDS_FLAG_CHAIN_NOT_COMPARABLE, "The recording of the capture chain is not comparable with this one: how much of "
                                    "the noise and distortion is the chain's own is not known."},
};

static void say_signal(const struct lds_channel *channel, const struct lds_listener *listener)
{
    struct lds_scrap scrap;
    if (!channel->signal.words[0] || !lds_scrap_open(&scrap))
        return;
    fprintf(scrap.out, "What was played: %s.", channel->signal.words);
    lds_text_scrap_say(&scrap, listener);
}

void lds_trust_say(const struct lds_channel *channel, const struct lds_listener *listener)
{
    unsigned flags = all_flags(channel);
    bool checked = lds_channel_figure(channel, "capture.clipped") || channel->problems > 0;
    if (value_of(channel, "capture.clipped") > 0.0)
        flags |= LDS_FLAG_CLIPPED;
    if (value_of(channel, "capture.gaps") > 0.0)
        flags |= LDS_FLAG_GAP;
    /* What is said of one tone, or of none, speaks against its figures. */
    bool odd = channel->signal.words[0] &&
               (channel->signal.kind == LDS_SIGNAL_SINE || channel->signal.kind == LDS_SIGNAL_SILENCE);
    say_signal(channel, listener);
    bool faulty = say_problems(channel, listener) || odd;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        if (flags & faults[i].flag) {
            bool part = odd && faults[i].flag == LDS_FLAG_DRIFTING;
            listener->hear(listener->context, part ? part_of_it : faults[i].sentence);
            faulty = true;
        }
    if (!faulty)
        listener->hear(listener->context, checked ? "Nothing in the recording speaks against the figures below."
                                                  : "The recording itself was not looked over.");
    say_amplifier(channel, listener);
    for (size_t i = 0; i < sizeof chain / sizeof chain[0]; i++)
        if (flags & chain[i].flag)
            listener->hear(listener->context, chain[i].sentence);
}
