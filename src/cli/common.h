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
    double rate_hz; /* NAN: not given; 0 where the command has no such option */
    int channels;
    const char *json, *csv, *plots;
    bool pdf, quiet, no_progress;
    int threads;
};

/* What one option alone cannot know; says what is wrong. */
bool common_check(const struct common *common);

/* Whether every result can be written without writing over what is read: inputs (those on the command line, bench file
 * and chains apart; what: "a capture"), and standard input is read once at most. Says what is wrong. */
bool common_check_paths(const struct common *common, int count, char *const *inputs, const char *what);

/* The bench file, the options over it, and the rest of what lds_measure wants. options->bench is to be freed, also
 * after an error. */
bool common_measure_options(const struct common *common, struct lds_measure_options *options);

bool is_standard(const char *path);

/* What to mind before anything is connected, for every command that takes captures. */
extern const char *const common_caution[];

/* Options of commands that have a struct common, each group ended by a row without a name. */
extern const struct option_row common_bench_options[], common_what_options[], common_headerless_options[],
    common_result_options[], common_plot_options[], common_last_options[];

#endif
