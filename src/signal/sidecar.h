/* The sidecar of a test signal. */
#ifndef LDS_SIGNAL_SIDECAR_H
#define LDS_SIGNAL_SIDECAR_H

#include <stdio.h>

#include "ini_key.h"
#include "loadside/signal.h"

struct lds_sidecar_key {
    struct lds_ini_key is;
    unsigned of; /* kinds of signal that have it, 1 << enum lds_signal_kind each */
};
const struct lds_sidecar_key *lds_sidecar_keys(size_t *count);

void lds_sidecar_write(FILE *out, const struct lds_signal_spec *spec);

#endif
