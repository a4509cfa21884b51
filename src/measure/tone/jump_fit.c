#include "measure/tone/jump_fit.h"

#include <math.h>
#include <stdlib.h>

#include "measure/tone/jump_model.h"

enum { SWEEPS = 3, NEARER = 3 };
static const double COARSE_S = 1e-3, NEAR_S = 0.02;
static const double EDGE = 0.02;  /* of the stretch at each end: no jumps are searched there */
static const double MARGIN = 0.1; /* of the stretch at each end: a jump here cannot be told from a bend, so it is fitted
                                   * but not reported */
static const double ENOUGH = 30.0; /* gain over the noise's variance: below the limit for a jump, since one of two jumps
                                    * may explain little by itself */
static const double OFF_RAD = 0.003;
static const double WHITE = 2.0; /* how much stronger the residual about the tone may be than elsewhere, from 64 values:
                                  * 1 + 5 sqrt(2/64) */
static const double SIGMAS = 7.0;
static const double TOGETHER_S = 0.002;
static const double SMALL = 0.01; /* of the largest jump of the stretch: smaller ones are remains of that jump, which
                                   * the model does not fit exactly */

/* The best place for one more jump within `near` samples of `about`, searched coarsely and then finely. */
static size_t find_place(const struct lds_jump_model *m, size_t about, size_t near, double *most)
{
    size_t edge = (size_t)(EDGE * (double)m->n) + 1, fine = (size_t)(COARSE_S * m->stretch->rate_hz) + 1;
    size_t first = about > near + edge ? about - near : edge;
    size_t last = about + near + edge < m->n ? about + near : m->n - edge;
    size_t place = lds_jump_model_best(m, first, last, fine, most);
    first = place > first + fine ? place - fine : first;
    last = place + fine < last ? place + fine : last;
    return lds_jump_model_best(m, first, last, 1, most);
}

/* Moves each jump in turn to where it explains the most beside the others, until none moves. When all have stayed in
 * place in a row, nothing would change any more. */
static void settle(struct lds_jump_model *m)
{
    size_t stayed = 0;
    for (int sweep = 0; stayed < m->jumps && sweep < SWEEPS; sweep++)
        for (size_t j = 0; j < m->jumps; j++) {
            size_t was = m->at[0], place = was;
            lds_jump_model_remove(m, 0);
            if (stayed <= m->jumps) {
                double most;
                lds_jump_model_solve(m);
                place = find_place(m, was, (size_t)(NEAR_S * m->stretch->rate_hz), &most);
            }
            lds_jump_model_append(m, place);
            stayed = place == was ? stayed + 1 : 0;
        }
    lds_jump_model_solve(m);
}

static void search(struct lds_jump_model *m)
{
    while (m->jumps < LDS_JUMP_FITS) {
        double most;
        size_t place = find_place(m, m->n / 2, m->n, &most);
        if (!(most > ENOUGH * m->variance))
            return;
        lds_jump_model_append(m, place);
        settle(m);
    }
}

/* ---- judgement ---- */

struct turn {
    double phase_rad, ratio, u_rad;
};

static double complex tone_at(const struct lds_jump_model *m, size_t sample, size_t jumps_before)
{
    double t = 2.0 * (double)sample / (double)m->n - 1.0;
    double complex a = 0.0;
    for (int bend = 0; bend < LDS_JUMP_BENDS; bend++)
        a += (m->weight[2 + 2 * bend] - I * m->weight[3 + 2 * bend]) * (bend == 0 ? 1.0 : bend == 1 ? t : t * t);
    for (size_t j = 0; j < jumps_before; j++)
        a += lds_jump_model_turn(m, j);
    return a;
}

/* m->at must be in order of time. */
static struct turn turn_of(const struct lds_jump_model *m, size_t j, double colour)
{
    double complex before = tone_at(m, m->at[j], j), after = tone_at(m, m->at[j], j + 1);
    double variance = colour * lds_jump_model_variance(m, j);
    return (struct turn){carg(after / before), cabs(after) / cabs(before), sqrt(variance) / cabs(before)};
}

static bool is_jump(const struct lds_jump_model *m, const struct turn *turn, double largest)
{
    double size = fabs(turn->phase_rad);
    double allowed = fmin(0.5, 0.5 * size + 5.0 * turn->u_rad);
    return size >= SIGMAS * turn->u_rad && size >= m->stretch->least_rad && size >= SMALL * largest &&
           fabs(log(turn->ratio)) <= allowed;
}

static void put_in_order(struct lds_jump_model *m)
{
    for (size_t sorted = 0; sorted < m->jumps; sorted++) {
        size_t first = 0; /* earliest of those not yet moved to the end */
        for (size_t j = 1; j < m->jumps - sorted; j++)
            if (m->at[j] < m->at[first])
                first = j;
        size_t place = m->at[first];
        lds_jump_model_remove(m, first);
        lds_jump_model_append(m, place);
    }
    lds_jump_model_solve(m);
}

/* How much stronger the residual about the tone is than white noise; at least 1. */
static double colour_of(const struct lds_jump_model *m)
{
    double noise, found = lds_jump_model_about_tone(m, &noise);
    return found > noise ? found / noise : 1.0;
}

static bool is_explained(const struct lds_jump_model *m, double without_jumps)
{
    double noise, found = lds_jump_model_about_tone(m, &noise), explained = m->stretch->explained;
    return explained <= 0.0 || found < WHITE * noise || found * explained < without_jumps;
}

/* Removes what is not a jump, smallest first, until only jumps are left. */
static void judge(struct lds_jump_model *m, struct turn *turn)
{
    while (m->jumps > 0) {
        put_in_order(m);
        double colour = colour_of(m);
        double largest = 0.0, least = INFINITY;
        size_t worst = m->jumps, close = m->jumps;
        for (size_t j = 0; j < m->jumps; j++) {
            turn[j] = turn_of(m, j, colour);
            largest = fmax(largest, fabs(turn[j].phase_rad));
            if (j > 0 && (double)(m->at[j] - m->at[j - 1]) < TOGETHER_S * m->stretch->rate_hz)
                close = fabs(turn[j].phase_rad) < fabs(turn[j - 1].phase_rad) ? j : j - 1;
        }
        for (size_t j = 0; j < m->jumps; j++)
            if (!is_jump(m, &turn[j], largest) && fabs(turn[j].phase_rad) < least) {
                least = fabs(turn[j].phase_rad);
                worst = j;
            }
        if (close < m->jumps)
            worst = close;
        if (worst == m->jumps)
            return;
        lds_jump_model_remove(m, worst);
        settle(m);
    }
}

/* Phase by which the fitted tone gains on the model's frequency from the middle of the stretch to its end. */
static double turned_off(const struct lds_jump_model *m)
{
    double complex level = m->weight[2] - I * m->weight[3], slope = m->weight[4] - I * m->weight[5];
    for (size_t j = 0; j < m->jumps; j++)
        if (m->at[j] < m->n / 2)
            level += lds_jump_model_turn(m, j);
    return cimag(slope / level);
}

/* A parabola follows a tone of another frequency only for a short way. So once that frequency is known the fit is
 * repeated, with the jumps where they are. */
static void fit_nearer(struct lds_jump_model *m)
{
    for (int turn = 0; turn < NEARER; turn++) {
        double off = turned_off(m);
        if (!(fabs(off) > OFF_RAD) || !(fabs(off) < 1.0))
            return;
        lds_jump_model_retune(m, m->tone_hz + off * m->stretch->rate_hz / (M_PI * (double)m->n));
        settle(m);
        search(m);
    }
}

bool lds_jump_fit(const struct lds_stretch *stretch, struct lds_jump_fit *jump, size_t *jumps)
{
    *jumps = 0;
    if (stretch->n < 4 * LDS_JUMP_COLUMNS)
        return true;
    struct lds_jump_model *m = malloc(sizeof *m);
    if (!m || !lds_jump_model_make(m, stretch)) {
        if (m)
            lds_jump_model_free(m);
        free(m);
        return false;
    }
    struct turn turn[LDS_JUMP_FITS];
    double noise, without_jumps = lds_jump_model_about_tone(m, &noise);
    search(m);
    fit_nearer(m);
    judge(m, turn);
    double margin = MARGIN * (double)m->n;
    bool told = is_explained(m, without_jumps);
    for (size_t j = 0; told && j < m->jumps; j++)
        if ((double)m->at[j] > margin && (double)m->at[j] < (double)m->n - margin)
            jump[(*jumps)++] = (struct lds_jump_fit){m->at[j], turn[j].phase_rad, turn[j].u_rad};
    lds_jump_model_free(m);
    free(m);
    return true;
}
