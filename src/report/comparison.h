/* What the writers of comparisons share. */
#ifndef LDS_REPORT_COMPARISON_H
#define LDS_REPORT_COMPARISON_H

#include "loadside/compare.h"
#include "report/words.h"

/* A linear level in the unit in which it is printed: volts, else dBFS. */
double lds_compared_level(const struct lds_compared_channel *channel, double linear);

/* "harmonic 3", "mains order 5", "61.23 kHz". */
struct lds_short lds_line_label(const struct lds_line_change *line);

/* "appeared", "vanished", or the word. */
const char *lds_line_word(const struct lds_line_change *line);

/* "within", "over", "not shown". */
const char *lds_limit_result_name(const struct lds_limit_result *limit);

/* "at most", "at least", "change at most". */
const char *lds_limit_kind_name(int kind);

/* The unit of a limit, and of the value compared with it: that of the figure or of its change. If the comparison has no
 * such figure, the unit in which the limit was stated. */
const char *lds_limit_unit(const struct lds_compared_channel *channel, const struct lds_limit_result *limit);

/* "level", "noise", "distortion", "mains"; "" for the rest. */
const char *lds_family_name(int family);

#endif
