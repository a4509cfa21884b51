/* Writes results where the options say. */
#ifndef CLI_RESULTS_H
#define CLI_RESULTS_H

#include "common.h"
#include "sources.h"

enum form { FORM_SCREEN, FORM_TEXT, FORM_JSON, FORM_CSV, FORM_PLOTS };

struct target {
    enum form form;
    const char
        *path; /* of the file, "-" for standard output, or of the folder for plots; screen and text go to stdout */
    unsigned plot_options, screen_options;
    int drawn; /* set by plots */
};

/* Writes what a command found, in the format that is asked for. The function returns RESULTS_IN with one call for each
 * format, or LDS_BAD_USE for a format that no option of the command asks for. */
typedef enum lds_status results_writer(const void *found, struct target *to, struct lds_error *error);

#define RESULTS_IN(to, screen, text, json, csv, plots)                                                                 \
    ((to)->form == FORM_SCREEN ? (screen)                                                                              \
     : (to)->form == FORM_TEXT ? (text)                                                                                \
     : (to)->form == FORM_JSON ? (json)                                                                                \
     : (to)->form == FORM_CSV  ? (csv)                                                                                 \
                               : (plots))

/* Of a struct measured. */
results_writer results_of_captures;

/* Writes everything requested; false if something could not be written, which has been reported. */
bool results_write(const struct common *common, results_writer *write, const void *found);

#endif
