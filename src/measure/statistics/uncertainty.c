#include "measure/statistics/uncertainty.h"

#include <math.h>

#include <gsl/gsl_cdf.h>

#include "constants.h"
#include "measure/statistics/interval.h"
#include "record/record.h"

double lds_coverage(double dof)
{
    return isfinite(dof) && dof < 1e4 ? gsl_cdf_tdist_Qinv(0.025, fmax(dof, 1.0)) : LDS_COVERAGE;
}

void lds_figure_set_normal(struct lds_figure *figure, double value, double u_a, double dof)
{
    double half = lds_coverage(dof) * u_a;
    lds_figure_set(figure, value, value - half, value + half, u_a, dof);
}

void lds_figure_add_bench(struct lds_figure *figure, double u_b)
{
    double half = lds_coverage(INFINITY) * u_b;
    figure->u_b = u_b;
    if (isnan(figure->value)) {
        figure->high += half;
        return;
    }
    figure->low = figure->value - hypot(figure->value - figure->low, half);
    figure->high = figure->value + hypot(figure->high - figure->value, half);
}

double lds_bench_level_u(const struct lds_bench *bench)
{
    return bench->calibration_percent / 100.0 / sqrt(3.0);
}

void lds_poisson_limits(double count, double *low, double *high)
{
    *low = count > 0.0 ? count * lds_chi_square_quantile(0.025, 2.0 * count) : 0.0;
    *high = (count + 1.0) * lds_chi_square_quantile(0.975, 2.0 * count + 2.0);
}

double lds_power_db(double power)
{
    return power > 0.0 ? 10.0 * log10(power) : -INFINITY;
}
