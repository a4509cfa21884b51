/* The fundamental, tracked: its complex envelope in short overlapping frames over the whole capture. */
#ifndef LDS_MEASURE_TONE_TRACKER_H
#define LDS_MEASURE_TONE_TRACKER_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "measure/tone/suspects.h"

struct lds_tracker;

/* rate_hz of the stream it is fed with, seconds of the capture, tone_hz nearly the tone. NULL: no memory. */
struct lds_tracker *lds_tracker_new(double rate_hz, double seconds, double tone_hz);
bool lds_tracker_push(struct lds_tracker *tracker, const double *x, size_t n);
void lds_tracker_free(struct lds_tracker *tracker);

struct lds_jump {
    double at_s;
    double phase_rad; /* by which the tone's phase jumps, +-pi; NAN: not known */
    double tone_hz;   /* frequency of the tone about there */
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
    double look_s;                   /* a jump is within so much of its place ... */
    double jump_least_rad;           /* ... and at least so large: seven times the scatter of the phase */
    bool restless;                   /* the phase moves all the time, by far more than noise: by many jumps, perhaps */
    bool few_frames;                 /* too few to tell what the phase does by itself */
    size_t suspects, jumps;
    struct lds_jump *suspect; /* places where the tone's phase may jump */
    struct lds_jump *jump;    /* where it does, as the samples tell */
};

/* start_s: time of the stream's first sample. All but the jumps and what moves the frequency. false: no memory; free
 * the track all the same. */
bool lds_tracker_finish(struct lds_tracker *tracker, double start_s, struct lds_track *track);
/* The track's wander_ppm, wander_u_ppm and unfollowed_rad, when the jumps are known. Changes the tracker: once only. */
bool lds_tracker_wander(struct lds_tracker *tracker, double start_s, struct lds_track *track);
void lds_track_free(struct lds_track *track);

#endif
