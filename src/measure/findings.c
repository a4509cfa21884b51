#include "measure/findings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void lds_findings_begin(struct lds_findings *findings, const struct lds_pass_shape *shape,
                        const struct lds_bench *bench, const struct lds_scout *scout, const struct lds_driven *driven)
{
    double volts = lds_bench_volts_per_unit(bench);
    *findings = (struct lds_findings){
        .shape = shape,
        .options = shape->options,
        .info = shape->info,
        .bench = bench,
        .seconds = shape->seconds,
        .end_hz = lds_measure_end_hz(shape->info->rate_hz, bench),
        .scale = isnan(volts) ? 1.0 : volts,
        .calibrated = !isnan(volts),
        .scout = *scout,
        .driven = driven,
        .signal =
            {.kind = shape->stated.kind, .delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}},
        .audio = shape->plan->audio,
        .dc = {.on_s = NAN, .u_on_s = NAN, .thump = NAN, .u_thump = NAN},
    };
}

bool lds_findings_moving(const struct lds_findings *start)
{
    return !lds_signal_has(start->signal.kind, LDS_PLAYS_STILL) && !start->driven->undriven;
}

double lds_findings_line_hz(const struct lds_findings *start)
{
    bool foreign = start->driven->undriven && start->driven->tones > 0;
    return foreign ? start->driven->tone_hz[0] : start->scout.tone_hz;
}

const char *lds_findings_no_noise(const struct lds_findings *findings)
{
    if (findings->unsteady[0])
        return findings->unsteady;
    return findings->signal.kind == LDS_SIGNAL_TWO_TONE ? findings->scout.why : NULL;
}

void lds_findings_free(struct lds_findings *findings)
{
    free(findings->health.problem);
    free(findings->problem);
    lds_track_free(&findings->track);
    free(findings->harmonic);
    lds_spur_list_free(&findings->spurs);
    lds_beside_tone_free(&findings->beside);
    lds_density_free(&findings->zoom.density);
    free(findings->lines.line);
    lds_floor_free(&findings->floor);
    lds_density_free(&findings->density);
    memset(findings, 0, sizeof *findings);
}
