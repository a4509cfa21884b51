/* When the load of a capture was switched, found from the level of the tone. */
#ifndef LDS_MEASURE_IMPEDANCE_SWITCHING_H
#define LDS_MEASURE_IMPEDANCE_SWITCHING_H

#include <stdbool.h>

#include "measure/impedance/phasors.h"

enum { LDS_STRETCHES = 3 }; /* the first load, the second, the first again */

struct lds_switching {
    bool found;     /* the level steps twice; false: too little of the tone is there */
    bool once;      /* one step explains the level better */
    double at_s[2]; /* when; the second is NAN with `once` */
    size_t first[LDS_STRETCHES], last[LDS_STRETCHES]; /* frames of each stretch, without edges and contact bounce */
};

/* The two moments between which the level differs most from a polynomial of the third degree through the rest (least
 * squares). false: no memory; a lack of memory may also be noted instead (scarce.h). */
bool lds_switching_find(const struct lds_phasors *phasors, struct lds_switching *switching);

#endif
