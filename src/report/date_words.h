/* Dates as people write them. */
#ifndef LDS_REPORT_DATE_WORDS_H
#define LDS_REPORT_DATE_WORDS_H

#include <stddef.h>

/* "17 May 2026" of an ISO 8601 date, with or without a time; other text as it is. */
void lds_date_words(const char *date, char *words, size_t size);

#endif
