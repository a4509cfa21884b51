/* Tracks the fundamental: its complex envelope in short overlapping frames over the whole capture. */
#ifndef LDS_MEASURE_TONE_TRACKER_H
#define LDS_MEASURE_TONE_TRACKER_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/tone/suspects.h"

struct lds_tracker;

/* rate_hz: of the stream that is pushed. seconds: of the capture. tone_hz: approximate. NULL: no memory. */
struct lds_tracker *lds_tracker_new(double rate_hz, double seconds, double tone_hz);
bool lds_tracker_push(void *tracker, const double *x, size_t n);
void lds_tracker_free(void *tracker);

struct lds_jump {
    double at_s;
    double phase_rad; /* size of the jump, +-pi; NAN: not known */
    double tone_hz;   /* frequency of the tone there */
};

struct lds_track {
    bool usable;                     /* at least three frames */
    double frequency_hz;             /* least-squares slope of the phase */
    double level;                    /* rms of the fundamental over the capture */
    double share;                    /* of the capture that the frames weigh evenly, 0..1 */
    double drift_db;                 /* change of level over the capture: least-squares slope times length */
    double wander_ppm, wander_u_ppm; /* peak to peak of the frequency and its standard uncertainty; NAN: too short */
    double slow_hz;                  /* peak to peak of the frequency smoothed over a second or more; 0: too short */
    double unfollowed_rad;           /* largest rms deviation of the phase from a straight line over half a second */
    double full_s;                   /* when the tone first comes within 2 % of its highest level */
    double look_s;                   /* a jump is this close to its suspect ... */
    double jump_least_rad;           /* ... and at least this large: seven times the scatter of the phase */
    bool restless;                   /* the phase moves all the time, far more than noise would: perhaps by many
                                      * jumps */
    bool few_frames;                 /* too few to tell how the phase moves without jumps */
    size_t suspects, jumps;
    struct lds_jump *suspect; /* where the tone's phase may jump */
    struct lds_jump *jump;    /* where it does jump, seen in the samples */
};

/* start_s: time of the stream's first sample. Fills everything but the jumps and the movement of the frequency. false:
 * no memory; call lds_track_free all the same. */
bool lds_tracker_finish(struct lds_tracker *tracker, double start_s, struct lds_track *track);
/* Fills wander_ppm, wander_u_ppm and unfollowed_rad once the jumps are known. Changes the tracker, so call it only
 * once. */
bool lds_tracker_wander(struct lds_tracker *tracker, double start_s, struct lds_track *track);
void lds_track_free(struct lds_track *track);

#endif
