/* Frequencies, and numbers with their units, in running text. */
#ifndef LDS_HZ_WORDS_H
#define LDS_HZ_WORDS_H

#include <stdbool.h>
#include <stddef.h>

/* "20 Hz", "86.4 kHz": four significant digits. */
void lds_hz_words(double hz, char *text, size_t size);

/* Whether that blank stands between a number and its unit. */
bool lds_before_unit(const char *text, const char *blank);

#endif
