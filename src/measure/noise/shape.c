/* The shape of the noise floor over frequency: its curve, 1/f corner and slope. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <stdlib.h>

#include "constants.h"
#include "measure/noise/noise.h"
#include "record/record.h"
#include "record/series.h"

enum { BANDS_MAX = 256 };
static const double CURVE_FROM_HZ = 10.0;
static const double CORNER_TO_HZ = 20e3;
static const double CORNER_LEAST_HZ = 20.0;
static const double SLOPE_FROM_HZ = 1000.0;
static const double SLOPE_SPAN = 3.0; /* highest over lowest frequency that a slope needs */
static const double GAP_MOST = 0.5;   /* largest share of a band that may be filled if it is to count in a fit */

/* One log-spaced band of the floor. */
struct point {
    double low_hz, high_hz, density, dof;
};

static double first_hz(const struct lds_floor *floor, double from_hz)
{
    return fmax(from_hz, 3.0 * floor->density->level[0].bin_hz);
}

bool lds_noise_curve(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale)
{
    struct lds_series *curve = lds_channel_add_series(channel, "floor");
    bool done = curve != NULL;
    struct lds_band band = {.high_hz = first_hz(floor, CURVE_FROM_HZ)};
    while (done && curve->rows < BANDS_MAX && lds_noise_next_band(floor->density, scale->end_hz, &band)) {
        double density = lds_noise_mean_floor(floor, scale->bench, &band) * scale->per_unit * scale->per_unit;
        if (!(density > 0.0))
            continue; /* silence, or a band without bins */
        struct lds_band_power power;
        lds_noise_band(floor, scale, band.low_hz, band.high_hz, 0, NULL, &power);
        double width = band.high_hz - band.low_hz, left = fmax(0.0, 1.0 - power.removed_hz / width);
        const double value[] = {sqrt(band.low_hz * band.high_hz), band.low_hz,     band.high_hz, sqrt(density),
                                sqrt(power.power / width),        left * power.dof};
        done = lds_series_add_row(curve, value);
    }
    return done;
}

static int mean_bands(const struct lds_floor *floor, const struct lds_noise_scale *scale, double from_hz, double to_hz,
                      struct point point[BANDS_MAX])
{
    int count = 0;
    struct lds_band band = {.high_hz = first_hz(floor, from_hz)};
    while (count < BANDS_MAX && lds_noise_next_band(floor->density, to_hz, &band)) {
        struct lds_band_power power;
        double width = band.high_hz - band.low_hz;
        lds_noise_band(floor, scale, band.low_hz, band.high_hz, 0, NULL, &power);
        if (power.power > 0.0 && power.dof > 0.0 && power.removed_hz < GAP_MOST * width)
            point[count++] = (struct point){band.low_hz, band.high_hz, power.power / width, power.dof};
    }
    return count;
}

/* The straight line y = a + b x by weighted least squares, and its covariance. */
struct straight {
    double a, b, var_a, var_b, cov_ab, chi2;
};

static void fit_straight(int n, const double *x, const double *y, const double *variance, struct straight *fit)
{
    double weight[BANDS_MAX];
    for (int i = 0; i < n; i++)
        weight[i] = 1.0 / variance[i];
    gsl_fit_wlinear(x, 1, weight, 1, y, 1, (size_t)n, &fit->a, &fit->b, &fit->var_a, &fit->cov_ab, &fit->var_b,
                    &fit->chi2);
}

/* S = a (1 + fc/f) is a straight line over the band's mean of 1/f. A band's variance is 2 S^2/nu with the fitted S, not
 * the measured one, so that low values do not get too much weight; this takes a few rounds. */
static void fit_corner(int n, const struct point *point, struct straight *fit)
{
    double x[BANDS_MAX], y[BANDS_MAX], variance[BANDS_MAX];
    for (int i = 0; i < n; i++) {
        x[i] = log(point[i].high_hz / point[i].low_hz) / (point[i].high_hz - point[i].low_hz);
        y[i] = point[i].density / point[n - 1].density;
        variance[i] = 2.0 / point[i].dof * y[i] * y[i];
    }
    for (int round = 0; round < 8; round++) {
        fit_straight(n, x, y, variance, fit);
        for (int i = 0; i < n; i++) {
            double model = fmax(fit->a + fit->b * x[i], 1e-3 * y[i]);
            variance[i] = 2.0 / point[i].dof * model * model;
        }
    }
}

static bool add_corner(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale)
{
    static const char *const key = "noise.corner";
    struct point point[BANDS_MAX];
    double end = fmin(CORNER_TO_HZ, fmin(scale->end_hz, scale->edge_hz));
    int n = mean_bands(floor, scale, CURVE_FROM_HZ, end, point);
    if (n < 8)
        return lds_channel_add_absent(channel, key,
                                      "%d bands of the floor below 20 kHz, and the fit needs 8: record longer", n);
    struct straight fit;
    fit_corner(n, point, &fit);
    if (!(fit.chi2 / (n - 2) < 2.0))
        return lds_channel_add_absent(
            channel, key, "the floor does not follow a (1 + fc/f): chi-square is %.3g per degree of freedom",
            fit.chi2 / (n - 2));
    double corner = fit.b / fit.a;
    double spread =
        sqrt(fit.var_a / (fit.a * fit.a) + fit.var_b / (fit.b * fit.b) - 2.0 * fit.cov_ab / (fit.a * fit.b));
    double low = corner * exp(-LDS_COVERAGE * spread);
    if (!(fit.a > 0.0) || !(fit.b > 0.0) || !(low > CORNER_LEAST_HZ))
        return lds_channel_add_absent(channel, key, "no 1/f corner above %.0f Hz stands out of the scatter",
                                      CORNER_LEAST_HZ);
    struct lds_figure *figure = lds_channel_add(channel, key);
    lds_figure_set(figure, corner, low, corner * exp(LDS_COVERAGE * spread), corner * spread, INFINITY);
    figure->band_hz[0] = point[0].low_hz;
    figure->band_hz[1] = point[n - 1].high_hz;
    return true;
}

/* A floor is never quite straight. The excess of chi-square becomes a variance common to all bands, such that
 * chi-square is n - 2 (Paule and Mandel 1982). Returns that variance. */
static double fit_slope(int n, const struct point *point, struct straight *fit)
{
    double x[BANDS_MAX], y[BANDS_MAX], own[BANDS_MAX], variance[BANDS_MAX];
    const double db = 10.0 / M_LN10;
    for (int i = 0; i < n; i++) {
        x[i] = log10(sqrt(point[i].low_hz * point[i].high_hz) / SLOPE_FROM_HZ);
        y[i] = db * log(point[i].density);
        own[i] = db * db * 2.0 / point[i].dof;
    }
    fit_straight(n, x, y, own, fit);
    if (fit->chi2 <= n - 2)
        return 0.0;
    double low = 0.0, high = 1e4;
    for (int round = 0; round < 60; round++) {
        double common = 0.5 * (low + high);
        for (int i = 0; i < n; i++)
            variance[i] = own[i] + common;
        fit_straight(n, x, y, variance, fit);
        if (fit->chi2 > n - 2)
            low = common;
        else
            high = common;
    }
    return high;
}

static bool add_slope(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale)
{
    static const char *const key = "noise.slope";
    struct point point[BANDS_MAX];
    double end = fmin(scale->end_hz, scale->edge_hz);
    if (end < SLOPE_SPAN * SLOPE_FROM_HZ)
        return lds_channel_add_absent(channel, key, "the floor ends at %.4g Hz: a slope above 1 kHz needs 3 kHz", end);
    int n = mean_bands(floor, scale, SLOPE_FROM_HZ, end, point);
    if (n < 4)
        return lds_channel_add_absent(channel, key,
                                      "%d bands of the floor above 1 kHz, and a slope needs 4: record longer", n);
    struct straight fit;
    double common = fit_slope(n, point, &fit);
    struct lds_figure *figure = lds_channel_add(channel, key);
    double u = sqrt(fit.var_b), reach = (common > 0.0 ? gsl_cdf_tdist_Pinv(0.975, n - 2) : LDS_COVERAGE) * u;
    lds_figure_set(figure, fit.b, fit.b - reach, fit.b + reach, u, common > 0.0 ? n - 2 : (double)INFINITY);
    figure->band_hz[0] = point[0].low_hz;
    figure->band_hz[1] = point[n - 1].high_hz;
    if (figure->low > -1.0 && figure->high < 1.0)
        figure->flags |= LDS_FLAG_FLAT;
    return true;
}

bool lds_noise_shape(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale)
{
    return add_corner(channel, floor, scale) && add_slope(channel, floor, scale);
}
