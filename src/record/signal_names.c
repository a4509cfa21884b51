/* Names of signals. */
#include "loadside/measurement.h"

/* A switch without default, so that a new kind warns here. */
const char *lds_signal_name(enum lds_signal_kind kind)
{
    switch (kind) {
    case LDS_SIGNAL_NONE:
        return "";
    case LDS_SIGNAL_SILENCE:
        return "silence";
    case LDS_SIGNAL_SINE:
        return "sine";
    case LDS_SIGNAL_TWO_TONE:
        return "two-tone";
    case LDS_SIGNAL_SWEEP:
        return "sweep";
    case LDS_SIGNAL_STAIRCASE:
        return "staircase";
    case LDS_SIGNAL_BURST:
        return "burst";
    case LDS_SIGNAL_NOISE:
        return "noise";
    case LDS_SIGNAL_PROGRAMME:
        return "programme";
    case LDS_SIGNAL_POWER_ON:
        return "power-on";
    }
    return "";
}

bool lds_signal_is_steady(enum lds_signal_kind kind)
{
    return kind == LDS_SIGNAL_NONE || kind == LDS_SIGNAL_SILENCE || kind == LDS_SIGNAL_SINE ||
           kind == LDS_SIGNAL_TWO_TONE || kind == LDS_SIGNAL_NOISE;
}
