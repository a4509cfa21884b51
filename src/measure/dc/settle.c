#include "measure/dc/settle.h"

#include <math.h>

static const double HOLD_S = 0.5;     /* it must stay inside the band for at least so long */
static const double AROUND = 0.25;    /* half of the fit's width over the time since the switching on */
static const double LEAST_S = 0.3;    /* before that, the low-pass itself shapes the course */
static const double CORRELATED = 5.0; /* samples that the low-pass correlates: 100 over 2 x 10 Hz */
static const double CENTRE_U = 1.5;   /* of a parabola at its centre, over that of a mean: sqrt(9/4) */

/* A parabola c[0] + c[1] t + c[2] t^2 by least squares through the magnitudes of samples [first, end), t in samples
 * from `centre`. Returns the standard deviation of the residuals. */
static double parabola(const struct lds_dc_course *course, size_t first, size_t end, size_t centre, double c[3])
{
    double s[5] = {0}, v[3] = {0}, m[3][4], square = 0.0;
    for (size_t i = first; i < end; i++) {
        double t = (double)i - (double)centre, power = 1.0;
        for (int k = 0; k < 5; k++, power *= t) {
            s[k] += power;
            if (k < 3)
                v[k] += power * fabs(course->x[i]);
        }
    }
    for (int r = 0; r < 3; r++) {
        for (int k = 0; k < 3; k++)
            m[r][k] = s[r + k];
        m[r][3] = v[r];
    }
    for (int p = 0; p < 3; p++) /* positive definite: no pivots needed */
        for (int r = 0; r < 3; r++) {
            double part = m[r][p] / m[p][p];
            for (int k = p; r != p && k < 4; k++)
                m[r][k] -= part * m[p][k];
        }
    for (int k = 0; k < 3; k++)
        c[k] = m[k][3] / m[k][k];
    for (size_t i = first; i < end; i++) {
        double t = (double)i - (double)centre, left = fabs(course->x[i]) - c[0] - t * (c[1] + t * c[2]);
        square += left * left / (double)(end - first);
    }
    return sqrt(square);
}

/* Where the parabola crosses the edge of the band, in samples from its centre: the nearer root; NAN if that is outside
 * the parabola's width. */
static double passes(const double c[3], double band, double half)
{
    double t = 0.0;
    for (int i = 0; i < 20; i++) {
        double slope = c[1] + 2.0 * c[2] * t;
        if (slope == 0.0)
            return NAN;
        t -= (c[0] - band + t * (c[1] + t * c[2])) / slope;
        if (!(fabs(t) <= half))
            return NAN;
    }
    return t;
}

/* The crossing between sample i, the last one outside, and the next: on a straight line or, where there is room, by a
 * parabola, which averages noise. */
static void find_crossing(const struct lds_dc_course *course, double on_s, double band, size_t i,
                          const struct lds_dc_drift *drift, struct lds_dc_settle *settle)
{
    double here = fabs(course->x[i]), next = fabs(course->x[i + 1]), noise = isnan(drift->white) ? 0.0 : drift->white;
    settle->at_s = lds_dc_course_time(course, i) + (here - band) / (here - next) * course->step_s;
    settle->slope = (next - here) / course->step_s;
    double u = sqrt(noise / CORRELATED);
    double since_s = settle->at_s - on_s;
    size_t half = (size_t)(AROUND * since_s / course->step_s);
    size_t first = i > half ? i - half : 0, end = i + half + 2 < course->n ? i + half + 2 : course->n;
    size_t floor_at = lds_dc_course_index(course, on_s + 0.5 * LEAST_S);
    first = first > floor_at ? first : floor_at;
    double c[3], t = NAN;
    if (since_s >= LEAST_S && end > first + 8) {
        double left = parabola(course, first, end, i, c);
        t = passes(c, band, (double)half);
        double count = (double)(end - first);
        double all =
            isnan(drift->white) ? left / sqrt(count / CORRELATED) : lds_dc_drift_mean_u(drift, count, course->n);
        u = isnan(t) ? fmax(u, left) : CENTRE_U * fmax(all, left / sqrt(count / CORRELATED));
    }
    if (!isnan(t)) {
        settle->at_s = lds_dc_course_time(course, i) + t * course->step_s;
        settle->slope = (c[1] + 2.0 * c[2] * t) / course->step_s;
    }
    settle->u_s = u / fabs(settle->slope);
}

void lds_dc_settle_find(const struct lds_dc_course *course, double on_s, double band, const struct lds_dc_drift *drift,
                        struct lds_dc_settle *settle)
{
    size_t first = lds_dc_course_index(course, on_s), i = course->n;
    *settle = (struct lds_dc_settle){.how = LDS_DC_NEVER_LEAVES, .at_s = NAN, .u_s = NAN, .slope = NAN};
    while (i > first && fabs(course->x[i - 1]) <= band)
        i--;
    if (i == first)
        return;
    settle->how = (double)(course->n - i) * course->step_s >= HOLD_S ? LDS_DC_SETTLES : LDS_DC_NEVER_SETTLES;
    if (settle->how == LDS_DC_SETTLES)
        find_crossing(course, on_s, band, i - 1, drift, settle);
}
