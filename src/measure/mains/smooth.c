/* Smooths the phase of the mains as far as its signal-to-noise ratio requires. */
#include "measure/mains/segment.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>

/* The frequency is modelled as a random walk of q Hz/sqrt(s); mains that swings by 20 mHz in 5 to 100 s has q of about
 * 1 to 15 mHz/sqrt(s). The values range from "constant" to beyond that. */
static const double WALK_HZ[] = {0.5e-4, 2e-4, 8e-4, 2e-3, 5e-3, 1.2e-2, 3e-2};

static const double LEAST_WALK_HZ = 8e-3; /* for the uncertainty of the mean */
enum { WALKS = sizeof WALK_HZ / sizeof *WALK_HZ };

/* W + lambda D'D, D second differences: the main diagonal and the two below it, in GSL's layout of a symmetric band. */
static void fill(gsl_matrix *a, const double *weight, double lambda)
{
    gsl_matrix_set_zero(a);
    for (size_t i = 0; i < a->size1; i++)
        *gsl_matrix_ptr(a, i, 0) = weight[i];
    for (size_t i = 0; i + 2 < a->size1; i++) {
        *gsl_matrix_ptr(a, i, 0) += lambda;
        *gsl_matrix_ptr(a, i + 1, 0) += 4.0 * lambda;
        *gsl_matrix_ptr(a, i + 2, 0) += lambda;
        *gsl_matrix_ptr(a, i, 1) -= 2.0 * lambda;
        *gsl_matrix_ptr(a, i + 1, 1) -= 2.0 * lambda;
        *gsl_matrix_ptr(a, i, 2) += lambda;
    }
}

/* A = L diag(d) L', in place. Returns ln det A. */
static double factor(gsl_matrix *a)
{
    double log_det = 0.0;
    gsl_linalg_ldlt_band_decomp(a);
    for (size_t i = 0; i < a->size1; i++)
        log_det += log(fmax(gsl_matrix_get(a, i, 0), 1e-300));
    return log_det;
}

static void solve(const gsl_matrix *a, double *x)
{
    gsl_vector_view view = gsl_vector_view_array(x, a->size1);
    gsl_linalg_ldlt_band_svx(a, &view.vector);
}

/* Above 1e9 times the information, any 300 nodes form a straight line (a bend over n of them costs lambda (pi/n)^4),
 * and a much larger lambda exceeds double precision. */
static double lambda_of(const struct lds_smooth *smooth, double walk_hz)
{
    const double s = 2.0 * M_PI * walk_hz, h = smooth->step_s;
    double most = 0.0;
    for (size_t i = 0; i < smooth->n; i++)
        most = fmax(most, smooth->information[i]);
    return fmin(1e9 * most, 1.0 / (s * s * h * h * h));
}

/* Smooths with one lambda; returns the marginal log likelihood up to a constant. */
static double smooth_with(struct lds_smooth *s, gsl_matrix *a, double lambda)
{
    fill(a, s->information, lambda);
    const double log_det = factor(a);
    for (size_t i = 0; i < s->n; i++)
        s->smooth[i] = s->information[i] * (s->measured[i] - s->measured[0]);
    solve(a, s->smooth);
    double misfit = 0.0;
    for (size_t i = 0; i < s->n; i++) {
        const double y = s->measured[i] - s->measured[0];
        misfit += s->information[i] * y * (y - s->smooth[i]);
        s->smooth[i] += s->measured[0];
    }
    return 0.5 * ((double)s->n - 2.0) * log(lambda) - 0.5 * misfit - 0.5 * log_det;
}

bool lds_smooth_phase(struct lds_smooth *s)
{
    gsl_matrix *a = gsl_matrix_alloc(s->n, 3);
    double *ends = calloc(s->n, sizeof *ends);
    const bool memory = a && ends;
    if (memory) {
        double best = -INFINITY, lambda = 0.0, looser = 0.0;
        for (size_t i = 0; i < WALKS; i++) {
            const double trial = lambda_of(s, WALK_HZ[i]), likelihood = smooth_with(s, a, trial);
            if (likelihood > best) {
                best = likelihood;
                lambda = trial;
                looser = lambda_of(s, fmax(LEAST_WALK_HZ, WALK_HZ[i + 1 < WALKS ? i + 1 : i]));
            }
        }
        /* A looser walk for the ends: in weak hum the likelihood often takes a wandering mains for a constant one. */
        smooth_with(s, a, looser);
        ends[0] = -1.0;
        ends[s->n - 1] = 1.0;
        solve(a, ends);
        s->variance_of_ends = ends[s->n - 1] - ends[0];
        smooth_with(s, a, lambda);
    }
    gsl_matrix_free(a);
    free(ends);
    return memory;
}
