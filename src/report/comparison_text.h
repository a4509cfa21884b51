/* The parts of the text of a comparison, one after the other on the page. */
#ifndef LDS_REPORT_COMPARISON_TEXT_H
#define LDS_REPORT_COMPARISON_TEXT_H

#include <stdio.h>

#include "loadside/compare.h"

/* The figures by what can be said of them: changed, not changed, cannot be told, only shown. */
void lds_text_changes(FILE *out, const struct lds_compared_channel *channel);

/* Lines that appeared, vanished or changed; where over frequency the noise did; each limit. */
void lds_text_line_changes(FILE *out, const struct lds_compared_channel *channel);
void lds_text_axes(FILE *out, const struct lds_compared_channel *channel);
void lds_text_limits(FILE *out, const struct lds_compared_channel *channel);

#endif
