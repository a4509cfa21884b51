#include "measure/level/dc_figure.h"

#include <math.h>

#include "measure/statistics/uncertainty.h"

const char *lds_dc_absent(const struct lds_findings *findings)
{
    return findings->bench->dc_coupled ? NULL : "the bench does not say that the input is DC coupled";
}

double lds_dc_bench_u(const struct lds_findings *findings, double value)
{
    const struct lds_bench *bench = findings->bench;
    if (!findings->calibrated)
        return 0.0;
    double offset = isnan(bench->offset_v) ? 0.0 : bench->offset_v * bench->attenuation / sqrt(3.0);
    return hypot(offset, lds_bench_level_u(bench) * findings->scale * value);
}

void lds_dc_figure_set(struct lds_figure *figure, const struct lds_findings *findings, double mean, double u,
                       double dof)
{
    if (findings->calibrated) {
        lds_figure_set_normal(figure, findings->scale * mean, findings->scale * u, dof);
        lds_figure_add_bench(figure, lds_dc_bench_u(findings, mean));
        return;
    }
    double size = fabs(mean) / M_SQRT2;
    lds_figure_set_level(figure, false, size, size, size, 0.0);
    figure->dof = dof;
}
