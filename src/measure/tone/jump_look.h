/* A second look at the samples around the places where the tone's phase may have jumped. */
#ifndef LDS_MEASURE_TONE_JUMP_LOOK_H
#define LDS_MEASURE_TONE_JUMP_LOOK_H

#include "measure/findings.h"

/* Reads the capture's channel `index` (from 0) around each suspect in findings->track and lists the jumps found, in
 * order of time. */
enum lds_status lds_jump_look(struct lds_capture *capture, int index, struct lds_findings *findings,
                              struct lds_error *error);

#endif
