/* What the commands that measure share: options for the bench, for what is measured and for where results go. */
#ifndef CLI_COMMON_H
#define CLI_COMMON_H

#include <stdbool.h>

#include "options.h"

/* The first member of the settings of every such command. */
struct common {
    const char *bench;
    double full_scale_v, attenuation, load_ohm; /* NAN: not given */
    bool dc_coupled;
    struct file_list chain;
    int channel;
    struct whole_list driven;
    struct band_list bands;
    double mains_hz, tone_hz; /* NAN: not given */
    const char *encoding;
    double rate_hz; /* NAN: not given */
    int channels;
    const char *json, *csv, *plots;
    bool pdf, quiet, no_progress;
    int threads;
};

void common_init(struct common *common);

/* What one option alone cannot know; says what is wrong. */
bool common_check(const struct common *common);

/* Whether every result can be written without writing over what is read: inputs (those on the command line, bench file
 * and chains apart), and standard input is read once at most. Says what is wrong. */
bool common_check_paths(const struct common *common, int count, char *const *inputs);

/* The bench file, the options over it, and the rest of what lds_measure wants. options->bench is to be freed, also
 * after an error. */
bool common_measure_options(const struct common *common, struct lds_measure_options *options);

bool is_standard(const char *path);

/* What to mind before anything is connected, for every command that takes captures. */
extern const char *const common_caution[];

/* ---- rows of the tables ---- */

#define COMMON(member) .place = offsetof(struct common, member)

#define COMMON_BENCH_OPTIONS                                                                                           \
    {.group = "The bench, from the input back to the load; a saved result keeps its own",                              \
     .name = "bench",                                                                                                  \
     .argument = "FILE",                                                                                               \
     .kind = OPTION_FILE,                                                                                              \
     COMMON(bench),                                                                                                    \
     .example = "bench.ini",                                                                                           \
     .help = "bench file; the options below count over what it says"},                                                 \
        {.name = "full-scale",                                                                                         \
         .argument = "V",                                                                                              \
         .kind = OPTION_QUANTITY,                                                                                      \
         COMMON(full_scale_v),                                                                                         \
         .unit = "V",                                                                                                  \
         .least = 1e-6,                                                                                                \
         .most = 1e6,                                                                                                  \
         .example = "2 V",                                                                                             \
         .help = "peak voltage at the input that reads full scale"},                                                   \
        {.name = "attenuation",                                                                                        \
         .argument = "N",                                                                                              \
         .kind = OPTION_QUANTITY,                                                                                      \
         COMMON(attenuation),                                                                                          \
         .unit = "",                                                                                                   \
         .least = 1.0,                                                                                                 \
         .most = 1e6,                                                                                                  \
         .example = "10",                                                                                              \
         .help = "voltage ratio of the divider between load and input; 1 when not given"},                             \
        {.name = "load",                                                                                               \
         .argument = "OHM",                                                                                            \
         .kind = OPTION_QUANTITY,                                                                                      \
         COMMON(load_ohm),                                                                                             \
         .unit = "ohm",                                                                                                \
         .least = 1e-3,                                                                                                \
         .most = 1e6,                                                                                                  \
         .example = "8 ohm",                                                                                           \
         .help = "load resistor, for power"},                                                                          \
        {.name = "dc-coupled",                                                                                         \
         .kind = OPTION_SWITCH,                                                                                        \
         COMMON(dc_coupled),                                                                                           \
         .help = "the input passes DC, so the DC level means something"},                                              \
    {                                                                                                                  \
        .name = "chain", .argument = "FILE", .kind = OPTION_FILES, COMMON(chain), .example = "chain.wav",              \
        .help = "recording of the capture chain alone, or its saved result: marks what the chain explains"             \
    }

#define COMMON_WHAT_OPTIONS                                                                                            \
    {.group = "What to measure",                                                                                       \
     .name = "channel",                                                                                                \
     .argument = "N",                                                                                                  \
     .kind = OPTION_WHOLE,                                                                                             \
     COMMON(channel),                                                                                                  \
     .least = 1,                                                                                                       \
     .most = LDS_CHANNELS_MAX,                                                                                         \
     .example = "1",                                                                                                   \
     .help = "that channel only"},                                                                                     \
        {.name = "driven",                                                                                             \
         .argument = "N",                                                                                              \
         .kind = OPTION_WHOLES,                                                                                        \
         COMMON(driven),                                                                                               \
         .least = 1,                                                                                                   \
         .most = LDS_CHANNELS_MAX,                                                                                     \
         .example = "1",                                                                                               \
         .help = "channels that are driven, as in 1 or 1,3; told from their levels when not given"},                   \
        {.name = "band",                                                                                               \
         .argument = "LO-HI",                                                                                          \
         .kind = OPTION_BAND,                                                                                          \
         COMMON(bands),                                                                                                \
         .example = "400-30k",                                                                                         \
         .help = "another band for noise, THD and THD+N, beside 20-20k"},                                              \
        {.name = "mains",                                                                                              \
         .argument = "HZ",                                                                                             \
         .kind = OPTION_QUANTITY,                                                                                      \
         COMMON(mains_hz),                                                                                             \
         .unit = "Hz",                                                                                                 \
         .least = 10.0,                                                                                                \
         .most = 1000.0,                                                                                               \
         .example = "50 Hz",                                                                                           \
         .help = "nominal mains frequency; found between 45 and 65 Hz when not given"},                                \
    {                                                                                                                  \
        .name = "tone", .argument = "HZ", .kind = OPTION_QUANTITY, COMMON(tone_hz), .unit = "Hz", .least = 0.0,        \
        .most = 5e6, .example = "1 kHz",                                                                               \
        .help = "frequency of the test tone, 0 when there is none; found when not given"                               \
    }

extern const char *const common_encodings[];

#define COMMON_HEADERLESS_OPTIONS                                                                                      \
    {.group = "Headerless samples, interleaved",                                                                       \
     .name = "encoding",                                                                                               \
     .argument = "NAME",                                                                                               \
     .kind = OPTION_WORD,                                                                                              \
     COMMON(encoding),                                                                                                 \
     .words = common_encodings,                                                                                        \
     .example = "s24le",                                                                                               \
     .help = "captures have no header and these samples"},                                                             \
        {.name = "rate",                                                                                               \
         .argument = "HZ",                                                                                             \
         .kind = OPTION_QUANTITY,                                                                                      \
         COMMON(rate_hz),                                                                                              \
         .unit = "Hz",                                                                                                 \
         .least = 8e3,                                                                                                 \
         .most = 10e6,                                                                                                 \
         .example = "192 kHz",                                                                                         \
         .help = "their sampling rate"},                                                                               \
    {                                                                                                                  \
        .name = "channels", .argument = "N", .kind = OPTION_WHOLE, COMMON(channels), .least = 1,                       \
        .most = LDS_CHANNELS_MAX, .example = "2", .help = "their number of channels"                                   \
    }

#define COMMON_RESULT_OPTIONS                                                                                          \
    {.group = "Results; a table on standard output when none of these says otherwise",                                 \
     .name = "json",                                                                                                   \
     .argument = "FILE",                                                                                               \
     .kind = OPTION_FILE,                                                                                              \
     COMMON(json),                                                                                                     \
     .example = "figures.json",                                                                                        \
     .help = "write JSON too; alone on standard output when FILE is -"},                                               \
    {                                                                                                                  \
        .name = "csv", .argument = "FILE", .kind = OPTION_FILE, COMMON(csv), .example = "figures.csv",                 \
        .help = "write CSV too, a row a figure; alone on standard output when FILE is -"                               \
    }

#define COMMON_PLOT_OPTIONS                                                                                            \
    {.name = "plots",                                                                                                  \
     .argument = "DIR",                                                                                                \
     .kind = OPTION_FOLDER,                                                                                            \
     COMMON(plots),                                                                                                    \
     .example = "plots",                                                                                               \
     .help = "write gnuplot scripts, their data and pictures (PNG, SVG) into this folder"},                            \
    {                                                                                                                  \
        .name = "pdf", .kind = OPTION_SWITCH, COMMON(pdf), .help = "plots as PDF too"                                  \
    }

#define COMMON_LAST_OPTIONS                                                                                            \
    {.name = "quiet", .kind = OPTION_SWITCH, COMMON(quiet), .help = "no table"},                                       \
        {.group = "How",                                                                                               \
         .name = "no-progress",                                                                                        \
         .kind = OPTION_SWITCH,                                                                                        \
         COMMON(no_progress),                                                                                          \
         .help = "do not show progress on a terminal"},                                                                \
        {.name = "threads",                                                                                            \
         .argument = "N",                                                                                              \
         .kind = OPTION_WHOLE,                                                                                         \
         COMMON(threads),                                                                                              \
         .least = 1,                                                                                                   \
         .most = 1024,                                                                                                 \
         .example = "2",                                                                                               \
         .help = "threads to work with; as many as the machine has when not given; figures do not depend on it"},      \
        {.name = "help", .kind = OPTION_HELP, .help = "print this help"},                                              \
    {                                                                                                                  \
        0                                                                                                              \
    }

#endif
