/* Numbers as people write them: "8", "8 ohm", "500 kHz", "0.775V", "20-20k", in any locale. */
#ifndef LOADSIDE_QUANTITY_H
#define LOADSIDE_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Reads the whole text as a finite number, with an optional SI prefix (p n u µ m k K M G) and an optional unit (the
 * given one, any case for Hz and ohm, also Ω for "ohm"; NULL or "": none allowed). "20 m" with unit "V" is 0.02.
 * Returns false if the text contains anything else. */
bool lds_quantity_parse(const char *text, const char *unit, double *value);

/* Reads "LO-HI" in hertz, as in 20-20k or "400 Hz - 30 kHz"; 0 < LO < HI. */
bool lds_band_parse(const char *text, double *low_hz, double *high_hz);

/* The word that is probably meant: the one with the fewest edits (a letter inserted, deleted or changed, or two
 * swapped; any case), the first of equals. NULL when all differ by more than half the word's letters. */
const char *lds_nearest(const char *word, const char *const *words, size_t count);

#ifdef __cplusplus
}
#endif
#endif
