/* A tone across loads that are switched, from a source with an impedance. */
#ifndef SIM_LOADS_H
#define SIM_LOADS_H

#include <complex.h>
#include <stddef.h>

#include "simulate/random.h"

enum { SIM_STRETCHES = 8 };

struct sim_loads {
    double frequency_hz, level, phase_rad; /* rms without a load */
    double complex source_ohm;             /* at that frequency */
    double drift_db;                       /* of the level, linear, from the first sample to the last */
    double bounce_s;                       /* contacts that open and close at random after each switching */
    size_t stretches;
    double ohm[SIM_STRETCHES], seconds[SIM_STRETCHES]; /* INFINITY: open */
};

/* Frames of all stretches. */
size_t sim_loads_frames(const struct sim_loads *loads, double rate_hz);

/* Adds the voltage across the loads. random: for the bounce. */
void sim_add_loads(double *x, double rate_hz, const struct sim_loads *loads, struct sim_random *random);

#endif
