#include "results.h"

#include <stdio.h>

#include "output.h"
#include "say.h"

static bool write_plots(const struct common *common, const struct results *results)
{
    struct lds_error error = {0};
    int drawn = 0;
    if (results->plots(results->context, common->plots, common->pdf ? LDS_PLOT_PDF : 0, &drawn, &error) != LDS_OK) {
        say("--plots", "%s", error.message);
        return false;
    }
    if (!drawn)
        say("--plots", "gnuplot was not found, so there are scripts and data but no pictures; install gnuplot "
                       "and run this again");
    return true;
}

/* What goes to standard output: JSON or CSV alone, else the table. */
static bool write_standard(const struct common *common, const struct results *results)
{
    struct lds_error error = {0};
    enum lds_status status = LDS_OK;
    const char *subject = "table";
    if (is_standard(common->json)) {
        subject = "--json";
        status = results->json(results->context, "-", &error);
    } else if (is_standard(common->csv)) {
        subject = "--csv";
        status = results->csv(results->context, "-", &error);
    } else if (!common->quiet) {
        status = results->text(results->context, stdout, &error);
    }
    if (status != LDS_OK)
        output_failed(subject, error.message);
    return status == LDS_OK;
}

/* Files first: the reader of standard output may go away, and the program with it. */
bool results_write(const struct common *common, const struct results *results)
{
    struct lds_error error = {0};
    bool good = true;
    if (common->json && !is_standard(common->json) && results->json(results->context, common->json, &error) != LDS_OK) {
        say("--json", "%s", error.message);
        good = false;
    }
    if (common->csv && !is_standard(common->csv) && results->csv(results->context, common->csv, &error) != LDS_OK) {
        say("--csv", "%s", error.message);
        good = false;
    }
    if (common->plots)
        good &= write_plots(common, results);
    return write_standard(common, results) && good;
}
