/* Shared by the commands that measure: options for the bench, for what is measured and for where results go. */
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
    struct pair_list pairs;
    struct band_list bands;
    double mains_hz, tone_hz;       /* NAN: not given */
    bool stated[LDS_SIGNALS];       /* the kinds of signal that an option states, --power-on */
    double settle_band_v, bias_ohm; /* NAN: not given; 0 where the command has no such option */
    const char *signal;             /* sidecar */
    int reference;
    const char *encoding;
    double rate_hz; /* NAN: not given; 0 where the command has no such option */
    int channels;
    const char *json, *csv, *plots;
    bool pdf, quiet, no_progress, full, keys;
    int threads;
};

/* The option given that states a kind of signal, "--power-on", or NULL. */
const char *common_stating(const struct common *common);

/* Checks what a single option cannot know; prints what is wrong. */
bool common_check(const struct common *common);

/* Checks that no result overwrites an input (the inputs of the command line, called `what`: "a capture"; the bench file
 * and chains), and that standard input is read at most once. Prints what is wrong. */
bool common_check_paths(const struct common *common, int count, char *const *inputs, const char *what);

/* The bench file, overridden by the options, and everything else that lds_measure needs. Free options->bench, even
 * after an error. */
bool common_measure_options(const struct common *common, struct lds_measure_options *options);

bool is_standard(const char *path);

/* What to observe before anything is connected, for every command that takes captures. */
extern const char *const common_caution[];

/* Options of commands with a struct common; a row without a name ends each group. */
extern const struct option_row common_bench_options[], common_what_options[], common_headerless_options[],
    common_view_options[], common_keys_options[], common_result_options[], common_plot_options[], common_last_options[];

#endif
