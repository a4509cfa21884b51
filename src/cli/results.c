#include "results.h"

#include <stdio.h>

#include "output.h"
#include "say.h"

enum lds_status results_of_captures(const void *found, struct target *to, struct lds_error *error)
{
    const struct measured *measured = found;
    return RESULTS_IN(
        to, lds_report_screen(measured->measurement, measured->count, to->screen_options, stdout, error),
        lds_report_text(measured->measurement, measured->count, stdout, error),
        lds_report_json(measured->measurement, measured->count, to->path, error),
        lds_report_csv(measured->measurement, measured->count, to->path, error),
        lds_report_plots(measured->measurement, measured->count, to->path, to->plot_options, &to->drawn, error));
}

/* Files are written first, since a reader of standard output that closes it ends the program. */
bool results_write(const struct common *common, results_writer *write, const void *found)
{
    const struct {
        const char *option, *path;
        enum form form;
    } asked[] = {
        {"--json", common->json, FORM_JSON}, {"--csv", common->csv, FORM_CSV}, {"--plots", common->plots, FORM_PLOTS}};
    struct lds_error error = {0};
    struct target standard = {.form = common->full ? FORM_TEXT : FORM_SCREEN,
                              .path = "-", /* JSON or CSV alone, else the table */
                              .screen_options = common->keys ? LDS_SCREEN_KEYS : 0};
    const char *subject = common->quiet ? NULL : "table";
    bool good = true;
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
        bool plots = asked[i].form == FORM_PLOTS;
        if (!plots && is_standard(asked[i].path)) {
            standard.form = asked[i].form;
            subject = asked[i].option;
        } else if (asked[i].path) {
            struct target to = {
                .form = asked[i].form, .path = asked[i].path, .plot_options = common->pdf ? LDS_PLOT_PDF : 0};
            enum lds_status status = write(found, &to, &error);
            if (status != LDS_OK)
                say(asked[i].option, "%s", error.message);
            else if (plots && !to.drawn)
                say("--plots", "gnuplot was not found, so there are scripts and data but no pictures; install gnuplot "
                               "and run this again");
            good = good && status == LDS_OK;
        }
    }
    if (subject && write(found, &standard, &error) != LDS_OK) {
        output_failed(subject, error.message);
        good = false;
    }
    return good;
}
