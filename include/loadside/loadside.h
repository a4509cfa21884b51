/* loadside: distortion and noise of audio power amplifiers, from captures across a load. The library uses the GNU
 * Scientific Library, whose errors abort the program unless its handler (one for the whole process) says otherwise.
 * When the library is loaded it turns that handler off, unless the program has set its own. Failures of GSL inside
 * loadside are then returned as errors. A program that uses GSL itself and wants another handler can set one at any
 * time; one that aborts will do so for loadside too. */
#ifndef LOADSIDE_H
#define LOADSIDE_H

#include "loadside/answer.h"
#include "loadside/bench.h"
#include "loadside/calibrate.h"
#include "loadside/capture.h"
#include "loadside/compare.h"
#include "loadside/error.h"
#include "loadside/expect.h"
#include "loadside/impedance.h"
#include "loadside/job.h"
#include "loadside/ledger.h"
#include "loadside/measure.h"
#include "loadside/measurement.h"
#include "loadside/quantity.h"
#include "loadside/report.h"
#include "loadside/saved.h"
#include "loadside/series.h"
#include "loadside/signal.h"

#define LOADSIDE_VERSION "0.1.0"

#ifdef __cplusplus
extern "C" {
#endif

/* The version of the library that runs, "0.1.0". */
const char *lds_version(void);

#ifdef __cplusplus
}
#endif
#endif
