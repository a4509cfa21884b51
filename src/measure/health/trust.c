/* Can the recording be trusted: the health figures, the list of problems, and the flags that they set on other
 * figures. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/spurs/known.h"
#include "measure/statistics/uncertainty.h"
#include "measure/tone/flattening.h"
#include "record/record.h"
#include "record/series.h"

/* Common practice, no source: more drift or wander than an undisturbed bench shows. */
static const double DRIFT_DB = 0.5;
static const double WANDER_PPM = 100.0;
/* The third harmonic turns by three times as much within a frame, which reduces it by 4.34 (3 x 0.05)^2 = 0.1 dB. */
static const double UNFOLLOWED_RAD = 0.05;
static const double NEAR_S = 0.01; /* from a run or block that explains a jump */
enum { FEW_BITS = 16 };

static bool add_count(struct lds_channel *channel, const char *key, double value)
{
    struct lds_figure *figure = lds_channel_add(channel, key);
    if (figure)
        lds_figure_set_normal(figure, value, 0.0, INFINITY);
    return figure != NULL;
}

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
static void add_amplifier(struct lds_channel *channel, const struct lds_findings *findings)
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
    struct lds_problem *p = &channel->problem[channel->problems++];
    *p = (struct lds_problem){.kind = LDS_PROBLEM_AMPLIFIER_CLIPS,
                              .at_s = findings->track.full_s,
                              .samples = NAN,
                              .ceiling = flattening.ceiling * M_SQRT2 * v1 * findings->scale};
}

static bool add_problems(struct lds_channel *channel, const struct lds_findings *findings, int64_t *jumps)
{
    const struct lds_health_result *health = &findings->health;
    const struct lds_track *track = &findings->track;
    size_t room = health->problems + track->jumps + 1;
    *jumps = 0;
    channel->problem = calloc(room, sizeof *channel->problem);
    if (!channel->problem)
        return false;
    if (health->problems)
        memcpy(channel->problem, health->problem, health->problems * sizeof *channel->problem);
    channel->problems = health->problems;
    for (size_t i = 0; i < track->jumps; i++) {
        if (explained(findings, track->jump[i].at_s))
            continue;
        struct lds_problem *p = &channel->problem[channel->problems++];
        snprintf(p->kind, sizeof p->kind, "gap");
        p->at_s = track->jump[i].at_s;
        p->ceiling = NAN;
        /* Number of lost samples, from the phase: modulo a period. */
        double turns = track->jump[i].phase_rad / (2.0 * M_PI);
        p->samples = fabs(round((turns - floor(turns)) * findings->info->rate_hz / track->frequency_hz));
        (*jumps)++;
    }
    add_amplifier(channel, findings);
    qsort(channel->problem, channel->problems, sizeof *channel->problem, by_time);
    return true;
}

static bool make(const struct lds_findings *start, void **state)
{
    *state = lds_health_new(start->info->rate_hz, start->info->bits, start->info->in_volts);
    return *state != NULL;
}

static bool push(void *state, const double *x, size_t n)
{
    lds_health_push(state, x, n);
    return true;
}

static bool finish(void *state, struct lds_findings *findings)
{
    return lds_health_finish(state, &findings->health);
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    const struct lds_health_result *health = &findings->health;
    int64_t jumps;
    if (!add_problems(channel, findings, &jumps))
        return false;
    if (!add_count(channel, "capture.clipped", (double)health->clipped) ||
        !add_count(channel, "capture.gaps", (double)(health->gaps + jumps)))
        return false;
    if (health->bits > 0)
        return add_count(channel, "capture.bits", health->bits);
    return lds_channel_add_absent(channel, "capture.bits", "the samples are %s, on no grid of whole steps",
                                  findings->info->in_volts ? "text" : "floating point");
}

static void free_state(void *state)
{
    lds_health_free(state);
}

const struct lds_analyser lds_analyse_health = {
    .make = make, .raw = push, .finish = finish, .figures = figures, .free = free_state};

void lds_trust_flags(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    const struct lds_figure *gaps = lds_channel_find(channel, LDS_FIGURE_GAPS);
    const struct lds_figure *bits = lds_channel_find(channel, LDS_FIGURE_BITS);
    const struct lds_track *track = &findings->track;
    unsigned all = 0, tone = 0, residual = 0;
    if (clipped && clipped->value > 0.0)
        all |= LDS_FLAG_CLIPPED;
    if (gaps && gaps->value > 0.0)
        all |= LDS_FLAG_GAP;
    if (bits && bits->value < findings->info->bits && bits->value < FEW_BITS)
        residual |= LDS_FLAG_FEW_BITS;
    if (findings->has_tone && (fabs(track->drift_db) > DRIFT_DB || track->wander_ppm > WANDER_PPM))
        tone |= LDS_FLAG_DRIFTING;
    bool unfollowed = findings->has_tone && track->unfollowed_rad > UNFOLLOWED_RAD;
    struct lds_series *harmonics = lds_channel_own_series(channel, "harmonics");
    for (size_t i = 0; unfollowed && harmonics && i < harmonics->rows; i++)
        harmonics->flag[i] |= LDS_FLAG_DRIFTING;
    for (size_t i = 0; i < channel->figures; i++) {
        struct lds_figure *figure = &channel->figure[i];
        const struct lds_key *row = figure->name.row;
        if (row->of == LDS_OF_RECORDING)
            continue;
        figure->flags |= all;
        if (unfollowed && row->of >= LDS_OF_REST) /* the tone's sidebands get into it */
            figure->flags |= LDS_FLAG_DRIFTING;
        if (row->of == LDS_OF_TONE)
            figure->flags |= tone;
        if (row->chain != LDS_CHAIN_NONE)
            figure->flags |= residual | LDS_FLAG_CHAIN_NOT_MEASURED;
    }
}
