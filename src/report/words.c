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

struct lds_short lds_date_words(const char *date)
{
    static const char *const months[] = {"January", "February", "March",     "April",   "May",      "June",
                                         "July",    "August",   "September", "October", "November", "December"};
    unsigned year, month, day;
    if (sscanf(date, "%4u-%2u-%2u", &year, &month, &day) == 3 && month >= 1 && month <= 12)
        return lds_short("%u %s %u", day, months[month - 1], year);
    return lds_short("%.47s", date);
}
