/* Short texts returned by value, to be used in the expression that makes them: puts(lds_hz(hz).text). What does not fit
 * is cut. */
#ifndef LDS_REPORT_WORDS_H
#define LDS_REPORT_WORDS_H

struct lds_short {
    char text[64];
};
struct lds_label {
    char text[160];
};
struct lds_sentence {
    char text[400];
};

/* Formats like printf. */
struct lds_short lds_short(const char *format, ...) __attribute__((format(printf, 1, 2)));
struct lds_label lds_label(const char *format, ...) __attribute__((format(printf, 1, 2)));
struct lds_sentence lds_sentence(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* The same of any length, to be freed. NULL: no memory, which is noted (scarce.h). */
char *lds_made(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* "17 May 2026" of an ISO 8601 date, with or without a time; other text as it is. */
struct lds_short lds_date_words(const char *date);

#endif
