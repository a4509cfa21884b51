#include "report/words.h"

#include <stdarg.h>
#include <stdio.h>

#include "scarce.h"

struct lds_short lds_short(const char *format, ...)
{
    struct lds_short words;
    va_list args;
    va_start(args, format);
    vsnprintf(words.text, sizeof words.text, format, args);
    va_end(args);
    return words;
}

struct lds_label lds_label(const char *format, ...)
{
    struct lds_label words;
    va_list args;
    va_start(args, format);
    vsnprintf(words.text, sizeof words.text, format, args);
    va_end(args);
    return words;
}

struct lds_sentence lds_sentence(const char *format, ...)
{
    struct lds_sentence words;
    va_list args;
    va_start(args, format);
    vsnprintf(words.text, sizeof words.text, format, args);
    va_end(args);
    return words;
}

char *lds_made(const char *format, ...)
{
    char *words = NULL;
    va_list args;
    va_start(args, format);
    if (vasprintf(&words, format, args) < 0) {
        words = NULL;
        lds_scarce_note();
    }
    va_end(args);
    return words;
}
