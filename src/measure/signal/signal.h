/* What was played: one decision, from the look, the time course and the spectrum. */
#ifndef LDS_MEASURE_SIGNAL_SIGNAL_H
#define LDS_MEASURE_SIGNAL_SIGNAL_H

#include <stdbool.h>

#include "loadside/measure.h"
#include "measure/signal/course.h"
#include "measure/signal/scout.h"
#include "spectrum/density.h"

struct lds_signal_evidence {
    struct lds_stated_signal stated;
    bool power_on; /* the output's DC says that the amplifier was switched on */
    bool in_volts;
    double volts_per_unit; /* at the load; NAN: not calibrated */
    double seconds;
    const struct lds_scout *scout;
    const struct lds_course_result *course;
    const struct lds_density *density;
};

struct lds_signal_found {
    struct lds_signal signal;
    double from_s, to_s; /* where a tone with silence around it is; else NAN */
    char why[192];       /* why figures of one steady tone are absent; "": they are not, or the look has the reason */
    char unsteady[192];  /* why figures of noise, hum and spurs are absent; "": they are not */
};

/* false: no memory. */
bool lds_signal_recognise(const struct lds_signal_evidence *evidence, struct lds_signal_found *found);

#endif
