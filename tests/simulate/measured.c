#include "simulate/measured.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void sim_options_init(struct lds_measure_options *options)
{
    lds_measure_options_init(options);
    options->bench.full_scale_v = 1.0;
    options->bench.clock_ppm = 0.0;
    options->threads = 1;
}

static void refuse(const char *what, const struct lds_error *error)
{
    fprintf(stderr, "%s: %s\n", what, error->message);
    exit(1);
}

void sim_measure(const double *x, size_t n, double rate_hz, const struct lds_measure_options *options,
                 struct lds_measurement *measurement)
{
    struct lds_measure_options defaults;
    struct lds_error error = {0};
    struct lds_capture *capture = NULL;
    if (options == NULL) {
        sim_options_init(&defaults);
        options = &defaults;
    }
    if (lds_capture_from_memory(x, (int64_t)n, 1, rate_hz, &capture, &error) != LDS_OK)
        refuse("lds_capture_from_memory", &error);
    if (lds_measure(capture, options, measurement, &error) != LDS_OK)
        refuse("lds_measure", &error);
    lds_capture_close(capture);
}

const struct lds_figure *sim_figure(const struct lds_measurement *measurement, const char *key)
{
    return measurement->channels == 0 ? NULL : lds_channel_figure(&measurement->channel[0], key);
}

double sim_value(const struct lds_measurement *measurement, const char *key)
{
    const struct lds_figure *figure = sim_figure(measurement, key);
    return figure == NULL ? NAN : figure->value;
}

void sim_moments_add(struct sim_moments *moments, double value)
{
    const double delta = value - moments->mean;
    moments->count += 1.0;
    moments->mean += delta / moments->count;
    moments->square += delta * (value - moments->mean);
}

double sim_moments_sd(const struct sim_moments *moments)
{
    return sqrt(moments->square / (moments->count - 1.0));
}

void sim_cover_add(struct sim_cover *cover, const struct lds_figure *figure, double truth)
{
    if (figure == NULL) {
        cover->missing++;
        return;
    }
    cover->seen++;
    /* An open end (only an upper limit) includes everything on its side. */
    const bool above = isnan(figure->low) || figure->low <= truth;
    const bool below = isnan(figure->high) || truth <= figure->high;
    if (above && below && !(isnan(figure->low) && isnan(figure->high)))
        cover->held++;
    if (isfinite(figure->value) && figure->u_a > 0.0)
        sim_moments_add(&cover->error, (figure->value - truth) / figure->u_a);
}

void sim_run_init(struct sim_run *run, int argc, char **argv, const char *title)
{
    *run = (struct sim_run){.full = argc > 1 && strcmp(argv[1], "full") == 0, .seed = 1};
    if (argc > 2)
        run->seed = strtoull(argv[2], NULL, 10);
    printf("# %s (%s, seed %" PRIu64 ")\n", title, run->full ? "full" : "reduced", run->seed);
}

void sim_row(struct sim_run *run, const char *what, double reached, double low, double high, const char *unit)
{
    const bool ok = reached >= low && reached <= high; /* NAN is a miss */
    char limit[64];
    if (isinf(low))
        snprintf(limit, sizeof limit, "<= %.4g", high);
    else if (low == -high)
        snprintf(limit, sizeof limit, "+-%.4g", high);
    else
        snprintf(limit, sizeof limit, "%.4g..%.4g", low, high);
    printf("%-6s %-62s %10.4g  %-14s %s\n", ok ? "ok" : "MISSED", what, reached, limit, unit);
    fflush(stdout);
    run->missed += !ok;
}

int sim_run_end(const struct sim_run *run)
{
    if (run->missed > 0)
        printf("%d missed; repeat with: %s %" PRIu64 "\n", run->missed, run->full ? "full" : "reduced", run->seed);
    return run->missed > 0;
}
