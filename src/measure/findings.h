/* What the pass found in one channel, before it becomes figures. */
#ifndef LDS_MEASURE_FINDINGS_H
#define LDS_MEASURE_FINDINGS_H

#include <complex.h>

#include "loadside/measure.h"
#include "measure/dc/found.h"
#include "measure/health/health.h"
#include "measure/level/offset.h"
#include "measure/mains/mains.h"
#include "measure/signal/driven.h"
#include "measure/signal/scout.h"
#include "measure/spurs/lines.h"
#include "measure/spurs/spurs.h"
#include "measure/tone/beside_tone.h"
#include "measure/tone/tracker.h"
#include "record/record.h"
#include "spectrum/cascade.h"
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

/* What all channels of a pass share. */
struct lds_pass_shape {
    const struct lds_plan *plan;
    const struct lds_measure_options *options;
    const struct lds_capture_info *info;
    double seconds;
    double mains_hz;    /* nominal or NAN */
    double lines_to_hz; /* highest harmonic wanted */
    bool keep_frames;   /* for coherence with another channel */
    struct lds_stated_signal stated;
};

/* Whether it equals another channel, is its inverse, or is dead. */
enum lds_identical { LDS_NOT_IDENTICAL, LDS_IDENTICAL, LDS_OTHERS_NOT_SEEN };

struct lds_findings {
    const struct lds_pass_shape *shape;
    const struct lds_measure_options *options;
    const struct lds_capture_info *info;
    const struct lds_bench *bench; /* of this channel */
    double seconds;
    double audio_start_s; /* from the start of the capture to the first sample of the audio level's stream */
    double slow_start_s;  /* the same of the slow stream */
    double end_hz;        /* min(usable end of the capture, usable_to of the bench) */
    double scale;         /* linear unit of the record per full-scale unit: volts, or 1 */
    bool calibrated;
    struct lds_scout scout;
    const struct lds_driven *driven; /* whether the channel is driven, and the tones of other channels; not owned */
    struct lds_signal signal;        /* what was played */
    char unsteady[192];              /* why noise, hum and spurs are not the amplifier's own; "": they are */
    double from_s, to_s;             /* where a tone with silence around it is; else NAN */
    struct lds_health_result health;
    enum lds_identical identical;
    size_t problems; /* found by health and by the tone, in order of time */
    struct lds_problem *problem;
    int64_t gaps;                /* found by health, and jumps of the tone that those do not explain */
    struct lds_flag_rules flags; /* of its figures */
    unsigned harmonic_flags;     /* of its harmonics */
    struct lds_density density;
    int audio; /* the level on which lines up to 20 kHz are measured */
    struct lds_track track;
    bool has_tone;                 /* a single, steady one that could be followed */
    struct lds_harmonic *harmonic; /* [0] is order 1 */
    size_t harmonics;
    size_t heard; /* orders with a phasor, at least `harmonics`; up to the seventh, even above the frequency wanted */
    struct lds_mains_result mains;
    struct lds_offset offset;
    struct lds_dc_found dc;        /* the slow course, and the switching on */
    struct lds_zoom_spectrum zoom; /* close to the tone */
    struct lds_beside_tone beside;
    struct lds_lines lines;
    struct lds_floor floor;
    struct lds_noise_scale noise_scale; /* of that floor */
    struct lds_spur_list spurs;         /* levels in full-scale units */
};

/* What is known before the pass: shape and options, scale, what the first look found (copied), and what is driven (not
 * copied). */
void lds_findings_begin(struct lds_findings *findings, const struct lds_pass_shape *shape,
                        const struct lds_bench *bench, const struct lds_scout *scout, const struct lds_driven *driven);
/* Whether a signal was stated that moves, or is noise itself: then figures of noise, hum and spurs are absent. Known
 * before the pass. */
bool lds_findings_moving(const struct lds_findings *start);
/* The tone that the channel shows: its own or, where it is not driven, crosstalk of another channel's tone, which is
 * not its own but not hum or noise either. NAN: none. Known before the pass. */
double lds_findings_line_hz(const struct lds_findings *start);
/* Why there is no noise of an idle output, or beside one tone, to analyse; NULL: there is. */
const char *lds_findings_no_noise(const struct lds_findings *findings);
void lds_findings_free(struct lds_findings *findings);

#endif
