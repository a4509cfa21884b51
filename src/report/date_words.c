#include "report/date_words.h"

#include <stdio.h>

struct lds_short lds_date_words(const char *date)
{
    static const char *const months[] = {"January", "February", "March",     "April",   "May",      "June",
                                         "July",    "August",   "September", "October", "November", "December"};
    unsigned year, month, day;
    if (sscanf(date, "%4u-%2u-%2u", &year, &month, &day) == 3 && month >= 1 && month <= 12)
        return lds_short("%u %s %u", day, months[month - 1], year);
    return lds_short("%.47s", date);
}
