/* What is known of each kind of signal. */
#include "loadside/measurement.h"

static const struct {
    const char *name, *phrase;
    bool steady;
} kinds[] = {
#define KIND(id, name, phrase, steady) {name, phrase, steady},
    LDS_SIGNAL_LIST(KIND)
#undef KIND
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
