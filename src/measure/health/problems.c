#include "measure/health/problems.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "measure/spurs/known.h"
#include "measure/tone/flattening.h"

static const double NEAR_S = 0.01; /* from a run or block that explains a jump */

static int by_time(const void *a, const void *b)
{
    double x = ((const struct lds_problem *)a)->at_s, y = ((const struct lds_problem *)b)->at_s;
    return (x > y) - (x < y);
}

/* A jump that a zero run or repeated block already explains is not counted again. */
static bool explained(const struct lds_findings *findings, double at_s)
{
    for (size_t i = 0; i < findings->health.problems; i++) {
        const struct lds_problem *p = &findings->health.problem[i];
        double end_s = p->at_s + p->samples / findings->info->rate_hz;
        if (strcmp(p->kind, "clipped") != 0 && at_s > p->at_s - NEAR_S && at_s < end_s + NEAR_S)
            return true;
    }
    return false;
}

/* Where the recording clips, its peaks are flat for that reason; what the amplifier did cannot be seen. */
static void add_amplifier(struct lds_findings *findings)
{
    size_t last = findings->heard < LDS_FLATTENING_ORDERS ? findings->heard : LDS_FLATTENING_ORDERS;
    if (!findings->has_tone || findings->health.clipped > 0 || last < LDS_FLATTENING_LEAST)
        return;
    double complex z[LDS_FLATTENING_ORDERS + 1] = {0};
    double v1 = cabs(findings->harmonic[0].phasor), noise = 0.0;
    for (size_t k = 2; k <= last; k++) {
        z[k] = findings->harmonic[k - 1].phasor / v1;
        noise += lds_known_noise_power(findings, findings->harmonic[k - 1].frequency_hz) / (v1 * v1);
    }
    struct lds_flattening flattening;
    lds_flattening_fit(z, (int)last, noise, &flattening);
    if (!flattening.found)
        return;
    struct lds_problem *p = &findings->problem[findings->problems++];
    *p = (struct lds_problem){.kind = LDS_PROBLEM_AMPLIFIER_CLIPS,
                              .at_s = findings->track.full_s,
                              .samples = NAN,
                              .ceiling = flattening.ceiling * M_SQRT2 * v1 * findings->scale};
}

bool lds_problems_find(struct lds_findings *findings)
{
    const struct lds_health_result *health = &findings->health;
    const struct lds_track *track = &findings->track;
    size_t room = health->problems + track->jumps + 1;
    findings->problem = calloc(room, sizeof *findings->problem);
    if (!findings->problem)
        return false;
    if (health->problems)
        memcpy(findings->problem, health->problem, health->problems * sizeof *findings->problem);
    findings->problems = health->problems;
    findings->gaps = health->gaps;
    for (size_t i = 0; i < track->jumps; i++) {
        if (explained(findings, track->jump[i].at_s))
            continue;
        struct lds_problem *p = &findings->problem[findings->problems++];
        snprintf(p->kind, sizeof p->kind, "gap");
        p->at_s = track->jump[i].at_s;
        p->ceiling = NAN;
        /* Number of lost samples, from the phase: modulo a period. */
        double turns = track->jump[i].phase_rad / (2.0 * M_PI);
        p->samples = fabs(round((turns - floor(turns)) * findings->info->rate_hz / track->frequency_hz));
        findings->gaps++;
    }
    add_amplifier(findings);
    qsort(findings->problem, findings->problems, sizeof *findings->problem, by_time);
    return true;
}
