/* A transfer function as series and figures of the record. */
#ifndef LDS_MEASURE_KNOWN_RESPONSE_H
#define LDS_MEASURE_KNOWN_RESPONSE_H

#include "loadside/bench.h"
#include "measure/known/transfer.h"
#include "record/record.h"

struct lds_response {
    const struct lds_transfer_bins *bins; /* where single frequencies are taken from */
    const struct lds_transfer_bins *low;  /* and those below low_to_hz; NULL: `bins` there too */
    double low_to_hz;
    double near_db;                /* uncertainty of the method just above that */
    double shorter;                /* where there is a low part: its length over its length without repeats */
    double low_hz, high_hz;        /* covered */
    const struct lds_bench *bench; /* its own response is divided out; NULL: it is not */
    /* Of a reference channel, whose response is then taken into account too; NULL: none. */
    const struct lds_bench *in_bench;
    double in_volts; /* of the input for a sample of 1; NAN: not known, so there is no gain */
    bool inverted;
    bool phase;           /* whether the phase is known */
    const char *no_phase; /* why not */
    bool coherence;
};

enum { LDS_RESPONSE_POINTS = 24 }; /* an octave */

/* Appends response.gain, response.phase and response.coherence, and the figures response.*, or why they are absent.
 * false: no memory. */
bool lds_response_figures(const struct lds_response *response, struct lds_channel *channel);

#endif
