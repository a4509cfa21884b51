/* Measuring signals in memory, and rows of results: shared by all simulations. */
#ifndef SIM_MEASURED_H
#define SIM_MEASURED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/measure.h"

/* The library's defaults with a bench of 1 V full scale, no clock tolerance (so that intervals are only the data's) and
 * one thread. */
void sim_options_init(struct lds_measure_options *options);

/* Measures one channel of n samples. options may be NULL: those above. When the library refuses, the program ends with
 * its message, as a simulation without figures is useless. */
void sim_measure(const double *x, size_t n, double rate_hz, const struct lds_measure_options *options,
                 struct lds_measurement *measurement);

/* A figure of the first channel; NULL and NAN when it is absent. */
const struct lds_figure *sim_figure(const struct lds_measurement *measurement, const char *key);
double sim_value(const struct lds_measurement *measurement, const char *key);

/* Running mean and standard deviation (Welford 1962). */
struct sim_moments {
    double count, mean, square;
};
void sim_moments_add(struct sim_moments *moments, double value);
double sim_moments_sd(const struct sim_moments *moments);

/* How often an interval held the truth. */
struct sim_cover {
    int held, seen, missing;
    struct sim_moments error; /* (value - truth) / u_a */
};
void sim_cover_add(struct sim_cover *cover, const struct lds_figure *figure, double truth);

/* The command line of a simulation, and its outcome. */
struct sim_run {
    bool full;     /* "full": every capture that the target requires; else a small seeded form */
    uint64_t seed; /* a second argument; printed, so that a failure can be repeated */
    int missed;
};
void sim_run_init(struct sim_run *run, int argc, char **argv, const char *title);
/* Prints one row, and counts it as missed unless low <= reached <= high. */
void sim_row(struct sim_run *run, const char *what, double reached, double low, double high, const char *unit);
/* The exit status. */
int sim_run_end(const struct sim_run *run);

#endif
