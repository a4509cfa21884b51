/* How the tone's frequency moves, from its phase at even steps. */
#ifndef LDS_MEASURE_TONE_WANDER_H
#define LDS_MEASURE_TONE_WANDER_H

#include <stddef.h>

struct lds_motion {
    double step_s, first_s; /* between points; time of the first point from the start of the stream */
    size_t count;
    double *phase;     /* rad, unwrapped, relative to a tone of constant frequency */
    double *amplitude; /* peak */
};

struct lds_wander {
    double hz, u_hz;       /* peak to peak, NAN: too short; its standard uncertainty from the noise */
    double bandwidth_hz;   /* faster movement is not included */
    double unfollowed_rad; /* largest rms deviation of the phase from a straight line over half a second */
};

/* seconds: of the stream. scratch: room for 4 count doubles. */
void lds_wander_find(const struct lds_motion *motion, double seconds, double *scratch, struct lds_wander *wander);

/* Least-squares slope of y[0..count) per second. */
double lds_wander_slope(const double *y, size_t count, double step_s);

#endif
