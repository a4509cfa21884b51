/* What the pass found in one channel, before it becomes figures. */
#ifndef LDS_MEASURE_FINDINGS_H
#define LDS_MEASURE_FINDINGS_H

#include <complex.h>

#include "loadside/measure.h"
#include "measure/health/health.h"
#include "measure/level/offset.h"
#include "measure/mains/mains.h"
#include "measure/noise/bursts.h"
#include "measure/noise/popcorn.h"
#include "measure/signal/driven.h"
#include "measure/signal/scout.h"
#include "measure/spurs/lines.h"
#include "measure/spurs/spurs.h"
#include "measure/tone/beside_tone.h"
#include "measure/tone/tracker.h"
#include "spectrum/density.h"

/* One measured harmonic; powers are mean squares in full-scale units, with the bench's response divided out. */
struct lds_harmonic {
    int order; /* 1 is the fundamental */
    double frequency_hz;
    double complex phasor; /* rms, phase_k - k phase_1 */
    double noise_power;    /* n_k plus hum_power, which counts as noise as its phase is unknown */
    double hum_power;      /* mean square that hum is expected to add; 0 where the mains can be told from the
                            * harmonic */
    double hum_high;       /* upper limit of all the hum under it, anywhere in the lobe */
    bool detected;
    bool near_mains;
    int mains_order; /* the mains order it falls on, if any */
};

struct lds_findings {
    const struct lds_measure_options *options;
    const struct lds_capture_info *info;
    double seconds;
    double end_hz; /* min(usable end of the capture, usable_to of the bench) */
    double scale;  /* linear unit of the record per full-scale unit: volts, or 1 */
    bool calibrated;
    struct lds_scout scout;
    const struct lds_driven *driven; /* whether the channel is driven, and the tones of other channels; not owned */
    struct lds_signal signal;        /* what was played */
    char unsteady[192];              /* why noise, hum and spurs are not the amplifier's own; "": they are */
    double from_s, to_s;             /* where a tone with silence around it is; else NAN */
    struct lds_health_result health;
    struct lds_density density;
    int audio; /* the level on which lines up to 20 kHz are measured */
    struct lds_track track;
    bool has_tone;                 /* a single, steady one that could be followed */
    struct lds_harmonic *harmonic; /* [0] is order 1 */
    size_t harmonics;
    size_t heard; /* orders with a phasor, at least `harmonics`; up to the seventh, even above the frequency wanted */
    struct lds_mains_result mains;
    struct lds_bursts_result bursts;
    struct lds_offset offset;
    struct lds_popcorn_result popcorn;
    struct lds_zoom_spectrum zoom; /* close to the tone */
    struct lds_beside_tone beside;
    struct lds_lines lines;
    struct lds_floor floor;
    struct lds_spur_list spurs; /* levels in full-scale units */
};

void lds_findings_free(struct lds_findings *findings);

/* The figures, one file for each kind. Each function appends to the record; false: no memory. */
bool lds_trust_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_level_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_tone_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_distortion_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_residual_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_impulse_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_mains_figures(struct lds_channel *channel, const struct lds_findings *findings);
/* Flags that faults of the recording put on the figures they affect, and "chain not measured". Call last. */
void lds_trust_flags(struct lds_channel *channel, const struct lds_findings *findings);

#endif
