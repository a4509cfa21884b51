#include "measure/impedance/drift.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

enum { COLUMNS = 3 /* a level, the step, a slope */, STEP = 1, WALKS = 15, SMOOTHS = 19, MODELS = 1 + WALKS + SMOOTHS };
static const double WALK_FROM = 1e-3, SMOOTH_FROM = 1e-7; /* variances relative to that of the points, half decades */

struct model {
    double strength;
    bool smooth;
    double step, variance, log_likelihood;
};

struct room {
    gsl_matrix *v; /* count x count: the covariance, then its Cholesky factor */
    gsl_matrix *x; /* count x COLUMNS */
    gsl_vector *y;
    gsl_matrix *normal; /* COLUMNS x COLUMNS */
    gsl_vector *right;
};

static bool open_room(struct room *room, size_t count)
{
    *room = (struct room){gsl_matrix_alloc(count, count), gsl_matrix_alloc(count, COLUMNS), gsl_vector_alloc(count),
                          gsl_matrix_alloc(COLUMNS, COLUMNS), gsl_vector_alloc(COLUMNS)};
    return room->v && room->x && room->y && room->normal && room->right;
}

static void close_room(struct room *room)
{
    gsl_matrix *const matrix[] = {room->v, room->x, room->normal};
    gsl_vector *const vector[] = {room->y, room->right};
    for (size_t i = 0; i < sizeof matrix / sizeof *matrix; i++)
        if (matrix[i])
            gsl_matrix_free(matrix[i]);
    for (size_t i = 0; i < sizeof vector / sizeof *vector; i++)
        if (vector[i])
            gsl_vector_free(vector[i]);
}

/* Covariance of a walk that begins at 0, min(s, t), and of its integral. */
static double drift(double s, double t, bool smooth)
{
    const double early = fmin(s, t);
    return smooth ? early * early * (early / 3.0 + fabs(s - t) / 2.0) : early;
}

static void fill(const struct lds_drift_course *course, const struct model *model, struct room *room)
{
    for (size_t i = 0; i < course->count; i++) {
        const double t = course->time[i] - course->time[0];
        for (size_t k = 0; k < course->count; k++) {
            const double both = drift(t, course->time[k] - course->time[0], model->smooth);
            gsl_matrix_set(room->v, i, k, model->strength * both + (i == k ? 1.0 : 0.0));
        }
        gsl_matrix_set(room->x, i, 0, 1.0);
        gsl_matrix_set(room->x, i, STEP, course->stepped[i] ? 1.0 : 0.0);
        gsl_matrix_set(room->x, i, 2, t);
        gsl_vector_set(room->y, i, course->value[i]);
    }
}

static double log_determinant(const gsl_matrix *factor)
{
    double sum = 0.0;
    for (size_t i = 0; i < factor->size1; i++)
        sum += 2.0 * log(gsl_matrix_get(factor, i, i));
    return sum;
}

/* Generalised least squares: once the rows are whitened by the Cholesky factor of the covariance, ordinary least
 * squares. */
static void solve(const struct lds_drift_course *course, double least_u, struct room *room, struct model *model)
{
    const double free = (double)(course->count - COLUMNS);
    double square, explained;
    fill(course, model, room);
    gsl_linalg_cholesky_decomp1(room->v);
    gsl_blas_dtrsm(CblasLeft, CblasLower, CblasNoTrans, CblasNonUnit, 1.0, room->v, room->x);
    gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, room->v, room->y);
    gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1.0, room->x, room->x, 0.0, room->normal);
    gsl_linalg_cholesky_decomp1(room->normal);
    gsl_blas_dgemv(CblasTrans, 1.0, room->x, room->y, 0.0, room->right);
    gsl_linalg_cholesky_svx(room->normal, room->right);
    const double log_of_normal = log_determinant(room->normal);
    gsl_blas_dgemv(CblasNoTrans, -1.0, room->x, room->right, 1.0, room->y);
    gsl_blas_ddot(room->y, room->y, &square);
    explained = gsl_vector_get(room->right, STEP);
    gsl_linalg_cholesky_invert(room->normal);
    const double left = fmax(square / free, least_u * least_u);
    model->step = explained;
    model->variance = left * gsl_matrix_get(room->normal, STEP, STEP);
    model->log_likelihood = -0.5 * (log_determinant(room->v) + log_of_normal + free * log(left));
}

static void average(const struct model *model, double *step, double *u)
{
    double best = -INFINITY, sum = 0.0, variance = 0.0;
    *step = 0.0;
    for (size_t i = 0; i < MODELS; i++)
        best = fmax(best, model[i].log_likelihood);
    for (size_t i = 0; i < MODELS; i++) {
        sum += exp(model[i].log_likelihood - best);
        *step += exp(model[i].log_likelihood - best) * model[i].step;
    }
    *step /= sum;
    for (size_t i = 0; i < MODELS; i++) {
        const double off = model[i].step - *step;
        variance += exp(model[i].log_likelihood - best) / sum * (model[i].variance + off * off);
    }
    *u = sqrt(variance);
}

bool lds_drift_step(const struct lds_drift_course *course, double least_u, double *step, double *u)
{
    struct model model[MODELS];
    struct room room;
    const bool memory = open_room(&room, course->count);
    for (size_t i = 0; memory && i < MODELS; i++) {
        const bool smooth = i > WALKS;
        const double from = smooth ? SMOOTH_FROM : WALK_FROM, half_decades = (double)(i - (smooth ? 1 + WALKS : 1));
        model[i] = (struct model){.strength = i == 0 ? 0.0 : from * pow(10.0, 0.5 * half_decades), .smooth = smooth};
        solve(course, least_u, &room, &model[i]);
    }
    if (memory)
        average(model, step, u);
    close_room(&room);
    return memory;
}
