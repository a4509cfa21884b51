/* loadside signal: a test signal to play, and the sidecar that describes it. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "common.h"
#include "output.h"
#include "say.h"

struct settings {
    const char *frequency, *from, *to; /* frequencies; from and to of a staircase are levels */
    double ratio, step_db, hold_s, on_s, off_s, seconds, level_dbfs, lead_s, tail_s, rate_hz;
    bool and_back, pink, anyway, quiet;
    int repeats, channels, channel;
    const char *bits, *bench;
};

#define PLACE(member) offsetof(struct settings, member)
#define SECONDS(option, at, least, sample, text) QUANTITY_OPTION(option, "S", at, "s", least, 86400.0, sample, text)

static const char *const bit_words[] = {"16", "24", "32", NULL};

static const struct option_row own_options[] = {
    {.group = "The signal",
     FILE_OPTION("frequency", "HZ", PLACE(frequency), "997",
                 "of a sine, staircase or burst: 997 Hz when not given; F1,F2 of two tones: 19003 Hz and 19997 Hz")},
    {QUANTITY_OPTION("ratio", "N", PLACE(ratio), "", 0.01, 100.0, "4",
                     "two-tone: amplitude of F1 over that of F2; 1 when not given")},
    {FILE_OPTION("from", "HZ", PLACE(from), "20",
                 "sweep: where it begins, 5 Hz; staircase: its first level, -40 dBFS")},
    {FILE_OPTION("to", "HZ", PLACE(to), "20k",
                 "sweep: where it ends, 0.45 of the rate; staircase: its last level, -1 dBFS")},
    {WHOLE_OPTION("repeats", PLACE(repeats), 10000, "2",
                  "sweep: times it is played without a gap; with two or more, the clock does not depend on the chain")},
    {QUANTITY_OPTION("step", "DB", PLACE(step_db), "dB", 0.01, 200.0, "1 dB", "staircase: 1 dB when not given")},
    {SECONDS("hold", PLACE(hold_s), 1e-4, "0.5 s", "staircase: length of a step; 1 s when not given")},
    {SWITCH_OPTION("and-back", PLACE(and_back), "staircase: down again, the top once")},
    {SECONDS("on", PLACE(on_s), 1e-5, "20 ms", "burst: its length; 20 ms when not given")},
    {SECONDS("off", PLACE(off_s), 1e-5, "480 ms", "burst: silence after it; 480 ms when not given")},
    {SWITCH_OPTION("pink", PLACE(pink), "noise whose power falls by 3 dB an octave; white when not given")},
    {QUANTITY_OPTION("level", "DBFS", PLACE(level_dbfs), "dBFS", -200.0, 0.0, "-6",
                     "-3 dBFS when not given (AES17: a sine with a peak of full scale is 0 dBFS). Two tones: the sine "
                     "whose peak their sum reaches; noise: its peak")},
    {SECONDS("seconds", PLACE(seconds), 1e-3, "20",
             "length of the signal, of one repeat of a sweep; 10 s when not "
             "given")},
    {.group = "The file",
     QUANTITY_OPTION("rate", "HZ", PLACE(rate_hz), "Hz", 8e3, 768e3, "96 kHz",
                     "samples a second; 48 kHz when not given")},
    {WORD_OPTION("bits", "N", PLACE(bits), bit_words, "24",
                 "16 or 24 with triangular dither, 32 for float without; 24 when not given")},
    {WHOLE_OPTION("channels", PLACE(channels), LDS_CHANNELS_MAX, "2", "channels of the file; 1 when not given")},
    {WHOLE_OPTION("channel", PLACE(channel), LDS_CHANNELS_MAX, "1", "drive this channel alone; all when not given")},
    {SECONDS("lead", PLACE(lead_s), 0.0, "1", "silence before the signal; 0.5 s when not given")},
    {SECONDS("tail", PLACE(tail_s), 0.0, "1", "silence after it; 0.5 s when not given")},
    {.group = "What it does to the amplifier and the input",
     FILE_OPTION("bench", "FILE", PLACE(bench), "bench.ini",
                 "bench file; with play_full_scale and gain the volts at the load and at the input are worked out")},
    {SWITCH_OPTION("anyway", PLACE(anyway), "write the signal even if it does not fit the input or the supply")},
    {.group = "How", SWITCH_OPTION("quiet", PLACE(quiet), "print nothing but what is wrong")},
    {HELP_OPTION},
    {0},
};

static const struct option_row *const options[] = {own_options, NULL};

static const char *const text[] = {
    "Writes a test signal as a WAV file, and beside it OUT.ini, which describes it; measure its captures with --signal "
    "OUT.ini. KIND is silence, sine, two-tone, sweep, staircase, burst or noise.",
    "silence, for noise and hum; sine, for power and distortion; two-tone, for intermodulation; sweep, for the "
    "response and for distortion over frequency; noise (periodic), for the response while nothing stands still; "
    "staircase, for distortion over power; burst, for power that does not heat.",
    "Play it with any player that does not resample, at the rate of the file, with every volume control and effect "
    "off. The lead and the tail are exact zeros.",
    "Given a bench file that states play_full_scale, gain and load, what the signal does to the load and to the input "
    "is worked out first; a signal that would overload the input or swing beyond the supply is not written, unless "
    "--anyway.",
    NULL,
};

static const struct example examples[] = {
    {"loadside signal sweep sweep.wav --from 5 --to 80k --rate 192k --seconds 20 --level -12",
     "a sweep for the response up to 80 kHz"},
    {"loadside signal sine sine.wav --frequency 997 --bench bench.ini", "a sine, its volts and watts worked out first"},
    {"loadside signal staircase stairs.wav --from -40 --to -1 --step 1 --hold 0.5", "levels for distortion over power"},
    {0},
};

/* ---- from options to a signal ---- */

static enum lds_signal_kind kind_of(const char *name)
{
    const char *names[LDS_SIGNALS];
    char made[200];
    size_t count = 0;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        if (lds_signal_stated((enum lds_signal_kind)kind) != LDS_STATED_BY_FILE)
            continue;
        names[count++] = lds_signal_name((enum lds_signal_kind)kind);
        if (strcmp(name, names[count - 1]) == 0)
            return (enum lds_signal_kind)kind;
    }
    const char *near = lds_nearest(name, names, count);
    lds_signal_kinds_made(made, sizeof made);
    if (near)
        say("signal", "'%s' is no kind of signal; the nearest is %s", name, near);
    else
        say("signal", "'%s' is no kind of signal; %s expected", name, made);
    return LDS_SIGNAL_NONE;
}

#define OF(kind) (1u << LDS_SIGNAL_##kind)

/* Takes the options that have the same unit for every kind of signal; refuses those that this kind does not have. */
static bool take_own(const struct settings *s, enum lds_signal_kind kind, struct lds_signal_spec *spec)
{
    const struct {
        const char *option;
        unsigned of;
        bool given; /* an option without a number, which is taken elsewhere */
        double number, *to;
    } own[] = {
        {"--frequency", OF(SINE) | OF(TWO_TONE) | OF(STAIRCASE) | OF(BURST), s->frequency, NAN, NULL},
        {"--from", OF(SWEEP) | OF(STAIRCASE), s->from, NAN, NULL},
        {"--to", OF(SWEEP) | OF(STAIRCASE), s->to, NAN, NULL},
        {"--ratio", OF(TWO_TONE), false, s->ratio, &spec->ratio},
        {"--repeats", OF(SWEEP), s->repeats, NAN, NULL},
        {"--step", OF(STAIRCASE), false, s->step_db, &spec->step_db},
        {"--hold", OF(STAIRCASE), false, s->hold_s, &spec->hold_s},
        {"--and-back", OF(STAIRCASE), s->and_back, NAN, NULL},
        {"--on", OF(BURST), false, s->on_s, &spec->on_s},
        {"--off", OF(BURST), false, s->off_s, &spec->off_s},
        {"--pink", OF(NOISE), s->pink, NAN, NULL},
        {"--level", ~(OF(STAIRCASE) | OF(SILENCE)), false, s->level_dbfs, &spec->level_dbfs},
        {"--seconds", ~OF(STAIRCASE), false, s->seconds, &spec->seconds},
        {"--lead", ~0u, false, s->lead_s, &spec->lead_s},
        {"--tail", ~0u, false, s->tail_s, &spec->tail_s},
    };
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) {
        const bool number = !isnan(own[i].number);
        if ((own[i].given || number) && !(own[i].of & (1u << kind)))
            return say(own[i].option, "found for %s, which has none; leave it out, or name another kind",
                       lds_signal_name(kind));
        if (number)
            *own[i].to = own[i].number;
    }
    return true;
}

/* A quantity whose unit depends on the kind; NULL leaves the default. */
static bool take(const char *option, const char *value, const char *unit, double *to)
{
    if (!value || lds_quantity_parse(value, unit, to))
        return true;
    return say(option, "'%s' found; a number in %s expected, as in %s %s", value, unit, option,
               strcmp(unit, "Hz") == 0 ? "20k" : "-40");
}

/* "19k,20k" */
static bool take_two(const char *value, double hz[2])
{
    const char *comma = value ? strchr(value, ',') : NULL;
    char first[64];
    if (!value)
        return true;
    snprintf(first, sizeof first, "%.*s", comma ? (int)(comma - value) : 0, value);
    if (comma && lds_quantity_parse(first, "Hz", &hz[0]) && lds_quantity_parse(comma + 1, "Hz", &hz[1]))
        return true;
    return say("--frequency", "'%s' found; two frequencies expected, as in --frequency 19k,20k", value);
}

static bool make_spec(const struct settings *s, enum lds_signal_kind kind, struct lds_signal_spec *spec)
{
    lds_signal_spec_init(spec, kind);
    if (!take_own(s, kind, spec))
        return false;
    if (s->bits)
        spec->bits = (int)strtol(s->bits, NULL, 10);
    if (!isnan(s->rate_hz) && s->rate_hz != rint(s->rate_hz))
        return say("--rate", "%.10g Hz found; a whole number expected", s->rate_hz);
    if (!isnan(s->rate_hz))
        spec->rate_hz = (int)lrint(s->rate_hz);
    spec->channels = s->channels > 0 ? s->channels : spec->channels;
    spec->channel = s->channel;
    spec->repeats = s->repeats > 0 ? s->repeats : spec->repeats;
    spec->and_back = s->and_back;
    spec->pink = s->pink;
    if (kind == LDS_SIGNAL_SWEEP) {
        spec->frequency_hz[1] = 0.45 * spec->rate_hz;
        return take("--from", s->from, "Hz", &spec->frequency_hz[0]) &&
               take("--to", s->to, "Hz", &spec->frequency_hz[1]);
    }
    if (kind == LDS_SIGNAL_STAIRCASE &&
        !(take("--from", s->from, "dBFS", &spec->level_dbfs) && take("--to", s->to, "dBFS", &spec->to_dbfs)))
        return false;
    return kind == LDS_SIGNAL_TWO_TONE ? take_two(s->frequency, spec->frequency_hz)
                                       : take("--frequency", s->frequency, "Hz", &spec->frequency_hz[0]);
}

/* ---- what it does ---- */

/* Whether the frequency is within the width of a line from an order of the mains; the lines of a short signal are
 * wider. */
static bool on_mains(double hz, double mains_hz, double width_hz)
{
    return fabs(hz - fmax(1.0, rint(hz / mains_hz)) * mains_hz) < width_hz;
}

struct mains {
    double hz[2];
    int count;
};

static bool clear_of_mains(double hz, const struct mains *mains)
{
    for (int i = 0; i < mains->count; i++)
        if (on_mains(hz, mains->hz[i], 3.0))
            return false;
    return hz > 0.0;
}

/* The frequency nearest to this order of the mains that is clear of all orders; of two equally near, the lower. */
static double nearest_clear(double order_hz, const struct mains *mains)
{
    for (double off_hz = 3.0; off_hz < 60.0; off_hz += 1.0)
        for (int side = -1; side <= 1; side += 2)
            if (clear_of_mains(order_hz + side * off_hz, mains))
                return order_hz + side * off_hz;
    return order_hz + 3.0;
}

/* Warns of a tone on an order of the mains, which cannot be told from hum. */
static void warn_of_mains(const struct lds_signal_spec *spec, double mains_hz)
{
    const struct mains mains = {{isnan(mains_hz) ? 50.0 : mains_hz, 60.0}, isnan(mains_hz) ? 2 : 1};
    const double width_hz = fmin(fmax(1.0, 8.0 / spec->seconds), 2.5);
    const bool tones = lds_signal_has(spec->kind, LDS_PLAYS_TONE);
    for (int t = 0; tones && t < 2 && !isnan(spec->frequency_hz[t]); t++)
        for (int i = 0; i < mains.count; i++) {
            const double hz = spec->frequency_hz[t], order_hz = fmax(1.0, rint(hz / mains.hz[i])) * mains.hz[i];
            if (!on_mains(hz, mains.hz[i], width_hz))
                continue;
            say("--frequency",
                "%.8g Hz lies on a multiple of %.6g Hz mains, whose hum hides in it; the nearest that "
                "does not: %.8g Hz",
                hz, mains.hz[i], nearest_clear(order_hz, &mains));
            break;
        }
}

static void print_playback(const struct lds_playback *playback, const struct lds_bench *bench)
{
    char watts[64] = "", rms[48] = "";
    if (!isnan(playback->rms_v))
        snprintf(rms, sizeof rms, ", %.3g V rms", playback->rms_v);
    if (!isnan(playback->watts))
        snprintf(watts, sizeof watts, ", %.3g W into %.4g ohm", playback->watts, bench->load_ohm);
    printf("At the load: %.3g V peak%s%s.\n", playback->peak_v, rms, watts);
    if (!isnan(playback->takes_v))
        printf("At the input: %.3g V peak, and it takes %.3g V: it %s.\n", playback->input_v, bench->full_scale_v,
               playback->fits_input ? "fits" : "does NOT fit");
    if (!isnan(playback->swing_v))
        printf("Supply: %.4g V, and the output swings to %.3g V: it %s.\n", playback->swing_v, playback->peak_v,
               playback->fits_supply ? "fits" : "does NOT fit");
    if (!isnan(playback->rail_v) && playback->rail_v > playback->takes_v)
        printf("At worst, an output stuck at a rail puts %.3g V on the input: over full scale.\n",
               playback->rail_v / bench->attenuation);
}

/* Prints what the signal makes of the bench; false if it does not fit. */
static bool check_playback(const struct settings *s, const struct lds_signal_spec *spec, const struct lds_bench *bench)
{
    struct lds_playback playback;
    if (!lds_signal_playback(spec, bench, &playback))
        return say("signal", "out of memory: make the noise shorter, or end other programs");
    if (isnan(playback.peak_v)) {
        if (!s->quiet)
            printf("The volts at the load are not known: play_full_scale and gain are not in %s.\n", s->bench);
        return true;
    }
    if (!s->quiet) {
        print_playback(&playback, bench);
        for (size_t i = 0; common_caution[i]; i++)
            describe_paragraph(common_caution[i], stdout);
        putchar('\n');
    }
    if (s->anyway || (playback.fits_input && playback.fits_supply))
        return true;
    const double most_v = fmin(isnan(playback.takes_v) ? INFINITY : playback.takes_v,
                               isnan(playback.swing_v) ? INFINITY : playback.swing_v);
    const bool steps = spec->kind == LDS_SIGNAL_STAIRCASE, first_is_highest = spec->level_dbfs > spec->to_dbfs;
    const double highest_dbfs = steps ? fmax(spec->level_dbfs, spec->to_dbfs) : spec->level_dbfs;
    return say("signal",
               "%.3g V peak at the load found, and %s takes %.3g V; nothing was written: lower %s to %.2f dBFS, or add "
               "--anyway",
               playback.peak_v, playback.fits_input ? "the supply" : "the input behind its divider", most_v,
               !steps             ? "--level"
               : first_is_highest ? "--from"
                                  : "--to",
               floor((highest_dbfs + 20.0 * log10(most_v / playback.peak_v)) * 100.0) / 100.0);
}

static void print_written(const struct lds_signal_spec *spec, const char *path, const char *sidecar)
{
    char safe[4096];
    const double rate_hz = spec->rate_hz;
    say_escaped(path, safe, sizeof safe);
    printf("%s: %.6g s of %s at %.6g Hz, after %.4g s of silence", safe, (double)lds_signal_proper(spec) / rate_hz,
           lds_signal_phrase(spec->kind), rate_hz, (double)lds_signal_lead(spec) / rate_hz);
    if (spec->kind == LDS_SIGNAL_STAIRCASE)
        printf("; %d steps from %.4g dBFS to %.4g dBFS", lds_signal_steps(spec), spec->level_dbfs, spec->to_dbfs);
    else if (spec->kind != LDS_SIGNAL_SILENCE)
        printf("; %.4g dBFS", spec->level_dbfs);
    printf(".\n");
    say_escaped(sidecar, safe, sizeof safe);
    printf("Play it without resampling, then measure its capture with --signal %s.\n", safe);
}

static enum exit_status write_signal(const struct settings *s, struct lds_signal_spec *spec,
                                     const struct lds_bench *bench, const char *path)
{
    struct lds_error error = {0};
    if (!say_unless(lds_signal_spec_check(spec, &error), "signal", &error))
        return EXIT_TROUBLE;
    warn_of_mains(spec, bench->mains_hz);
    if (s->bench && !check_playback(s, spec, bench))
        return EXIT_TROUBLE;
    fflush(stdout); /* what is connected should be known before there is something to play */
    char *sidecar = lds_signal_sidecar(path);
    if (!sidecar)
        say("signal", "out of memory: end other programs");
    const bool written = sidecar && say_unless(lds_signal_write(spec, path, &error), path, &error);
    if (written && !s->quiet)
        print_written(spec, path, sidecar);
    free(sidecar);
    return written ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status run_signal(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    struct lds_signal_spec spec;
    struct lds_bench bench;
    struct lds_error error = {0};
    enum exit_status status = EXIT_TROUBLE;
    if (operands != 2) {
        say("signal", "%d operands found; a kind and a file expected, as in 'loadside signal sweep sweep.wav'",
            operands);
        return EXIT_TROUBLE;
    }
    const enum lds_signal_kind kind = kind_of(operand[0]);
    if (kind == LDS_SIGNAL_NONE || !make_spec(settings, kind, &spec) || !output_check_file("OUT.wav", operand[1]))
        return EXIT_TROUBLE;
    lds_bench_init(&bench);
    if (!settings->bench || say_unless(lds_bench_load(&bench, settings->bench, &error), settings->bench, &error))
        status = write_signal(settings, &spec, &bench, operand[1]);
    lds_bench_free(&bench);
    return status;
}

const struct command signal_command = {
    .name = "signal",
    .operands = "KIND OUT.wav",
    .summary = "a test signal to play, as a WAV file with a description beside it",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_signal,
};
