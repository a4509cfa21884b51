#include <math.h>

#include "loadside/compare.h"

void lds_compare_options_init(struct lds_compare_options *options)
{
    *options = (struct lds_compare_options){.false_alarm = 0.01};
    for (int f = 0; f < LDS_FAMILIES; f++)
        options->repeat_db[f] = options->matters_db[f] = NAN;
}

/* Switches without default, so that the compiler warns here about a new value. */
const char *lds_word_name(enum lds_word word)
{
    switch (word) {
    case LDS_LOWER:
        return "lower";
    case LDS_HIGHER:
        return "higher";
    case LDS_SLIGHTLY_LOWER:
        return "slightly lower";
    case LDS_SLIGHTLY_HIGHER:
        return "slightly higher";
    case LDS_SAME:
        return "same";
    case LDS_UNRESOLVED:
        return "unresolved";
    case LDS_HIDDEN_BY_CHAIN:
        return "chain-limited";
    }
    return "unknown word";
}

const char *lds_repeatability_name(enum lds_repeatability repeatability)
{
    switch (repeatability) {
    case LDS_REPEAT_REPEATS:
        return "repeats";
    case LDS_REPEAT_BENCH:
        return "bench";
    case LDS_REPEAT_DEFAULT:
        return "default";
    case LDS_REPEAT_STATED:
        return "stated";
    case LDS_REPEAT_NONE:
        return "none";
    }
    return "unknown repeatability";
}
