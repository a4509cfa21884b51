#include "hz_words.h"

#include <stdio.h>

static const double NEARLY = 0.99995; /* rounds up to 1 of the next prefix */

void lds_hz_words(double hz, char *text, size_t size)
{
    if (hz >= NEARLY * 1e6)
        snprintf(text, size, "%.4g MHz", hz / 1e6);
    else if (hz >= NEARLY * 1e3)
        snprintf(text, size, "%.4g kHz", hz / 1e3);
    else
        snprintf(text, size, "%.4g Hz", hz);
}
