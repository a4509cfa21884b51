/* The parts of the text of a comparison, in the order of the page. */
#ifndef LDS_REPORT_COMPARISON_TEXT_H
#define LDS_REPORT_COMPARISON_TEXT_H

#include <stdio.h>

#include "loadside/answer.h"

/* What happened to each channel, in sentences. */
void lds_text_verdicts(FILE *out, const struct lds_comparison *comparison, const struct lds_answer *answer);

/* The files of both sides. */
void lds_text_sides(FILE *out, const struct lds_comparison *comparison);

/* The figures by result: changed, not changed, undecided, only shown. bench: with what would decide the undecided ones,
 * and with figures that restate another. */
void lds_text_changes(FILE *out, const struct lds_compared_channel *channel, bool bench);

/* Lines that appeared, vanished or changed; where the noise changed over frequency; each limit. */
void lds_text_line_changes(FILE *out, const struct lds_compared_channel *channel);
void lds_text_axes(FILE *out, const struct lds_compared_channel *channel);
void lds_text_limits(FILE *out, const struct lds_compared_channel *channel);

#endif
