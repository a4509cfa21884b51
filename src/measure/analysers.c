#include "measure/analyser.h"

#define ROW(name) &lds_analyse_##name,
const struct lds_analyser *const lds_analysers[LDS_ANALYSERS] = {LDS_EACH_ANALYSER(ROW)};

bool lds_analyser_is_for(const struct lds_analyser *analyser, enum lds_signal_kind kind)
{
    return analyser->signals == 0 || kind == LDS_SIGNAL_NONE || (analyser->signals & 1u << kind) != 0;
}
