/* What the inputs take, from the benches alone: known before any capture exists. */
#include <math.h>
#include <stdio.h>

#include "job/check_parts.h"
#include "job/remarks.h"

double lds_attenuation_for(const struct lds_bench *bench, double peak_v)
{
    double least = peak_v / bench->full_scale_v, digit = pow(10.0, floor(log10(least)) - 2.0);
    return fmax(1.0, ceil(least / digit - 1e-6) * digit);
}

static bool same_input(const struct lds_bench *a, const struct lds_bench *b)
{
    bool same_load = a->load_ohm == b->load_ohm || (isnan(a->load_ohm) && isnan(b->load_ohm));
    return same_load && a->full_scale_v == b->full_scale_v && a->attenuation == b->attenuation;
}

/* The name or the file of a capture's bench. */
static const char *bench_name(const struct check *check, size_t i)
{
    const struct lds_sheet_capture *capture = &check->sheet->capture[i];
    const char *file = capture->bench_file ? capture->bench_file : check->sheet->bench_file;
    return capture->bench.name ? capture->bench.name : file ? file : "The bench";
}

static bool of_the_input(const struct check *check, size_t i)
{
    const struct lds_bench *bench = &check->sheet->capture[i].bench;
    char behind[48] = "", watts[80] = "";
    if (bench->attenuation > 1.0)
        snprintf(behind, sizeof behind, " behind %.6g:1", bench->attenuation);
    if (!isnan(bench->load_ohm))
        snprintf(watts, sizeof watts, ", a sine of %.3g W into %.4g Ω", lds_bench_largest_sine_w(bench),
                 bench->load_ohm);
    return lds_remark(check->fits, "%.200s: full scale %.4g V%s: at the load up to %.4g V peak%s.",
                      bench_name(check, i), bench->full_scale_v, behind, lds_bench_volts_per_unit(bench), watts);
}

/* A fault inside the unit, or its switching on, may put a whole rail on the output. */
static bool of_the_supply(const struct check *check, size_t i)
{
    const double *rail = check->sheet->supply_v;
    const struct lds_bench *bench = &check->sheet->capture[i].bench;
    double worst_v = fmax(fabs(rail[0]), fabs(rail[1])), takes_v = lds_bench_volts_per_unit(bench);
    char answer[80] = "it fits.";
    if (isnan(worst_v) || worst_v == 0.0)
        return true;
    if (worst_v > takes_v * (1.0 + 1e-9))
        snprintf(answer, sizeof answer, "it does NOT fit; with attenuation = %.3g it would.",
                 lds_attenuation_for(bench, worst_v));
    return lds_remark(check->fits,
                      "%.200s, at worst: an output stuck at a supply rail puts %.4g V on the load, %.3g V on the "
                      "input, whose full scale is %.4g V: %s",
                      bench_name(check, i), worst_v, worst_v / bench->attenuation, bench->full_scale_v, answer);
}

static bool of_a_bridge(const struct check *check)
{
    const double *rail = check->sheet->supply_v;
    double other_v = isnan(rail[1]) ? 0.0 : rail[1];
    double between_v = fmax(fmax(rail[0], other_v), 0.0) - fmin(fmin(rail[0], other_v), 0.0);
    return isnan(rail[0]) || lds_remark(check->fits,
                                        "If the output is bridged, neither terminal is ground, and the whole supply, "
                                        "%.4g V, can stand between them: no grounded input on either.",
                                        between_v);
}

/* Each input once; samples in volts have no range. */
bool lds_check_benches(const struct check *check)
{
    const struct lds_sheet_capture *all = check->sheet->capture;
    bool enough = true;
    for (size_t i = 0; enough && i < check->sheet->captures; i++) {
        bool told = check->look[i].info.in_volts || isnan(lds_bench_volts_per_unit(&all[i].bench));
        for (size_t k = 0; k < i; k++)
            told = told || (!check->look[k].info.in_volts && same_input(&all[k].bench, &all[i].bench));
        enough = told || (of_the_input(check, i) && of_the_supply(check, i));
    }
    return enough && of_a_bridge(check);
}
