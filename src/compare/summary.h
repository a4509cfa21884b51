/* The answer of a comparison in a sentence or two. */
#ifndef LDS_COMPARE_SUMMARY_H
#define LDS_COMPARE_SUMMARY_H

#include <stdbool.h>

#include "loadside/compare.h"

/* Writes comparison->summary, replacing an existing one, for instance after removing limits. false: no memory. */
bool lds_summary_write(struct lds_comparison *comparison);

#endif
