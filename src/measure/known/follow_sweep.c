#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>

#include "measure/known/follow.h"

enum { BLOCKS = 240, ROUNDS = 3 };
static const double CYCLES = 24.0;
static const double LOW_HZ = 1000.0, HIGH_HZ = 20000.0;
static const double LEAST_SHARE = 0.05; /* of a block that counts */
static const double LEAST_BLOCKS = 0.3; /* share of them for the sweep to be there */

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

/* Terms of the phase over frequency: a constant, a delay, a clock, and what filters outside the band do: f0/f of a
 * high-pass, (f/f0)^3 and (f/f0)^5 of a low-pass. */
enum term { CONSTANT, DELAY, CLOCK, BELOW, ABOVE, FARTHER, TERMS };
#define TERM(name) (1u << name)
static const unsigned PLAIN = TERM(CONSTANT) | TERM(DELAY) | TERM(CLOCK);
static const unsigned FILTERED = TERM(CONSTANT) | TERM(DELAY) | TERM(CLOCK) | TERM(BELOW) | TERM(ABOVE);
static const unsigned WITHOUT_CLOCK = TERM(CONSTANT) | TERM(DELAY) | TERM(BELOW) | TERM(ABOVE);

struct result {
    double value[TERMS], u[TERMS];
};

struct fit {
    size_t columns;
    gsl_matrix *x, *covariance;
    gsl_vector *y, *w, *c;
    gsl_multifit_linear_workspace *work;
};

static bool fit_open(struct fit *fit, size_t rows, size_t columns)
{
    *fit = (struct fit){columns,
                        gsl_matrix_alloc(rows, columns),
                        gsl_matrix_alloc(columns, columns),
                        gsl_vector_alloc(rows),
                        gsl_vector_alloc(rows),
                        gsl_vector_alloc(columns),
                        gsl_multifit_linear_alloc(rows, columns)};
    return fit->x && fit->covariance && fit->y && fit->w && fit->c && fit->work;
}

static void fit_close(struct fit *fit)
{
    gsl_matrix *const matrix[] = {fit->x, fit->covariance};
    gsl_vector *const vector[] = {fit->y, fit->w, fit->c};
    for (size_t i = 0; i < 2; i++)
        if (matrix[i])
            gsl_matrix_free(matrix[i]);
    for (size_t i = 0; i < 3; i++)
        if (vector[i])
            gsl_vector_free(vector[i]);
    if (fit->work)
        gsl_multifit_linear_free(fit->work);
}

/* gsl_multifit_wlinear takes weights for 1/variance: its covariance is scaled by what is left. */
static bool solve(const struct course *course, unsigned terms, struct result *result)
{
    struct fit fit;
    double left = NAN;
    bool good = fit_open(&fit, course->count, (size_t)__builtin_popcount(terms));
    for (size_t i = 0; good && i < course->count; i++) {
        const double f = course->hz[i], u = f / HIGH_HZ;
        const double row[TERMS] = {1.0,        -2.0 * M_PI * f, -2.0 * M_PI * f * course->t_s[i],
                                   LOW_HZ / f, u * u * u,       u * u * u * u * u};
        for (size_t k = 0, column = 0; k < TERMS; k++)
            if (terms & (1u << k))
                gsl_matrix_set(fit.x, i, column++, row[k]);
        gsl_vector_set(fit.y, i, course->phase[i]);
        gsl_vector_set(fit.w, i, course->weight[i]);
    }
    good = good && gsl_multifit_wlinear(fit.x, fit.w, fit.y, fit.c, fit.covariance, &left, fit.work) == 0;
    *result = (struct result){0};
    for (size_t k = 0, column = 0; good && k < TERMS; k++)
        if (terms & (1u << k)) {
            const double scale = left / fmax((double)course->count - (double)fit.columns, 1.0);
            result->value[k] = gsl_vector_get(fit.c, column);
            result->u[k] = sqrt(scale * gsl_matrix_get(fit.covariance, column, column));
            column++;
        }
    fit_close(&fit);
    return good;
}

static void move(struct lds_known *known, double delay_s, double clock, double rate_hz)
{
    known->begin += delay_s * rate_hz;
    known->clock_ppm += 1e6 * clock * (1.0 + 1e-6 * known->clock_ppm);
}

/* What one more term of a filter would change counts as uncertainty. */
static bool follow_one(const struct lds_stretch *stretch, struct lds_known *known)
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
        if (!solve(&course, round == 0 ? PLAIN : FILTERED, &result) || !solve(&course, FILTERED | TERM(FARTHER), &more))
            return false;
        move(known, result.value[DELAY], result.value[CLOCK], stretch->rate_hz);
    }
    known->u_clock_ppm = 1e6 * hypot(result.u[CLOCK], more.value[CLOCK] - result.value[CLOCK]);
    known->u_begin = hypot(result.u[DELAY], more.value[DELAY] - result.value[DELAY]) * stretch->rate_hz;
    known->inverted = cos(result.value[CONSTANT]) < 0.0;
    return true;
}

/* From the phases of later repeats against the first, each proportional to frequency and to the time between them. */
static void compare_repeats(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct course first, later;
    double product = 0.0, square = 0.0, left = 0.0, count = 0.0;
    double slope = 0.0;
    follow(stretch, known, 0, &first);
    for (int pass = 0; pass < 2; pass++) {
        for (int r = 1; r < known->spec->repeats; r++) {
            follow(stretch, known, r, &later);
            if (later.count != first.count)
                continue;
            for (size_t i = 0; i < first.count; i++) {
                double phase = later.phase[i] - first.phase[i];
                phase -= 2.0 * M_PI * rint((later.phase[0] - first.phase[0]) / (2.0 * M_PI));
                const double x = -2.0 * M_PI * first.hz[i] * (later.t_s[i] - first.t_s[i]);
                if (pass == 0) {
                    product += x * phase;
                    square += x * x;
                } else {
                    left += (phase - slope * x) * (phase - slope * x);
                    count++;
                }
            }
        }
        slope = square > 0.0 ? product / square : 0.0;
    }
    if (square <= 0.0 || count < 2.0)
        return;
    move(known, 0.0, slope, stretch->rate_hz);
    known->u_clock_ppm = 1e6 * sqrt(left / (count - 1.0) / square);
}

/* The beginning once more, with the clock left as it is. */
static bool place(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct course course;
    struct result result;
    follow(stretch, known, 0, &course);
    if (!solve(&course, WITHOUT_CLOCK, &result))
        return false;
    move(known, result.value[DELAY], 0.0, stretch->rate_hz);
    known->u_begin = result.u[DELAY] * stretch->rate_hz;
    return true;
}

bool lds_follow_sweep(const struct lds_stretch *stretch, struct lds_known *known)
{
    if (!follow_one(stretch, known))
        return false;
    if (!known->found || known->spec->repeats < 2)
        return true;
    for (int round = 0; round < 2; round++)
        compare_repeats(stretch, known);
    return place(stretch, known);
}
