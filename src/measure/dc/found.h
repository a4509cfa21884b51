/* What the slow course says about the moment when the amplifier was switched on. */
#ifndef LDS_MEASURE_DC_FOUND_H
#define LDS_MEASURE_DC_FOUND_H

#include "measure/dc/turn_on.h"

struct lds_dc_found {
    bool power_on;               /* it was switched on while the capture ran, or shortly before, or that is stated */
    struct lds_dc_course course; /* of the analyser, which owns it; n 0: the input is not DC coupled */
    struct lds_dc_turn_on turn_on;
    bool early;            /* switched on so soon after the start that only the samples show it */
    double on_s, u_on_s;   /* the moment; NAN: not switched on */
    double thump, u_thump; /* in the unit of the samples; NAN: not known */
};

#endif
