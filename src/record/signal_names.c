/* Names of signals, and what is known of each kind. */
#include "loadside/measurement.h"

static const struct {
    const char *name, *phrase;
    bool steady; /* level, lines and noise are the same throughout */
} kinds[LDS_SIGNALS] = {
    [LDS_SIGNAL_NONE] = {"", "", true},
    [LDS_SIGNAL_SILENCE] = {"silence", "silence", true},
    [LDS_SIGNAL_SINE] = {"sine", "a tone", true},
    [LDS_SIGNAL_TWO_TONE] = {"two-tone", "two tones", true},
    [LDS_SIGNAL_SWEEP] = {"sweep", "a sweep", false},
    [LDS_SIGNAL_STAIRCASE] = {"staircase", "a tone that steps in level", false},
    [LDS_SIGNAL_BURST] = {"burst", "a tone in bursts", false},
    [LDS_SIGNAL_NOISE] = {"noise", "noise", true},
    [LDS_SIGNAL_PROGRAMME] = {"programme", "music, speech or the like", false},
    [LDS_SIGNAL_POWER_ON] = {"power-on", "the amplifier being switched on", false},
};

const char *lds_signal_name(enum lds_signal_kind kind)
{
    return kinds[kind].name;
}

const char *lds_signal_phrase(enum lds_signal_kind kind)
{
    return kinds[kind].phrase;
}

bool lds_signal_is_steady(enum lds_signal_kind kind)
{
    return kinds[kind].steady;
}
