/* Checks the stated values, and computes what they imply, with every stated tolerance at both ends. */
#include "loadside/expect.h"

#include <math.h>
#include <string.h>

#include "expect/kinds.h"
#include "fail.h"

/* Values used when they are not stated. */
static const struct {
    enum lds_expect_value value;
    double number;
} defaults[] = {{LDS_EXPECT_MAINS, 50.0},
                {LDS_EXPECT_TEMPERATURE, 298.15},
                {LDS_EXPECT_DISSIPATION, 0.125}}; /* half of a common small resistor's 0.25 W (common practice) */

/* A bound, a temperature or a ratio in dB has no tolerance. */
static bool may_vary(enum lds_expect_value value)
{
    return value != LDS_EXPECT_GAIN && value != LDS_EXPECT_TEMPERATURE && value != LDS_EXPECT_DISSIPATION;
}

static unsigned allowed(enum lds_expect_kind kind)
{
    const struct lds_expect_kind_row *row = lds_expect_kind_row(kind);
    return row->needs | row->may;
}

void lds_expect_spec_init(struct lds_expect_spec *spec, enum lds_expect_kind kind)
{
    *spec = (struct lds_expect_spec){.kind = kind, .low_hz = 20.0, .high_hz = 20e3};
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        spec->tolerance_percent[i] = NAN;
}

/* How many times a kind takes a value. */
static size_t most_of(enum lds_expect_kind kind, enum lds_expect_value value)
{
    if (!lds_expect_value_row(value)->many)
        return 1;
    if (kind == LDS_EXPECT_COUPLING)
        return LDS_EXPECT_STAGES_MAX;
    return kind == LDS_EXPECT_DIVIDER ? 2 : 1;
}

enum lds_status lds_expect_give(struct lds_expect_spec *spec, enum lds_expect_value value, double number,
                                struct lds_error *error)
{
    const struct lds_expect_value_row *row = lds_expect_value_row(value);
    const char *kind = lds_expect_kind_row(spec->kind)->name;
    const size_t most = most_of(spec->kind, value);
    if (!(allowed(spec->kind) & (1u << value)))
        return lds_fail(error, LDS_BAD_USE, "%s found for %s, which has none; leave it out, or name another kind",
                        row->name, kind);
    if (!(number >= row->least && number <= row->most))
        return lds_fail(error, LDS_BAD_USE, "%s is %.6g %s; %.6g to %.6g %s expected, as in %s", row->name, number,
                        row->unit, row->least, row->most, row->unit, row->example);
    if (spec->count[value] == most)
        return lds_fail(error, LDS_BAD_USE, "more than %zu of %s found; %s takes %zu; leave the rest out", most,
                        row->name, kind, most);
    spec->value[value][spec->count[value]++] = number;
    return LDS_OK;
}

/* The error for an unknown name lists the names that exist. */
static enum lds_status unknown_name(const struct lds_expect_kind_row *kind, const char *name, struct lds_error *error)
{
    char names[200] = "";
    size_t used = 0;
    for (int i = 0; i < LDS_EXPECT_VALUES && used < sizeof names; i++)
        if (((kind->needs | kind->may) & (1u << i)) && may_vary((enum lds_expect_value)i))
            used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "",
                                     lds_expect_value_row((enum lds_expect_value)i)->name);
    return lds_fail(error, LDS_BAD_USE, "'%.40s' is not a value of %s; one of %s expected", name, kind->name, names);
}

enum lds_status lds_expect_give_tolerance(struct lds_expect_spec *spec, const char *name, double percent,
                                          struct lds_error *error)
{
    const struct lds_expect_kind_row *kind = lds_expect_kind_row(spec->kind);
    int value = 0;
    while (value < LDS_EXPECT_VALUES && strcmp(lds_expect_value_row((enum lds_expect_value)value)->name, name) != 0)
        value++;
    if (value == LDS_EXPECT_VALUES || !(allowed(spec->kind) & (1u << value)))
        return unknown_name(kind, name, error);
    if (!may_vary((enum lds_expect_value)value))
        return lds_fail(error, LDS_BAD_USE, "%s has no tolerance here; leave it out", name);
    if (!(percent > 0.0 && percent < 100.0))
        return lds_fail(error, LDS_BAD_USE, "the tolerance of %s is %.6g %%; above 0 and below 100 %% expected", name,
                        percent);
    if (!isnan(spec->tolerance_percent[value]))
        return lds_fail(error, LDS_BAD_USE, "the tolerance of %s found twice; leave one out", name);
    spec->tolerance_percent[value] = percent;
    return LDS_OK;
}

static enum lds_status check(const struct lds_expect_spec *spec, struct lds_error *error)
{
    const struct lds_expect_kind_row *kind = lds_expect_kind_row(spec->kind);
    const size_t stages = spec->count[LDS_EXPECT_R], capacitors = spec->count[LDS_EXPECT_C];
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        if ((kind->needs & (1u << i)) && spec->count[i] == 0)
            return lds_fail(error, LDS_BAD_USE, "%s not found, which %s needs; state it, such as %s",
                            lds_expect_value_row((enum lds_expect_value)i)->name, kind->name,
                            lds_expect_value_row((enum lds_expect_value)i)->example);
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        if (!isnan(spec->tolerance_percent[i]) && spec->count[i] == 0 && !(kind->needs & (1u << i)) &&
            !(spec->kind == LDS_EXPECT_DIVIDER && i == LDS_EXPECT_R) && i != LDS_EXPECT_MAINS)
            return lds_fail(error, LDS_BAD_USE, "the tolerance of %s found without a value; state the value too",
                            lds_expect_value_row((enum lds_expect_value)i)->name);
    if (spec->kind == LDS_EXPECT_COUPLING && stages != capacitors)
        return lds_fail(error, LDS_BAD_USE, "%zu of r and %zu of c found; one of each expected for each stage", stages,
                        capacitors);
    if (spec->kind == LDS_EXPECT_DIVIDER && stages == 1)
        return lds_fail(error, LDS_BAD_USE, "one resistor found; two expected, top and bottom, or none");
    if (!(spec->low_hz > 0.0 && spec->high_hz > spec->low_hz && spec->high_hz <= 1e9))
        return lds_fail(error, LDS_BAD_USE,
                        "a band of %.6g Hz to %.6g Hz found; the lower edge first, above 0, expected", spec->low_hz,
                        spec->high_hz);
    return LDS_OK;
}

/* ---- tolerances ---- */

/* A number that may be anywhere within its tolerance. */
struct variable {
    double *place, value, share;
};

static size_t list_variables(struct lds_expect_spec *spec, struct variable *variable)
{
    size_t count = 0;
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        for (size_t k = 0; !isnan(spec->tolerance_percent[i]) && k < spec->count[i]; k++)
            variable[count++] =
                (struct variable){&spec->value[i][k], spec->value[i][k], spec->tolerance_percent[i] / 100.0};
    return count;
}

/* Every figure at every combination of the ends: each figure rises or falls with each value throughout, so that its
 * extremes are among them (but for the dissipation of the bottom resistor where a divider divides by less than two). */
static void find_limits(struct lds_expectation *expectation)
{
    struct lds_expect_spec spec = expectation->spec;
    struct variable variable[2 * LDS_EXPECT_STAGES_MAX + LDS_EXPECT_VALUES];
    const size_t variables = list_variables(&spec, variable);
    for (unsigned long ends = 0; variables > 0 && ends < 1ul << variables; ends++) {
        double figure[LDS_EXPECTED_MAX];
        for (size_t i = 0; i < variables; i++)
            *variable[i].place = variable[i].value * (1.0 + (ends >> i & 1 ? 1.0 : -1.0) * variable[i].share);
        lds_expect_compute(&spec, figure);
        for (size_t i = 0; i < expectation->figures; i++) {
            expectation->figure[i].low = fmin(expectation->figure[i].low, figure[i]);
            expectation->figure[i].high = fmax(expectation->figure[i].high, figure[i]);
        }
    }
    for (size_t i = 0; i < expectation->figures; i++) { /* a figure that no stated tolerance changes has no limits */
        struct lds_expected *one = &expectation->figure[i];
        if (one->row->nominal || !(one->high - one->low > 1e-12 * fabs(one->value)))
            one->low = one->high = NAN;
    }
}

static void add_defaults(struct lds_expect_spec *spec)
{
    for (size_t i = 0; i < sizeof defaults / sizeof *defaults; i++)
        if ((allowed(spec->kind) & (1u << defaults[i].value)) && spec->count[defaults[i].value] == 0) {
            spec->value[defaults[i].value][0] = defaults[i].number;
            spec->count[defaults[i].value] = 1;
        }
}

/* Resistors that were stated, not chosen, may leave too high a peak. */
static void remark(struct lds_expectation *expectation)
{
    if (expectation->spec.kind != LDS_EXPECT_DIVIDER)
        return;
    const struct lds_divider d = lds_divider_of(&expectation->spec);
    const double takes_v = lds_expect_one(&expectation->spec, LDS_EXPECT_INPUT);
    if (d.input_peak_v > takes_v * (1.0 + 1e-9))
        snprintf(expectation->remark, sizeof expectation->remark,
                 "The peak does NOT fit: %.4g V at the input, which takes %.4g V.", d.input_peak_v, takes_v);
}

enum lds_status lds_expect(const struct lds_expect_spec *spec, struct lds_expectation *expectation,
                           struct lds_error *error)
{
    *expectation = (struct lds_expectation){.spec = *spec, .kind = lds_expect_kind_row(spec->kind)};
    enum lds_status status = check(spec, error);
    add_defaults(&expectation->spec);
    if (!status && spec->kind == LDS_EXPECT_DIVIDER && spec->count[LDS_EXPECT_R] == 0) {
        expectation->chosen = true;
        status = lds_expect_divider_choose(&expectation->spec, error);
    }
    if (status)
        return status;
    double figure[LDS_EXPECTED_MAX];
    lds_expect_compute(&expectation->spec, figure);
    expectation->figures = expectation->kind->figures;
    for (size_t i = 0; i < expectation->figures; i++) {
        struct lds_expected *one = &expectation->figure[i];
        *one = (struct lds_expected){
            .row = &expectation->kind->figure[i], .value = figure[i], .low = figure[i], .high = figure[i]};
        if (isnan(figure[i]) && one->row->with < LDS_EXPECT_VALUES)
            snprintf(one->without, sizeof one->without, "%s is not stated", lds_expect_value_row(one->row->with)->name);
    }
    find_limits(expectation);
    remark(expectation);
    return LDS_OK;
}
