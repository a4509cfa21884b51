/* A figure on the scale for changes: decibels for levels, powers and ratios, volts for DC, ohms, the figure's own unit
 * for what is only shown. */
#ifndef LDS_COMPARE_READING_H
#define LDS_COMPARE_READING_H

#include <stdbool.h>

#include "loadside/series.h"

enum lds_scale { LDS_SCALE_DB, LDS_SCALE_DC, LDS_SCALE_OHM, LDS_SCALE_OWN };

struct lds_reading {
    double value;        /* NAN: below the floor */
    double below, above; /* halves of the 95 % interval, from the data (and the chain) alone; INFINITY: open */
    double u, dof;       /* standard uncertainty from the data, and its degrees of freedom */
    double u_bench;      /* from the bench: counts only if the sides have different benches */
    double limit;        /* value NAN: upper limit */
    unsigned flags;
};

enum lds_scale lds_scale_of(const struct lds_key *row, const char *unit);
/* "dB", "V", "ohm" or the figure's own unit. */
const char *lds_scale_unit(enum lds_scale scale, const char *unit);

/* A level in V or V/sqrt(Hz), a power in W, or a value in dB or dBFS, in decibels. */
double lds_in_db(double value, const char *unit);
/* Whether 20 log10 of a value in that unit is its level in decibels: V, V/√Hz, %. */
bool lds_unit_is_amplitude(const char *unit);

void lds_reading_take(const struct lds_figure *figure, enum lds_scale scale, struct lds_reading *reading);

/* A value with its limits that is already on the scale; a line's linear level, converted to decibels. */
void lds_reading_take_cell(struct lds_cell cell, struct lds_reading *reading);
void lds_reading_take_line(struct lds_cell level, struct lds_reading *reading);

/* Several captures of a side as one: the mean, with the scatter between them. */
struct lds_pooled {
    struct lds_reading mean;
    int count;
    double scatter; /* standard deviation between captures; NAN for one */
    double u_each;  /* root mean square of the captures' own u */
};

/* false: there is nothing to pool. A side is below the floor if any of its captures is. */
bool lds_pool(const struct lds_reading *reading, int count, struct lds_pooled *pooled);
/* Pools both sides; the readings before come first. */
void lds_pool_sides(const struct lds_reading *reading, const int count[2], struct lds_pooled side[2]);

#endif
