#include "measure/tone/flattening.h"

#include <math.h>

#include <gsl/gsl_multimin.h>

enum { POINTS = 128, PARAMETERS = 4, TURNS = 200 };
/* Common practice, no source: above this THD it is called clipping, below it a curved characteristic. */
static const double LEAST_THD = 0.003;
static const double EXPLAINED = 0.9;
static const double GAIN = 0.88;
static const double NOISE_SHARE = 0.05; /* at most this share of the harmonics' power */

/* y(u) = u / (1 + |q u|^p)^(1/p), with one q for each half: it limits at 1/q, softly for p = 2, abruptly for large p.
 * The output coupling, a high-pass far below the tone, shifts order k by about 1/k of the phase by which it shifts the
 * fundamental. */
struct curve {
    double q[2]; /* of the positive half and the negative one */
    double p;
    double turn;
};

struct fit {
    const double complex *z;
    int last;
    double cosine[LDS_FLATTENING_ORDERS + 1][POINTS]; /* of order k at each point of half a period */
};

static double limit(double u, double q, double p)
{
    return u / pow(1.0 + pow(q * u, p), 1.0 / p);
}

static double slope_at_peak(double q, double p)
{
    return pow(1.0 + pow(q, p), -1.0 - 1.0 / p);
}

static struct curve curve_of(const double x[PARAMETERS])
{
    return (struct curve){
        .q = {exp(fmin(x[0], 3.0)), exp(fmin(x[1], 3.0))}, .p = 2.0 + exp(fmin(x[2], 5.0)), .turn = x[3]};
}

/* The harmonics of the curve driven by cos(angle), with the fundamental in [1]. The first half of the points is the
 * positive half of the curve, the second the negative one. */
static void harmonics_of(const struct fit *fit, const struct curve *curve, double *c)
{
    double y[POINTS];
    for (int i = 0; i < POINTS / 2; i++) {
        double u = fit->cosine[1][i];
        y[i] = limit(u, curve->q[0], curve->p);
        y[POINTS - 1 - i] = -limit(u, curve->q[1], curve->p);
    }
    for (int k = 1; k <= fit->last; k++) {
        double sum = 0.0;
        for (int i = 0; i < POINTS; i++)
            sum += y[i] * fit->cosine[k][i];
        c[k] = 2.0 / POINTS * sum;
    }
}

static double misfit(const gsl_vector *x, void *context)
{
    const struct fit *fit = context;
    struct curve curve = curve_of(x->data);
    double c[LDS_FLATTENING_ORDERS + 1], sum = 0.0;
    harmonics_of(fit, &curve, c);
    for (int k = 2; k <= fit->last; k++) {
        double complex left = fit->z[k] - c[k] / c[1] * cexp(I * curve.turn * (1.0 / k - k));
        sum += creal(left * conj(left));
    }
    return sum;
}

/* Starts from the best point of a coarse grid. */
static void begin(struct fit *fit, gsl_vector *best)
{
    static const double q[] = {0.3, 0.7, 0.95, 1.02, 1.1, 1.4, 2.5}, p[] = {2.2, 5.0, 40.0};
    enum { Q = sizeof q / sizeof q[0], P = sizeof p / sizeof p[0] };
    double least = INFINITY, x[PARAMETERS] = {0};
    gsl_vector_view view = gsl_vector_view_array(x, PARAMETERS);
    for (int i = 0; i < Q * Q * P; i++) {
        x[0] = log(q[i % Q]);
        x[1] = log(q[i / Q % Q]);
        x[2] = log(p[i / (Q * Q)] - 2.0);
        double sum = misfit(&view.vector, fit);
        if (sum < least) {
            least = sum;
            gsl_vector_memcpy(best, &view.vector);
        }
    }
}

/* Simplex search of Nelder and Mead 1965. false: no memory. */
static bool improve(struct fit *fit, gsl_vector *x, double *least)
{
    gsl_multimin_function function = {.f = misfit, .n = PARAMETERS, .params = fit};
    gsl_vector *step = gsl_vector_alloc(PARAMETERS);
    gsl_multimin_fminimizer *search = gsl_multimin_fminimizer_alloc(gsl_multimin_fminimizer_nmsimplex2, PARAMETERS);
    bool ok = step && search;
    if (ok) {
        gsl_vector_set_all(step, 0.1);
        gsl_vector_set(step, 2, 0.7);
        gsl_multimin_fminimizer_set(search, &function, x, step);
        for (int i = 0; i < TURNS && gsl_multimin_fminimizer_size(search) > 1e-3; i++)
            if (gsl_multimin_fminimizer_iterate(search))
                break;
        gsl_vector_memcpy(x, search->x);
        *least = search->fval;
    }
    if (search)
        gsl_multimin_fminimizer_free(search);
    if (step)
        gsl_vector_free(step);
    return ok;
}

static void judge(const struct fit *fit, const struct curve *curve, struct lds_flattening *result)
{
    double c[LDS_FLATTENING_ORDERS + 1];
    harmonics_of(fit, curve, c);
    int side = curve->q[1] > curve->q[0];
    result->gain = slope_at_peak(curve->q[side], curve->p);
    result->ceiling = limit(1.0, curve->q[side], curve->p) / c[1];
    result->found = result->explained > EXPLAINED && result->gain < GAIN;
}

void lds_flattening_fit(const double complex *z, int last, double noise, struct lds_flattening *result)
{
    *result = (struct lds_flattening){.explained = NAN, .gain = NAN, .ceiling = NAN};
    double power = 0.0;
    for (int k = 2; k <= last; k++)
        power += creal(z[k] * conj(z[k]));
    result->thd = sqrt(fmax(0.0, power - noise));
    if (last < LDS_FLATTENING_LEAST || !(result->thd >= LEAST_THD) || !(noise < NOISE_SHARE * power) ||
        !isfinite(power))
        return;
    struct fit fit = {.z = z, .last = last < LDS_FLATTENING_ORDERS ? last : LDS_FLATTENING_ORDERS};
    for (int k = 1; k <= fit.last; k++)
        for (int i = 0; i < POINTS; i++)
            fit.cosine[k][i] = cos(M_PI * k * (i + 0.5) / POINTS);
    double x[PARAMETERS], left = INFINITY;
    gsl_vector_view view = gsl_vector_view_array(x, PARAMETERS);
    begin(&fit, &view.vector);
    if (!improve(&fit, &view.vector, &left))
        return;
    result->explained = 1.0 - left / power;
    struct curve curve = curve_of(x);
    judge(&fit, &curve, result);
}
