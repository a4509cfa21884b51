#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "measure/known/follow.h"

enum { BLOCKS = 240, ROUNDS = 3 };
static const double CYCLES = 24.0;
static const double LOW_HZ = 1000.0, HIGH_HZ = 20000.0;
static const double LEAST_SHARE = 0.05; /* a block counts when at least this share of its level is the sweep */
static const double LEAST_BLOCKS = 0.3; /* the sweep is there when at least this share of the blocks count */

/* The phase of each block relative to the reference, without jumps of a turn. */
struct course {
    size_t count;
    double hz[BLOCKS], t_s[BLOCKS], phase[BLOCKS], weight[BLOCKS];
    double share; /* of the level, on average over all blocks */
};

static void band(const struct lds_signal_spec *spec, double rate_hz, double *low_hz, double *high_hz)
{
    *high_hz = fmin(fmin(HIGH_HZ, 0.97 * spec->frequency_hz[1]), 0.42 * rate_hz);
    *low_hz = fmax(fmin(LOW_HZ, 0.25 * *high_hz), 1.1 * spec->frequency_hz[0]);
}

static void follow(const struct lds_stretch *stretch, const struct lds_known *known, int repeat, struct course *course)
{
    double low_hz, high_hz, unwrapped = 0.0, before = 0.0;
    band(known->spec, stretch->rate_hz, &low_hz, &high_hz);
    *course = (struct course){0};
    for (int i = 0; i < BLOCKS; i++) {
        const double hz = low_hz * pow(high_hz / low_hz, (double)i / (BLOCKS - 1));
        const double t_s = repeat * known->spec->seconds + lds_sweep_time(known->spec, hz);
        const struct lds_sweep_block block = lds_sweep_block_at(stretch, known, t_s, CYCLES, 64.0);
        course->share += block.share / BLOCKS;
        if (block.share < LEAST_SHARE)
            continue;
        const double phase = carg(block.phasor), step = phase - before;
        unwrapped = course->count ? unwrapped + step - 2.0 * M_PI * rint(step / (2.0 * M_PI)) : phase;
        before = phase;
        course->hz[course->count] = hz;
        course->t_s[course->count] = t_s;
        course->phase[course->count] = unwrapped;
        course->weight[course->count++] = block.share;
    }
}

/* Terms of the phase over frequency: a constant, a delay, a clock, and the effect of filters outside the band: f0/f for
 * a high-pass, (f/f0)^3 and (f/f0)^5 for a low-pass. */
enum term { CONSTANT, DELAY, CLOCK, BELOW, ABOVE, FARTHER, TERMS };
#define TERM(name) (1u << name)
static const unsigned PLAIN = TERM(CONSTANT) | TERM(DELAY) | TERM(CLOCK);
static const unsigned FILTERED = TERM(CONSTANT) | TERM(DELAY) | TERM(CLOCK) | TERM(BELOW) | TERM(ABOVE);
static const unsigned WITHOUT_CLOCK = TERM(CONSTANT) | TERM(DELAY) | TERM(BELOW) | TERM(ABOVE);

struct result {
    double value[TERMS], u[TERMS];
};

/* Least squares by Householder reflections of the weighted rows; what is left scales the variance. */
static void solve(const struct course *course, unsigned terms, struct result *result)
{
    double rows[BLOCKS * TERMS], phase[BLOCKS], rest[BLOCKS], value[TERMS], tau[TERMS];
    const size_t columns = (size_t)__builtin_popcount(terms);
    *result = (struct result){0};
    if (course->count <= columns)
        return;
    gsl_matrix_view x = gsl_matrix_view_array(rows, course->count, columns);
    gsl_vector_view y = gsl_vector_view_array(phase, course->count), left = gsl_vector_view_array(rest, course->count);
    gsl_vector_view c = gsl_vector_view_array(value, columns), scales = gsl_vector_view_array(tau, columns);
    for (size_t i = 0; i < course->count; i++) {
        const double f = course->hz[i], u = f / HIGH_HZ, root = sqrt(course->weight[i]);
        const double row[TERMS] = {1.0,        -2.0 * M_PI * f, -2.0 * M_PI * f * course->t_s[i],
                                   LOW_HZ / f, u * u * u,       u * u * u * u * u};
        for (size_t k = 0, column = 0; k < TERMS; k++)
            if (terms & (1u << k))
                rows[i * columns + column++] = root * row[k];
        phase[i] = root * course->phase[i];
    }
    gsl_linalg_QR_decomp(&x.matrix, &scales.vector);
    gsl_linalg_QR_lssolve(&x.matrix, &scales.vector, &y.vector, &c.vector, &left.vector);
    gsl_matrix_view upper = gsl_matrix_submatrix(&x.matrix, 0, 0, columns, columns);
    gsl_linalg_tri_invert(CblasUpper, CblasNonUnit, &upper.matrix);
    const double scale = gsl_blas_dnrm2(&left.vector) / sqrt((double)(course->count - columns));
    for (size_t k = 0, column = 0; k < TERMS; k++)
        if (terms & (1u << k)) {
            gsl_vector_view inverse = gsl_vector_view_array(&rows[column * columns + column], columns - column);
            result->value[k] = value[column++];
            result->u[k] = scale * gsl_blas_dnrm2(&inverse.vector);
        }
}

static void move(struct lds_known *known, double delay_s, double clock, double rate_hz)
{
    known->begin += delay_s * rate_hz;
    known->clock_ppm += 1e6 * clock * (1.0 + 1e-6 * known->clock_ppm);
}

/* What one more term of a filter would change counts as uncertainty. */
static void follow_one(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct course course;
    struct result result = {0}, more = {0};
    known->found = true;
    for (int round = 0; known->found && round < ROUNDS; round++) {
        follow(stretch, known, 0, &course);
        known->match = course.share;
        known->found = (double)course.count > LEAST_BLOCKS * BLOCKS;
        if (!known->found)
            break;
        solve(&course, round == 0 ? PLAIN : FILTERED, &result);
        solve(&course, FILTERED | TERM(FARTHER), &more);
        move(known, result.value[DELAY], result.value[CLOCK], stretch->rate_hz);
    }
    known->u_clock_ppm = 1e6 * hypot(result.u[CLOCK], more.value[CLOCK] - result.value[CLOCK]);
    known->u_begin = hypot(result.u[DELAY], more.value[DELAY] - result.value[DELAY]) * stretch->rate_hz;
    known->inverted = cos(result.value[CONSTANT]) < 0.0;
}

/* The clock from the phases of later repeats against the first, which are proportional to frequency and to the time
 * between the repeats. The residuals of one block, over all repeats, are summed before they are squared: noise grows
 * with frequency, and all repeats share the noise of the first (White, Econometrica 48(4), 1980). */
static void compare_repeats(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct course first, later;
    double product = 0.0, square = 0.0, score[BLOCKS] = {0}, slope = 0.0, left = 0.0;
    follow(stretch, known, 0, &first);
    for (int pass = 0; pass < 2; pass++) {
        for (int r = 1; r < known->spec->repeats; r++) {
            follow(stretch, known, r, &later);
            for (size_t i = 0; i < first.count && later.count == first.count; i++) {
                double phase = later.phase[i] - first.phase[i];
                phase -= 2.0 * M_PI * rint((later.phase[0] - first.phase[0]) / (2.0 * M_PI));
                const double x = -2.0 * M_PI * first.hz[i] * (later.t_s[i] - first.t_s[i]);
                product += pass == 0 ? x * phase : 0.0;
                square += pass == 0 ? x * x : 0.0;
                score[i] += x * (phase - slope * x);
            }
        }
        if (square <= 0.0 || first.count < 2)
            return;
        if (pass == 0) {
            slope = product / square;
            memset(score, 0, sizeof score);
        }
    }
    for (size_t i = 0; i < first.count; i++)
        left += score[i] * score[i];
    move(known, 0.0, slope, stretch->rate_hz);
    known->u_clock_ppm = 1e6 * sqrt(left) / square;
}

/* The beginning once more, with the clock left as it is. */
static void place(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct course course;
    struct result result;
    follow(stretch, known, 0, &course);
    solve(&course, WITHOUT_CLOCK, &result);
    move(known, result.value[DELAY], 0.0, stretch->rate_hz);
    known->u_begin = result.u[DELAY] * stretch->rate_hz;
}

bool lds_follow_sweep(const struct lds_stretch *stretch, struct lds_known *known)
{
    follow_one(stretch, known);
    if (!known->found || known->spec->repeats < 2)
        return true;
    for (int round = 0; round < 2; round++)
        compare_repeats(stretch, known);
    place(stretch, known);
    return true;
}
