/* Is a line hum, or a tone? */
#ifndef LDS_MEASURE_SIGNAL_SCOUT_HUM_H
#define LDS_MEASURE_SIGNAL_SCOUT_HUM_H

#include "measure/signal/scout_look.h"

/* What a line at a mains order is. */
enum lds_hum_verdict { LDS_HUM_NOT, LDS_HUM_MAYBE, LDS_HUM_SURE };
enum lds_hum_verdict lds_hum_judge(const struct lds_stretch *look, const struct lds_scout_line *line, int *order);
/* Whether a line is one of the orders of a comb, and not stronger than its neighbours suggest. */
bool lds_hum_belongs(const struct lds_stretch *look, const struct lds_scout_line *line, double mains_hz);

#endif
