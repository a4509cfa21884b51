/* The fundamental, tracked: its complex envelope in short overlapping frames over the whole capture. */
#ifndef LDS_MEASURE_TRACKER_H
#define LDS_MEASURE_TRACKER_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

struct lds_tracker;

/* rate_hz of the stream it is fed with, seconds of the capture, tone_hz nearly the tone. NULL: no memory. */
struct lds_tracker *lds_tracker_new(double rate_hz, double seconds, double tone_hz);
bool lds_tracker_push(struct lds_tracker *tracker, const double *x, size_t n);
void lds_tracker_free(struct lds_tracker *tracker);

struct lds_jump {
    double at_s;
    double unsure_s;  /* it may be off by as much */
    double phase_rad; /* by which the tone's phase jumps, +-pi */
};

struct lds_track {
    bool usable;                     /* at least three frames */
    double frequency_hz;             /* least-squares slope of the phase */
    double level;                    /* rms of the fundamental over the capture */
    double share;                    /* of the capture that the frames weigh evenly, 0..1 */
    double drift_db;                 /* change of level over the capture: least-squares slope x length */
    double wander_ppm, wander_u_ppm; /* peak to peak of the frequency and its standard uncertainty; NAN: too short */
    double slow_hz;                  /* peak to peak of the frequency smoothed over a second or more; 0: too short */
    double unfollowed_rad;           /* rms phase by which it leaves a straight line over half a second, at its worst */
    double full_s;                   /* when the tone is first within 2 % of its highest level */
    size_t jumps;
    struct lds_jump *jump; /* the caller's to free */
};

/* start_s: time of the stream's first sample. false: no memory. */
bool lds_tracker_finish(struct lds_tracker *tracker, double start_s, struct lds_track *track);

#endif
