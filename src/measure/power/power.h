/* Figures from the plateaus of a tone that steps in level: distortion and gain over power, the power at a given
 * distortion, where the amplifier clips, and how its harmonics grow. */
#ifndef LDS_MEASURE_POWER_POWER_H
#define LDS_MEASURE_POWER_POWER_H

#include "loadside/measurement.h"
#include "measure/power/plateau.h"

struct lds_power_point {
    struct lds_plateau plateau;
    double level_db; /* of the input, dB re any level; NAN: not known */
    unsigned flags;  /* of problems during the plateau */
};

struct lds_powers {
    const struct lds_bench *bench; /* of the channel */
    size_t count;
    struct lds_power_point *point; /* any order; is sorted */
    double held_s;                 /* each plateau */
    double end_hz;                 /* how far the capture reaches */
    int driven, channels;          /* of the capture: with a tone, and all */
};

/* Adds the series distortion.by_power.* and the figures power.* and slope.*, or why they are absent. false: no memory.
 */
bool lds_power_figures(struct lds_channel *channel, struct lds_powers *powers);

/* Adds the reason why there is no power at all, for each of these. */
bool lds_power_absent(struct lds_channel *channel, const char *why);

#endif
