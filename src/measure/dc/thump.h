/* The thump: a second look at the capture around the moment of switching on, at its own rate. */
#ifndef LDS_MEASURE_DC_THUMP_H
#define LDS_MEASURE_DC_THUMP_H

#include "measure/findings.h"

/* Reads the capture again around findings->dc.on_s, and fills in when that was exactly, and how large the thump is.
 * index: of the channel in the capture. Does nothing when the amplifier was not switched on. Errors: LDS_NO_MEMORY, and
 * those of lds_capture_read. */
enum lds_status lds_dc_look(struct lds_capture *capture, int index, struct lds_findings *findings,
                            struct lds_error *error);

/* The same for samples in memory: x[0..n) at step_s, beginning at start_s; overwrites them. false: no memory. */
bool lds_dc_thump(double *x, size_t n, double start_s, double step_s, struct lds_dc_found *found);

#endif
