/* What the pass over one channel found, before it becomes figures. */
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

/* One harmonic as measured; powers are mean squares in full-scale units, the bench's response divided out. */
struct lds_harmonic {
    int order; /* 1 is the fundamental */
    double frequency_hz;
    double complex phasor; /* rms, phase_k - k phase_1 */
    double noise_power;    /* n_k, and hum_power: of unknown phase, it counts as noise */
    double hum_power;      /* mean square that hum is expected to add; 0 where the mains can be told from it */
    double hum_high;       /* upper limit of all the hum under it, wherever in the lobe */
    bool detected;
    bool near_mains;
    int mains_order; /* that it stands on, if so */
};

struct lds_findings {
    const struct lds_measure_options *options;
    const struct lds_capture_info *info;
    double seconds;
    double end_hz; /* min(usable end of the capture, usable_to of the bench) */
    double scale;  /* linear unit of the record per full-scale unit: volts, or 1 */
    bool calibrated;
    struct lds_scout scout;
    const struct lds_driven *driven; /* whether it is, and what other channels are driven with; not owned */
    struct lds_signal signal;        /* what was played */
    char unsteady[192];              /* why it has no noise, hum and spurs that are the amplifier's own; "": it has */
    double from_s, to_s;             /* a tone with silence around it: where it stands; else NAN */
    struct lds_health_result health;
    struct lds_density density;
    int audio; /* the level that lines up to 20 kHz are measured on */
    struct lds_track track;
    bool has_tone;                 /* one, steady, and followed */
    struct lds_harmonic *harmonic; /* [0] is order 1 */
    size_t harmonics;
    size_t heard; /* orders with a phasor, at least harmonics: up to the seventh also above what is asked for */
    struct lds_mains_result mains;
    struct lds_bursts_result bursts;
    struct lds_offset offset;
    struct lds_popcorn_result popcorn;
    struct lds_zoom_spectrum zoom; /* close beside the tone */
    struct lds_beside_tone beside;
    struct lds_lines lines;
    struct lds_floor floor;
    struct lds_spur_list spurs; /* levels in full-scale units */
};

void lds_findings_free(struct lds_findings *findings);

/* The figures, one file a kind. Each appends to the record; false: no memory. */
bool lds_trust_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_level_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_tone_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_distortion_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_residual_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_impulse_figures(struct lds_channel *channel, const struct lds_findings *findings);
bool lds_mains_figures(struct lds_channel *channel, const struct lds_findings *findings);
/* Flags that a fault of the recording puts on the figures it touches, and "chain not measured". Called last. */
void lds_trust_flags(struct lds_channel *channel, const struct lds_findings *findings);

#endif
