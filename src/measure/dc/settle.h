/* When the slow course has settled. */
#ifndef LDS_MEASURE_DC_SETTLE_H
#define LDS_MEASURE_DC_SETTLE_H

#include "measure/dc/drift.h"
#include "measure/dc/stream.h"

enum lds_dc_settled { LDS_DC_SETTLES, LDS_DC_NEVER_LEAVES, LDS_DC_NEVER_SETTLES };

struct lds_dc_settle {
    enum lds_dc_settled how;
    double at_s;  /* NAN: never, or at once */
    double u_s;   /* from noise */
    double slope; /* change of the magnitude there, per second */
};

/* When the course, from on_s on, stays within +-band for good. drift: of its noise; may be all NAN. */
void lds_dc_settle_find(const struct lds_dc_course *course, double on_s, double band, const struct lds_dc_drift *drift,
                        struct lds_dc_settle *settle);

#endif
