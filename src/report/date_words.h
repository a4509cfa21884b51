/* Dates as people write them. */
#ifndef LDS_REPORT_DATE_WORDS_H
#define LDS_REPORT_DATE_WORDS_H

#include "report/words.h"

/* "17 May 2026" of an ISO 8601 date, with or without a time; other text as it is. */
struct lds_short lds_date_words(const char *date);

#endif
