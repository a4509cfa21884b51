#include "compare/reading.h"

#include <math.h>
#include <string.h>

#include "constants.h"

bool lds_unit_is_amplitude(const char *unit)
{
    return strcmp(unit, "V") == 0 || strcmp(unit, "V/√Hz") == 0 || strcmp(unit, "%") == 0;
}

enum lds_scale lds_scale_of(const struct lds_key *row, const char *unit)
{
    if (row->either_sign && strcmp(unit, "V") == 0)
        return LDS_SCALE_DC;
    if (strcmp(unit, "ohm") == 0)
        return LDS_SCALE_OHM;
    if (row->as_ratio)
        return LDS_SCALE_DB;
    if (lds_unit_is_amplitude(unit) || strcmp(unit, "W") == 0 || strcmp(unit, "dB") == 0 || strcmp(unit, "dBFS") == 0)
        return LDS_SCALE_DB;
    return LDS_SCALE_OWN;
}

const char *lds_scale_unit(enum lds_scale scale, const char *unit)
{
    switch (scale) {
    case LDS_SCALE_DB:
        return "dB";
    case LDS_SCALE_DC:
        return "V";
    case LDS_SCALE_OHM:
        return "ohm";
    case LDS_SCALE_OWN:
        return unit;
    }
    return unit;
}

double lds_in_db(double value, const char *unit)
{
    if (lds_unit_is_amplitude(unit) || strcmp(unit, "Hz") == 0)
        return value > 0.0 ? 20.0 * log10(value) : -INFINITY;
    if (strcmp(unit, "W") == 0)
        return value > 0.0 ? 10.0 * log10(value) : -INFINITY;
    return value;
}

/* Coherent figures near the chain have in their limits what the chain may have added or cancelled, which is different
 * in every capture. */
static bool from_chain(const struct lds_figure *figure)
{
    return figure->flags & (LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED) &&
           figure->name.row->chain == LDS_CHAIN_COHERENT;
}

/* Half of the interval without the bench's part, which was added by root-sum-square. */
static double without(double half, double u_b)
{
    double part = LDS_COVERAGE * u_b;
    return isnan(half) ? (double)INFINITY : sqrt(fmax(0.0, half * half - part * part));
}

static double zero_if_unknown(double u)
{
    return isnan(u) ? 0.0 : u;
}

/* The size of one unit of the figure on the scale, at its value. */
static double slope_of(const struct lds_figure *figure, enum lds_scale scale)
{
    if (scale != LDS_SCALE_DB)
        return 1.0;
    if (lds_unit_is_amplitude(figure->unit))
        return 20.0 / M_LN10 / fabs(figure->value);
    if (strcmp(figure->unit, "W") == 0)
        return 10.0 / M_LN10 / fabs(figure->value);
    return 1.0;
}

static double on_scale(double value, enum lds_scale scale, const char *unit)
{
    return scale == LDS_SCALE_DB ? lds_in_db(value, unit) : value;
}

void lds_reading_take(const struct lds_figure *figure, enum lds_scale scale, struct lds_reading *reading)
{
    double u_bench = from_chain(figure) ? 0.0 : zero_if_unknown(figure->u_b);
    *reading = (struct lds_reading){.value = NAN, .limit = NAN, .dof = figure->dof, .flags = figure->flags};
    if (isnan(figure->value)) {
        reading->limit = on_scale(figure->high - LDS_COVERAGE * u_bench, scale, figure->unit);
        return;
    }
    double value = scale == LDS_SCALE_DC ? fabs(figure->value) : figure->value;
    double below = without(figure->value - figure->low, u_bench),
           above = without(figure->high - figure->value, u_bench);
    if (scale == LDS_SCALE_DC && figure->value < 0.0) {
        double swap = below;
        below = above;
        above = swap;
    }
    reading->value = on_scale(value, scale, figure->unit);
    reading->below = reading->value - on_scale(value - below, scale, figure->unit);
    reading->above = on_scale(value + above, scale, figure->unit) - reading->value;
    double slope = slope_of(figure, scale);
    reading->u = slope * zero_if_unknown(figure->u_a);
    reading->u_bench = slope * u_bench;
    if (from_chain(figure))
        reading->u = hypot(reading->u, slope * zero_if_unknown(figure->u_b));
    if (isnan(reading->dof))
        reading->dof = INFINITY;
}

void lds_reading_take_cell(struct lds_cell cell, struct lds_reading *reading)
{
    *reading = (struct lds_reading){.value = cell.value, .limit = NAN, .dof = INFINITY};
    if (isnan(cell.value)) {
        reading->limit = cell.high;
        return;
    }
    reading->below = isfinite(cell.low) ? cell.value - cell.low : (double)INFINITY;
    reading->above = isnan(cell.high) ? (double)INFINITY : cell.high - cell.value;
    reading->u = (isfinite(reading->below) ? 0.5 * (reading->below + reading->above) : reading->above) / LDS_COVERAGE;
}

void lds_reading_take_line(struct lds_cell level, struct lds_reading *reading)
{
    double value = level.value > 0.0 ? lds_in_db(level.value, "V") : (double)NAN;
    lds_reading_take_cell((struct lds_cell){value, lds_in_db(level.low, "V"), lds_in_db(level.high, "V")}, reading);
}

static void pool_limits(const struct lds_reading *reading, int count, struct lds_pooled *pooled)
{
    pooled->mean.value = NAN;
    pooled->mean.limit = -INFINITY;
    for (int i = 0; i < count; i++) {
        double top = isnan(reading[i].value) ? reading[i].limit : reading[i].value + reading[i].above;
        pooled->mean.limit = fmax(pooled->mean.limit, top);
    }
}

bool lds_pool(const struct lds_reading *reading, int count, struct lds_pooled *pooled)
{
    *pooled = (struct lds_pooled){.count = count, .scatter = NAN, .mean = {.limit = NAN, .dof = INFINITY}};
    if (count == 0)
        return false;
    struct lds_reading *mean = &pooled->mean;
    bool below_floor = false;
    double below = 0.0, above = 0.0, square = 0.0, fourth = 0.0;
    for (int i = 0; i < count; i++) {
        const struct lds_reading *r = &reading[i];
        below_floor = below_floor || isnan(r->value);
        mean->value += r->value / count;
        mean->u_bench += r->u_bench / count; /* shared by the captures of a side */
        mean->flags |= r->flags;
        below += r->below * r->below;
        above += r->above * r->above;
        square += r->u * r->u;
        fourth += isfinite(r->dof) && r->dof > 0.0 ? r->u * r->u * r->u * r->u / r->dof : 0.0;
    }
    mean->below = sqrt(below) / count;
    mean->above = sqrt(above) / count;
    mean->u = sqrt(square) / count;
    mean->dof = fourth > 0.0 ? square * square / fourth : (double)INFINITY;
    pooled->u_each = sqrt(square / count);
    if (below_floor) {
        pool_limits(reading, count, pooled);
        return true;
    }
    double scatter = 0.0;
    for (int i = 0; i < count; i++)
        scatter += (reading[i].value - mean->value) * (reading[i].value - mean->value);
    if (count > 1)
        pooled->scatter = sqrt(scatter / (count - 1));
    return true;
}

void lds_pool_sides(const struct lds_reading *reading, const int count[2], struct lds_pooled side[2])
{
    lds_pool(reading, count[0], &side[0]);
    lds_pool(reading + count[0], count[1], &side[1]);
}
