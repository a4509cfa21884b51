#include "measure/dc/decay.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

static const double WIDTH = 0.01;      /* of a bin, relative to the time from the beginning */
static const double SHORTEST_S = 0.03; /* the low-pass leaves nothing shorter */
static const double LONGEST = 30.0;    /* times the length: a straight line */
static const double LEVEL = 0.01;      /* of the F test */
static const double APART = 1.5;       /* smallest ratio of two time constants */
enum { GRID = 48, STEPS = 500, MOST = 1 + 2 * LDS_DC_DECAYS };

/* Means of ever longer parts of the course. */
struct bins {
    size_t count;
    double *t, *y, *w; /* time from the first sample, mean, number of samples */
};

struct trial { /* p[0] is a; then b and ln tau of each term */
    int terms;
    double p[MOST], squares;
    double normal[MOST][MOST]; /* J'WJ */
};

static bool bins_make(const struct lds_dc_course *course, size_t first, struct bins *bins)
{
    size_t n = course->n - first;
    *bins = (struct bins){.t = malloc(3 * n * sizeof(double))};
    if (!bins->t)
        return false;
    bins->y = bins->t + n;
    bins->w = bins->y + n;
    for (size_t i = 0; i < n;) {
        size_t wide = (size_t)fmax(1.0, WIDTH * (double)i);
        wide = wide < n - i ? wide : n - i;
        double sum = 0.0;
        for (size_t k = 0; k < wide; k++)
            sum += course->x[first + i + k];
        bins->t[bins->count] = ((double)i + 0.5 * ((double)wide - 1.0)) * course->step_s;
        bins->y[bins->count] = sum / (double)wide;
        bins->w[bins->count++] = (double)wide;
        i += wide;
    }
    return true;
}

/* Solves m x = v of order n by Cholesky's method; m is overwritten. false: m is not positive definite. */
static bool solve(double m[MOST][MOST], int n, double *v)
{
    for (int i = 0; i < n; i++)
        for (int j = 0; j <= i; j++) {
            double sum = m[i][j];
            for (int k = 0; k < j; k++)
                sum -= m[i][k] * m[j][k];
            if (i == j && !(sum > 1e-14 * m[i][i]))
                return false;
            m[i][j] = i == j ? sqrt(sum) : sum / m[j][j];
        }
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < i; k++)
            v[i] -= m[i][k] * v[k];
        v[i] /= m[i][i];
    }
    for (int i = n; i-- > 0;) {
        for (int k = i + 1; k < n; k++)
            v[i] -= m[k][i] * v[k];
        v[i] /= m[i][i];
    }
    return true;
}

/* Fits a and b by least squares for these time constants; `squares` is the sum of the squared residuals. */
static bool linear(const struct bins *bins, struct trial *trial)
{
    int n = 1 + trial->terms;
    double m[MOST][MOST] = {{0}}, v[MOST] = {0}, all = 0.0, left = 0.0, rate[LDS_DC_DECAYS];
    for (int k = 0; k < trial->terms; k++)
        rate[k] = exp(-trial->p[2 + 2 * k]);
    for (size_t i = 0; i < bins->count; i++) {
        double f[1 + LDS_DC_DECAYS] = {1.0};
        for (int k = 0; k < trial->terms; k++)
            f[1 + k] = exp(-bins->t[i] * rate[k]);
        for (int r = 0; r < n; r++) {
            v[r] += bins->w[i] * f[r] * bins->y[i];
            for (int c = 0; c <= r; c++)
                m[r][c] += bins->w[i] * f[r] * f[c];
        }
        all += bins->w[i] * bins->y[i] * bins->y[i];
    }
    double right[MOST];
    for (int r = 0; r < n; r++)
        right[r] = v[r];
    if (!solve(m, n, v))
        return false;
    left = all;
    for (int r = 0; r < n; r++)
        left -= v[r] * right[r];
    trial->p[0] = v[0];
    for (int k = 0; k < trial->terms; k++)
        trial->p[1 + 2 * k] = v[1 + k];
    trial->squares = fmax(0.0, left);
    return true;
}

/* The sum of squares at p, its gradient (half of it, negative) and the normal matrix. */
static double judge(const struct bins *bins, int terms, const double *p, double normal[MOST][MOST], double *gradient)
{
    int n = 1 + 2 * terms;
    double squares = 0.0;
    for (int r = 0; r < n; r++) {
        gradient[r] = 0.0;
        for (int c = 0; c < n; c++)
            normal[r][c] = 0.0;
    }
    for (size_t i = 0; i < bins->count; i++) {
        double d[MOST] = {1.0}, left = bins->y[i] - p[0];
        for (int k = 0; k < terms; k++) {
            double x = bins->t[i] * exp(-p[2 + 2 * k]), e = exp(-x);
            left -= p[1 + 2 * k] * e;
            d[1 + 2 * k] = e;
            d[2 + 2 * k] = p[1 + 2 * k] * e * x;
        }
        for (int r = 0; r < n; r++) {
            gradient[r] += bins->w[i] * d[r] * left;
            for (int c = 0; c <= r; c++)
                normal[r][c] += bins->w[i] * d[r] * d[c];
        }
        squares += bins->w[i] * left * left;
    }
    for (int r = 0; r < n; r++)
        for (int c = r + 1; c < n; c++)
            normal[r][c] = normal[c][r];
    return squares;
}

/* Levenberg-Marquardt, from the best point of the grid. */
static void refine(const struct bins *bins, struct trial *trial)
{
    int n = 1 + 2 * trial->terms;
    double gradient[MOST], damping = 1e-3;
    trial->squares = judge(bins, trial->terms, trial->p, trial->normal, gradient);
    for (int step = 0; step < STEPS; step++) {
        double m[MOST][MOST], next[MOST], at[MOST][MOST], slope[MOST];
        for (int r = 0; r < n; r++) {
            next[r] = gradient[r];
            for (int c = 0; c < n; c++)
                m[r][c] = trial->normal[r][c] * (r == c ? 1.0 + damping : 1.0);
        }
        bool solved = solve(m, n, next);
        for (int r = 0; r < n; r++)
            next[r] = trial->p[r] + (solved ? next[r] : 0.0);
        double squares = solved ? judge(bins, trial->terms, next, at, slope) : (double)INFINITY;
        if (!(squares < trial->squares)) {
            damping *= 8.0;
            if (damping > 1e12)
                return;
            continue;
        }
        bool done = trial->squares - squares <= 1e-12 * trial->squares;
        trial->squares = squares;
        damping = fmax(1e-12, damping / 8.0);
        for (int r = 0; r < n; r++) {
            trial->p[r] = next[r];
            gradient[r] = slope[r];
            for (int c = 0; c < n; c++)
                trial->normal[r][c] = at[r][c];
        }
        if (done)
            return;
    }
}

/* The best of a grid of time constants, refined. */
static void search(const struct bins *bins, double length_s, int terms, struct trial *best)
{
    double low = log(SHORTEST_S), step = (log(LONGEST * length_s) - low) / (GRID - 1);
    *best = (struct trial){.terms = terms, .squares = INFINITY};
    for (int i = 0; i < (terms > 0 ? GRID : 1); i++)
        for (int j = i + 1; j < (terms > 1 ? GRID : i + 2); j++) {
            struct trial trial = {.terms = terms};
            trial.p[2] = low + i * step;
            if (terms > 1)
                trial.p[4] = low + j * step;
            if (linear(bins, &trial) && trial.squares < best->squares)
                *best = trial;
        }
    if (terms > 0 && isfinite(best->squares))
        refine(bins, best);
}

/* Puts the faster one first. */
static void sort(struct trial *trial)
{
    if (trial->terms < 2 || trial->p[2] <= trial->p[4])
        return;
    for (int k = 1; k <= 2; k++) {
        double swap = trial->p[k];
        trial->p[k] = trial->p[k + 2];
        trial->p[k + 2] = swap;
    }
}

static void take(const struct bins *bins, const struct trial *trial, struct lds_dc_decay *decay)
{
    double normal[MOST][MOST], gradient[MOST];
    int n = 1 + 2 * trial->terms;
    decay->terms = trial->terms;
    decay->a = trial->p[0];
    for (int k = 0; k < trial->terms; k++) {
        decay->b[k] = trial->p[1 + 2 * k];
        decay->tau_s[k] = exp(trial->p[2 + 2 * k]);
        double column[MOST] = {0};
        judge(bins, trial->terms, trial->p, normal, gradient);
        column[2 + 2 * k] = 1.0;
        decay->u_log[k] = solve(normal, n, column) ? sqrt(decay->drift.slow * column[2 + 2 * k]) : (double)INFINITY;
    }
}

/* The residuals of a trial, into `left` (n - first numbers), and their drift. */
static void remains(const struct lds_dc_course *course, struct lds_dc_decay *decay, const struct bins *bins,
                    const struct trial *trial, double *left)
{
    take(bins, trial, decay);
    for (size_t i = decay->first; i < course->n; i++)
        left[i - decay->first] = course->x[i] - lds_dc_decay_at(decay, course, i);
    lds_dc_drift_find(left, course->n - decay->first, &decay->drift);
    take(bins, trial, decay);
}

/* Whether the fit with more terms is better by more than chance. By chance, two more parameters reduce the sum of
 * squares as the noise at low frequencies allows. */
static bool is_better(const struct trial *poorer, const struct trial *richer, const struct lds_dc_drift *drift)
{
    if (!isfinite(richer->squares) || !(drift->slow > 0.0))
        return isfinite(richer->squares) && richer->squares < poorer->squares;
    double f = 0.5 * (poorer->squares - richer->squares) / drift->slow;
    return f > gsl_cdf_fdist_Qinv(LEVEL, 2.0, drift->dof);
}

static bool is_sound(const struct trial *trial, double length_s)
{
    const double longest = log(LONGEST * length_s) + 1.0;
    for (int k = 0; k < trial->terms; k++)
        if (!(trial->p[2 + 2 * k] < longest && trial->p[2 + 2 * k] > log(0.5 * SHORTEST_S)))
            return false;
    return trial->terms < 2 || trial->p[4] - trial->p[2] > log(APART);
}

bool lds_dc_decay_fit(const struct lds_dc_course *course, size_t first, int terms, struct lds_dc_decay *decay)
{
    struct bins bins;
    *decay = (struct lds_dc_decay){.first = first, .a = NAN, .drift = {NAN, NAN, NAN}};
    if (first + 2 * MOST >= course->n)
        return true;
    double length_s = (double)(course->n - first) * course->step_s;
    double *left = malloc((course->n - first) * sizeof *left);
    bool memory = left && bins_make(course, first, &bins);
    struct trial kept;
    if (memory) {
        search(&bins, length_s, 0, &kept);
        remains(course, decay, &bins, &kept, left);
    }
    for (int k = 1; memory && k <= terms; k++) {
        struct trial richer;
        struct lds_dc_decay other = *decay;
        search(&bins, length_s, k, &richer);
        sort(&richer);
        if (!isfinite(richer.squares))
            break;
        remains(course, &other, &bins, &richer, left);
        if (!is_sound(&richer, length_s) || !is_better(&kept, &richer, &other.drift))
            break;
        kept = richer;
        *decay = other;
    }
    if (memory)
        free(bins.t);
    free(left);
    return memory;
}

double lds_dc_decay_at(const struct lds_dc_decay *decay, const struct lds_dc_course *course, size_t i)
{
    double t = ((double)i - (double)decay->first) * course->step_s, value = decay->a;
    for (int k = 0; k < decay->terms; k++)
        value += decay->b[k] * exp(-t / decay->tau_s[k]);
    return value;
}

double lds_dc_decay_mean(const struct lds_dc_decay *decay, const struct lds_dc_course *course, double from_s,
                         double to_s)
{
    double start_s = lds_dc_course_time(course, decay->first), value = decay->a;
    for (int k = 0; k < decay->terms; k++) {
        double tau = decay->tau_s[k];
        value += decay->b[k] * tau * (exp((start_s - from_s) / tau) - exp((start_s - to_s) / tau)) / (to_s - from_s);
    }
    return value;
}
