#include "hz_words.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

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

bool lds_before_unit(const char *text, const char *blank)
{
    static const char *const units[] = {"W", "V", "mV", "µV", "dB", "Hz", "kHz", "s", "ms", "min", "%", "Ω"};
    const bool number = *blank == ' ' && blank > text && isdigit((unsigned char)blank[-1]);
    for (size_t i = 0; number && i < sizeof units / sizeof *units; i++) {
        const size_t length = strlen(units[i]);
        if (strncmp(blank + 1, units[i], length) == 0 && !isalpha((unsigned char)blank[1 + length]))
            return true;
    }
    return false;
}
