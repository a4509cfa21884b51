/* Notes at the foot of a table: each sentence once, called by its number. */
#ifndef LDS_REPORT_FOOTNOTES_H
#define LDS_REPORT_FOOTNOTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "report/words.h"

enum { LDS_FOOTNOTES = 99, LDS_MARKS_SIZE = 32 };

struct lds_footnotes {
    size_t count;
    char *sentence[LDS_FOOTNOTES];
};

/* Appends the raised number of the sentence to marks, which holds LDS_MARKS_SIZE; a new sentence joins the notes. */
void lds_footnote(struct lds_footnotes *notes, const char *sentence, char *marks);

/* A sentence for each of these flags. bench: with what to do about it. */
void lds_footnote_flags(struct lds_footnotes *notes, unsigned flags, bool bench, char *marks);

/* "¹", "²³": superscripts of Unicode. */
struct lds_short lds_footnote_number(size_t number);

void lds_footnotes_print(const struct lds_footnotes *notes, FILE *out);

void lds_footnotes_free(struct lds_footnotes *notes);

#endif
