/* A source impedance from the voltages across two loads. */
#ifndef LDS_MEASURE_IMPEDANCE_TWO_LOADS_H
#define LDS_MEASURE_IMPEDANCE_TWO_LOADS_H

#include <complex.h>

#include "loadside/impedance.h"

/* The voltage with load A over that with load B. */
struct lds_load_step {
    double complex log_ratio; /* its logarithm: real part of the levels, imaginary part of the phases */
    double u[2];              /* standard uncertainties of both parts; u[1] NAN: the phases are not known */
    double dof;
};

struct lds_source_impedance {
    double complex ohm;       /* without an imaginary part where the phases are not known */
    double value;             /* its magnitude; below 0 where the level rises with the heavier load */
    double low, high, u, dof; /* from the data */
    double slope;             /* of the value over log_ratio */
    double u_loads;           /* from the loads' limits */
};

/* Z = (V_A - V_B)/(V_B/R_B - V_A/R_A): the voltage divider of Z and R solved for two R. false: no source has such
 * voltages, for they differ by more than those of a current source. */
bool lds_two_loads(const struct lds_load load[2], const struct lds_load_step *step,
                   struct lds_source_impedance *impedance);

#define LDS_NO_SUCH_SOURCE                                                                                             \
    "the levels with the two loads differ by more than any source impedance explains; the same drive for both, and "   \
    "the loads in the order of the captures, expected"

/* Why the loads cannot be used; NULL: they can. */
const char *lds_two_loads_refused(const struct lds_load load[2]);

#endif
