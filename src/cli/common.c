#include "common.h"

#include <math.h>
#include <string.h>

#include "output.h"
#include "progress.h"
#include "say.h"

static const char *const encodings[] = {"s8",    "u8",    "s16le", "s24le", "s32le", "f32le", "f64le",
                                        "s16be", "s24be", "s32be", "f32be", "f64be", NULL};

#define PLACE(member) offsetof(struct common, member)

const struct option_row common_bench_options[] = {
    {.group = "The bench, from the input back to the load; a saved result keeps its own",
     FILE_OPTION("bench", "FILE", PLACE(bench), "bench.ini", "bench file; the options below override it")},
    {QUANTITY_OPTION("full-scale", "V", PLACE(full_scale_v), "V", 1e-6, 1e6, "2 V",
                     "peak voltage at the input that reads full scale")},
    {QUANTITY_OPTION("attenuation", "N", PLACE(attenuation), "", 1.0, 1e6, "10",
                     "voltage ratio of the divider between load and input; 1 when not given")},
    {QUANTITY_OPTION("load", "OHM", PLACE(load_ohm), "ohm", 1e-3, 1e6, "8 ohm", "load resistor, for power")},
    {SWITCH_OPTION("dc-coupled", PLACE(dc_coupled), "the input passes DC, so the DC level is meaningful")},
    {FILES_OPTION("chain", PLACE(chain), "chain.wav",
                  "recording of the capture chain alone, or its saved result: marks figures that the chain explains")},
    {0},
};

/* The option that states a kind of signal, where one does, and its words on the command line. */
#define ROW_NEVER(id, name, help)
#define ROW_BY_FILE(id, name, help)
#define ROW_BY_OPTION(id, name, help) {SWITCH_OPTION(name, PLACE(stated[LDS_SIGNAL_##id]), help)},
#define STATING_ROW(id, name, phrase, traits, how, help) ROW_##how(id, name, help)

static const char *const stating[LDS_SIGNALS] = {
#define KIND(id, name, phrase, traits, how, help) [LDS_SIGNAL_##id] = "--" name,
    LDS_SIGNAL_LIST(KIND)
#undef KIND
};

const struct option_row common_what_options[] = {
    {.group = "What to measure", WHOLE_OPTION("channel", PLACE(channel), LDS_CHANNELS_MAX, "1", "that channel only")},
    {OPTION_FIELDS("driven", "N", OPTION_WHOLES, PLACE(driven),
                   "channels that are driven, such as 1 or 1,3; decided from their levels when not given"),
     OPTION_RANGE(1, LDS_CHANNELS_MAX), .example = "1"},
    {OPTION_FIELDS("pairs", "N-N", OPTION_PAIRS, PLACE(pairs),
                   "pairs of channels for balance, crosstalk and coherence; 1-2,3-4 and so on when not given"),
     OPTION_RANGE(1, LDS_CHANNELS_MAX), .example = "1-3,2-4"},
    {BAND_OPTION("band", PLACE(bands), "400-30k", "another band for noise, THD and THD+N, besides 20-20k")},
    {QUANTITY_OPTION("mains", "HZ", PLACE(mains_hz), "Hz", 10.0, 1000.0, "50 Hz",
                     "nominal mains frequency; found between 45 and 65 Hz when not given")},
    {FILE_OPTION("signal", "FILE", PLACE(signal), "sweep.ini",
                 "what was played: the file that loadside signal wrote beside the WAV")},
    {WHOLE_OPTION("reference-channel", PLACE(reference), LDS_CHANNELS_MAX, "2",
                  "the channel that holds the amplifier's input: the response is taken against it")},
    {QUANTITY_OPTION("tone", "HZ", PLACE(tone_hz), "Hz", 0.0, 5e6, "1 kHz",
                     "frequency of the test tone, 0 when there is none; found when not given")},
    /* clang-format off */
    LDS_SIGNAL_LIST(STATING_ROW)
    /* clang-format on */
    {QUANTITY_OPTION("settle-band", "V", PLACE(settle_band_v), "V", 1e-9, 1e3, "20 mV",
                     "the output has settled once it stays within this of 0 V; 50 mV when not given")},
    {QUANTITY_OPTION("bias-resistance", "OHM", PLACE(bias_ohm), "ohm", 1e-3, 1e12, "1 Mohm",
                     "what the final DC is divided by for a bias current")},
    {0},
};

const struct option_row common_headerless_options[] = {
    {.group = "Headerless samples, interleaved",
     WORD_OPTION("encoding", "NAME", PLACE(encoding), encodings, "s24le", "captures have no header and these samples")},
    {QUANTITY_OPTION("rate", "HZ", PLACE(rate_hz), "Hz", 8e3, 10e6, "192 kHz", "their sampling rate")},
    {WHOLE_OPTION("channels", PLACE(channels), LDS_CHANNELS_MAX, "2", "their number of channels")},
    {0},
};

const struct option_row common_result_options[] = {
    {.group = "Results; a table on standard output unless one of these says otherwise",
     FILE_OPTION("json", "FILE", PLACE(json), "figures.json",
                 "write JSON too; alone on standard output when FILE is -")},
    {FILE_OPTION("csv", "FILE", PLACE(csv), "figures.csv",
                 "write CSV too, a row a figure; alone on standard output when FILE is -")},
    {0},
};

const struct option_row common_plot_options[] = {
    {FOLDER_OPTION("plots", PLACE(plots), "plots",
                   "write gnuplot scripts, their data and pictures (PNG, SVG) into this folder")},
    {SWITCH_OPTION("pdf", PLACE(pdf), "plots as PDF too")},
    {0},
};

#define KEYS_OPTION SWITCH_OPTION("keys", PLACE(keys), "the keys of figures, as limits and JSON have them")

const struct option_row common_keys_options[] = {
    {.group = "What the table shows", KEYS_OPTION},
    {0},
};

const struct option_row common_view_options[] = {
    {.group = "What the table shows",
     SWITCH_OPTION("full", PLACE(full), "every figure and line, not only those that are read first")},
    {KEYS_OPTION},
    {0},
};

const struct option_row common_last_options[] = {
    {SWITCH_OPTION("quiet", PLACE(quiet), "no table")},
    {.group = "How", SWITCH_OPTION("no-progress", PLACE(no_progress), "do not show progress on a terminal")},
    {WHOLE_OPTION("threads", PLACE(threads), 1024, "2",
                  "number of threads; as many as the machine has when not given; figures do not depend on it")},
    {HELP_OPTION},
    {0},
};

const char *const common_caution[] = {
    "Inside an amplifier, mains voltage and charged reservoir capacitors can kill, and load resistors get hot enough "
    "to burn. An output that is not ground-referenced (bridged) is shorted by the grounded input of a sound card.",
    "Tens of volts destroy a sound card's input: before connecting, work out whether the voltage fits. The highest "
    "sine power that fits is (full_scale*attenuation)^2/(2*load): 25 W with 2 V, a divider of 10:1 and 8 ohm.",
    "Local codes and qualified practice come first.",
    NULL,
};

static bool given(double value)
{
    return !isnan(value);
}

bool is_standard(const char *path)
{
    return path && strcmp(path, "-") == 0;
}

/* The first kind of signal, from this one on, that an option states; LDS_SIGNALS: none. */
static int stated_from(const struct common *common, int kind)
{
    while (kind < LDS_SIGNALS && !common->stated[kind])
        kind++;
    return kind;
}

const char *common_stating(const struct common *common)
{
    const int kind = stated_from(common, 0);
    return kind < LDS_SIGNALS ? stating[kind] : NULL;
}

/* One thing was played, and one option states it. */
static bool check_stated(const struct common *common)
{
    const int first = stated_from(common, 0);
    if (first == LDS_SIGNALS)
        return true;
    const int second = stated_from(common, first + 1);
    const char *beside = second < LDS_SIGNALS     ? stating[second]
                         : common->signal         ? "--signal"
                         : given(common->tone_hz) ? "--tone"
                                                  : NULL;
    return !beside || say(stating[first], "%s found beside it; one of them expected; leave the other out", beside);
}

bool common_check(const struct common *common)
{
    if (is_standard(common->json) && is_standard(common->csv))
        return say("--csv", "both JSON and CSV to standard output found; one expected; write the other to a file");
    if (common->json && common->csv && output_same_file(common->json, common->csv))
        return say("--csv", "'%s' found for both JSON and CSV; two files expected; name another", common->csv);
    if (common->pdf && !common->plots)
        return say("--pdf", "no plots asked for; --plots DIR expected beside it; add that, or leave --pdf out");
    if (!check_stated(common))
        return false;
    const bool rate = common->rate_hz > 0.0, channels = common->channels > 0;
    if (common->encoding && !(rate && channels))
        return say("--encoding", "headerless samples without %s found; rate and channels expected; add %s",
                   rate ? "--channels" : "--rate",
                   rate       ? "--channels N"
                   : channels ? "--rate HZ"
                              : "--rate HZ --channels N");
    if (!common->encoding && (rate || channels))
        return say(
            rate ? "--rate" : "--channels",
            "no --encoding found; a capture with a header says this itself; leave it out, or add --encoding NAME");
    return true;
}

/* Checks that a result would not overwrite an input; prints an error if it would. */
static bool spares(const char *subject, const char *result, const char *input, const char *what)
{
    if (!input || !output_same_file(result, input))
        return true;
    return say(subject, "'%s' is %s, which would be lost; another file expected; name one", result, what);
}

bool common_check_paths(const struct common *common, int count, char *const *inputs, const char *what)
{
    const char *const results[] = {common->json, common->csv}, *const subjects[] = {"--json", "--csv"};
    int standard_inputs = 0;
    for (size_t i = 0; i < 2; i++) {
        if (!results[i])
            continue;
        if (!output_check_file(subjects[i], results[i]) ||
            !spares(subjects[i], results[i], common->bench, "the bench file"))
            return false;
        for (int k = 0; k < count; k++)
            if (!spares(subjects[i], results[i], inputs[k], what))
                return false;
        for (size_t k = 0; k < common->chain.count; k++)
            if (!spares(subjects[i], results[i], common->chain.path[k], "a recording of the chain"))
                return false;
    }
    for (int k = 0; k < count; k++)
        standard_inputs += is_standard(inputs[k]);
    for (size_t k = 0; k < common->chain.count; k++)
        standard_inputs += is_standard(common->chain.path[k]);
    if (standard_inputs > 1)
        return say("-", "standard input found %d times; it can be read once; leave the others out", standard_inputs);
    return !common->plots || output_check_folder("--plots", common->plots);
}

/* Replaces a value of the bench by that of an option, also in channels that have the bench's value. */
static void override(struct lds_bench *bench, size_t offset, double value)
{
    double *whole = (double *)((char *)bench + offset);
    if (!given(value))
        return;
    for (size_t i = 0; i < bench->channels; i++) {
        double *own = (double *)((char *)&bench->channel[i].bench + offset);
        *own = *own == *whole || (isnan(*own) && isnan(*whole)) ? value : *own;
    }
    *whole = value;
}

/* The bench file, overridden by the options. */
static bool fill_bench(const struct common *common, struct lds_bench *bench)
{
    struct lds_error error = {0};
    if (common->bench && !say_unless(lds_bench_load(bench, common->bench, &error), common->bench, &error))
        return false;
    override(bench, offsetof(struct lds_bench, full_scale_v), common->full_scale_v);
    override(bench, offsetof(struct lds_bench, attenuation), common->attenuation);
    override(bench, offsetof(struct lds_bench, load_ohm), common->load_ohm);
    if (common->dc_coupled)
        bench->dc_coupled = true;
    for (size_t i = 0; common->dc_coupled && i < bench->channels; i++)
        bench->channel[i].bench.dc_coupled = true;
    if (given(common->attenuation) && isnan(bench->full_scale_v))
        return say("--attenuation", "no full scale to go with it; volts need both; add --full-scale V");
    return true;
}

bool common_measure_options(const struct common *common, struct lds_measure_options *options)
{
    lds_measure_options_init(options);
    if (!fill_bench(common, &options->bench))
        return false;
    memcpy(options->band, common->bands.band, sizeof options->band);
    options->bands = common->bands.count;
    options->channel = common->channel;
    memcpy(options->driven, common->driven.value, sizeof options->driven);
    options->drivens = common->driven.count;
    memcpy(options->pair, common->pairs.pair, sizeof options->pair);
    options->pairs = common->pairs.count;
    options->mains_hz = common->mains_hz;
    options->tone_hz = common->tone_hz;
    const int stated = stated_from(common, 0);
    if (stated < LDS_SIGNALS)
        options->signal.kind = (enum lds_signal_kind)stated;
    if (common->settle_band_v > 0.0)
        options->settle_band_v = common->settle_band_v;
    if (common->bias_ohm > 0.0)
        options->bias_ohm = common->bias_ohm;
    options->reference = common->reference;
    options->threads = common->threads;
    options->curves = common->plots != NULL;
    options->progress = progress_show;
    struct lds_error error = {0};
    return !common->signal ||
           say_unless(lds_signal_spec_load(&options->known, common->signal, &error), common->signal, &error);
}
