/* The step of level and phase from one load to the other in a capture that was switched there and back. */
#ifndef LDS_MEASURE_IMPEDANCE_STEP_H
#define LDS_MEASURE_IMPEDANCE_STEP_H

#include "measure/impedance/switching.h"
#include "measure/impedance/two_loads.h"

struct lds_step_fit {
    struct lds_load_step step;
    bool there;     /* the level steps by more than chance */
    double again_s; /* a further step; NAN: there is none */
};

/* Takes means of short parts of the three stretches, and estimates the step of their level and of their phase beside
 * drift (drift.h). false: no memory. */
bool lds_step_fit(const struct lds_phasors *phasors, const struct lds_switching *switching, struct lds_step_fit *fit);

#endif
