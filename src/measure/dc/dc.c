/* DC behaviour of an output that is captured DC coupled: keeps the slow course, and decides whether the amplifier was
 * switched on. */
#include <math.h>

#include "measure/analyser.h"
#include "measure/dc/figures.h"
#include "measure/dc/stream.h"

/* Common practice, no source: what counts as switching on when nothing is stated. An idle output drifts by less, and a
 * loud tone shifts the offset by a smaller share of the tone. */
static const double LEAST_V = 0.02, LEAST_SHARE = 1e-3; /* the least jump; the share of full scale without volts */
/* The least movement, without volts, where the capture begins switched on; in volts it is the settling band. */
static const double MOVES_SHARE = 2.5e-3;
static const double OF_TONE = 0.05; /* of the tone's rms */
/* The most turns (turn_on.h): with more it is not a jump or a settling, but a swing to and fro. */
static const double JUMP_TURNS = 4.0, MOVES_TURNS = 2.0;
static const double FLOAT_STEP = 1e-7; /* of full scale; floats and volts have no smallest step */

static bool make(const struct lds_findings *start, void **state)
{
    if (!start->bench->dc_coupled)
        return true;
    *state = lds_dc_stream_new(start->shape->plan->slow_rate_hz, start->slow_start_s, start->seconds);
    return *state != NULL;
}

/* A tone, unless it may as well be hum. */
static bool has_tone(const struct lds_findings *findings)
{
    return !isnan(findings->scout.tone_hz) && findings->scout.hum_order == 0;
}

static bool is_power_on(const struct lds_findings *findings, const struct lds_dc_turn_on *turn_on)
{
    enum lds_signal_kind stated = findings->shape->stated.kind;
    double band = findings->options->settle_band_v, size = turn_on->step * findings->scale;
    bool volts = findings->calibrated;
    if (stated != LDS_SIGNAL_NONE)
        return stated == LDS_SIGNAL_POWER_ON;
    if (has_tone(findings) &&
        (!turn_on->found || turn_on->step < OF_TONE * findings->scout.level || (volts && size < band)))
        return false;
    if (turn_on->found)
        return turn_on->fast && turn_on->turns < JUMP_TURNS && size >= (volts ? LEAST_V : LEAST_SHARE);
    return turn_on->turns < MOVES_TURNS && size >= (volts ? band : MOVES_SHARE);
}

/* The smallest difference that the samples can show. */
static double least_step(const struct lds_capture_info *info)
{
    return info->bits > 0 && info->bits < 24 ? ldexp(1.0, 1 - info->bits) : FLOAT_STEP;
}

static bool finish(void *state, struct lds_findings *findings)
{
    struct lds_dc_found *found = &findings->dc;
    if (!state)
        return true;
    found->course = lds_dc_stream_course(state);
    lds_dc_turn_on_find(&found->course, least_step(findings->info), &found->turn_on);
    found->power_on = found->course.n > 0 && is_power_on(findings, &found->turn_on);
    if (!found->power_on)
        return true;
    found->on_s = found->turn_on.found ? found->turn_on.at_s : 0.0;
    found->u_on_s = 0.0;
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    return lds_dc_figures(channel, findings);
}

static void release(void *state)
{
    lds_dc_stream_free(state);
}

static bool push(void *state, const double *x, size_t n)
{
    return lds_dc_stream_push(state, x, n);
}

const struct lds_analyser lds_analyse_dc = {
    .make = make, .slow = push, .finish = finish, .figures = figures, .free = release};
