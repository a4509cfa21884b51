/* Frequencies in running text. */
#ifndef LDS_HZ_WORDS_H
#define LDS_HZ_WORDS_H

#include <stddef.h>

/* "20 Hz", "86.4 kHz": four significant digits. */
void lds_hz_words(double hz, char *text, size_t size);

#endif
