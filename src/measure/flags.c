#include "measure/flags.h"

#include <math.h>

/* Common practice, no source: more drift or wander than an undisturbed bench shows. */
static const double DRIFT_DB = 0.5;
static const double WANDER_PPM = 100.0;
/* The third harmonic turns by three times as much within a frame, which reduces it by 4.34 (3 x 0.05)^2 = 0.1 dB. */
static const double UNFOLLOWED_RAD = 0.05;
enum { FEW_BITS = 16 };

/* Faults of the recording. */
static unsigned of_recording(const struct lds_findings *findings)
{
    return (findings->health.clipped > 0 ? LDS_FLAG_CLIPPED : 0u) | (findings->gaps > 0 ? LDS_FLAG_GAP : 0u) |
           (findings->identical == LDS_IDENTICAL ? LDS_FLAG_IDENTICAL : 0u);
}

/* A tone with silence around it is not steady. Where the tone may be hum, figures of tone and of hum are both
 * uncertain. */
static unsigned of_signal(const struct lds_findings *findings)
{
    bool hum = findings->has_tone && findings->scout.hum_order > 0;
    return (isnan(findings->from_s) ? 0u : LDS_FLAG_DRIFTING) | (hum ? LDS_FLAG_NEAR_LINE : 0u);
}

void lds_flags_find(struct lds_findings *findings)
{
    const struct lds_track *track = &findings->track;
    struct lds_flag_rules *flags = &findings->flags;
    bool drifts = findings->has_tone && (fabs(track->drift_db) > DRIFT_DB || track->wander_ppm > WANDER_PPM);
    bool unfollowed = findings->has_tone && track->unfollowed_rad > UNFOLLOWED_RAD;
    int bits = findings->health.bits;
    *flags = (struct lds_flag_rules){.chain = LDS_FLAG_CHAIN_NOT_MEASURED};
    for (int of = LDS_OF_VOLTAGE; of <= LDS_OF_TONE; of++)
        flags->of[of] = of_recording(findings);
    for (int of = LDS_OF_REST; unfollowed && of <= LDS_OF_TONE; of++) /* the tone's sidebands get into these figures */
        flags->of[of] |= LDS_FLAG_DRIFTING;
    for (int of = LDS_OF_RESIDUAL; of <= LDS_OF_TONE; of++)
        flags->of[of] |= of_signal(findings);
    flags->of[LDS_OF_TONE] |= drifts ? LDS_FLAG_DRIFTING : 0u;
    if (bits > 0 && bits < findings->info->bits && bits < FEW_BITS)
        flags->chain |= LDS_FLAG_FEW_BITS;
    findings->harmonic_flags = (unfollowed ? LDS_FLAG_DRIFTING : 0u) | (of_signal(findings) & LDS_FLAG_NEAR_LINE);
}
