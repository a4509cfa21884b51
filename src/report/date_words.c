#include "report/date_words.h"

#include <stdio.h>

void lds_date_words(const char *date, char *words, size_t size)
{
    static const char *const months[] = {"January", "February", "March",     "April",   "May",      "June",
                                         "July",    "August",   "September", "October", "November", "December"};
    unsigned year, month, day;
    if (sscanf(date, "%4u-%2u-%2u", &year, &month, &day) == 3 && month >= 1 && month <= 12)
        snprintf(words, size, "%u %s %u", day, months[month - 1], year);
    else
        snprintf(words, size, "%s", date);
}
