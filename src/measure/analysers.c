/* The analysers of a channel. One more: its row here and in the header, and the file that has it (DEVELOPERS.md). */
#include "measure/analyser.h"

const struct lds_analyser *const lds_analysers[] =
    {
        &lds_analyse_health,      &lds_analyse_level,     &lds_analyse_tone,
        &lds_analyse_signal, /* needs the tone's track; what follows needs the signal */
        &lds_analyse_beside_tone, &lds_analyse_harmonics, &lds_analyse_residual,
        &lds_analyse_noise,       &lds_analyse_bursts,    &lds_analyse_popcorn,
        &lds_analyse_mains,       &lds_analyse_lines, /* tells lines from the floor: needs harmonics, mains and what is
                                                         beside the tone */
        &lds_analyse_spectrum,
};
_Static_assert(sizeof lds_analysers / sizeof *lds_analysers == LDS_ANALYSERS, "LDS_ANALYSERS counts the table's rows");

bool lds_analyser_is_for(const struct lds_analyser *analyser, enum lds_signal_kind kind)
{
    return analyser->signals == 0 || kind == LDS_SIGNAL_NONE || (analyser->signals & 1u << kind) != 0;
}
