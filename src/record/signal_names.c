/* What is known of each kind of signal. */
#include "loadside/measurement.h"

static const struct {
    const char *name, *phrase;
    unsigned traits;
    enum lds_signal_stated stated;
} kinds[] = {
#define KIND(id, name, phrase, traits, stated, help) {name, phrase, traits, LDS_STATED_##stated},
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

bool lds_signal_has(enum lds_signal_kind kind, unsigned traits)
{
    return (kinds[kind].traits & traits) == traits;
}

bool lds_signal_is_steady(enum lds_signal_kind kind)
{
    return lds_signal_has(kind, LDS_PLAYS_STEADY);
}

enum lds_signal_stated lds_signal_stated(enum lds_signal_kind kind)
{
    return kinds[kind].stated;
}

bool lds_signal_may_be_one_tone(enum lds_signal_kind kind)
{
    return kind == LDS_SIGNAL_NONE || lds_signal_has(kind, LDS_PLAYS_ONE | LDS_PLAYS_TONE);
}
