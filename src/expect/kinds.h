/* Computes the figures of a kind, and chooses a divider. */
#ifndef LDS_EXPECT_KINDS_H
#define LDS_EXPECT_KINDS_H

#include "loadside/expect.h"

/* Fills a number for each figure of the kind's row; NAN where an optional value that it needs was not stated. The
 * values that the kind always needs must be stated. */
void lds_expect_compute(const struct lds_expect_spec *spec, double figure[LDS_EXPECTED_MAX]);

/* Puts the two resistors of a divider into the specification. LDS_BAD_USE: no divider is needed, or no pair of
 * resistors fits. */
enum lds_status lds_expect_divider_choose(struct lds_expect_spec *spec, struct lds_error *error);

/* The E24 series of IEC 60063, ascending from 10 to 91: multiples of 10 to some power. */
enum { LDS_E24 = 24 };
extern const int lds_e24[LDS_E24];

/* The two resistors of a divider, with the input's resistance in parallel with the lower one. */
struct lds_divider {
    double top_ohm, bottom_ohm;
    double below_ohm;   /* the lower one in parallel with the input's resistance */
    double source_ohm;  /* what the cable sees */
    double ratio;       /* voltage at the load over that at the input */
    double total_ohm;   /* what the load sees */
    double load_peak_v; /* at the stated power */
    double input_peak_v;
};
struct lds_divider lds_divider_of(const struct lds_expect_spec *spec);

/* A value that may be stated once; NAN: it is not stated. */
double lds_expect_one(const struct lds_expect_spec *spec, enum lds_expect_value value);

#endif
