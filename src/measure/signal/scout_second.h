/* Tones besides the first. */
#ifndef LDS_MEASURE_SIGNAL_SCOUT_SECOND_H
#define LDS_MEASURE_SIGNAL_SCOUT_SECOND_H

#include "measure/signal/scout_look.h"

/* Looks for tones besides the first: fills scout->second_hz and tones. mains_hz: of a comb that was found, or 0. */
void lds_scout_second(struct lds_stretch *look, const struct lds_scout_line *first, double mains_hz,
                      struct lds_scout *scout);

#endif
