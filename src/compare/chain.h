/* Which figures the capture chain may add to or cancel in. */
#ifndef LDS_COMPARE_CHAIN_H
#define LDS_COMPARE_CHAIN_H

#include <stdbool.h>

/* Harmonics and what is made of them, and hum, which has the one phase of the mains; the rest is like noise, whose
 * powers add. */
bool lds_is_coherent(const char *key);

#endif
