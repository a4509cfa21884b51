#include "report/footnotes.h"

#include <stdlib.h>
#include <string.h>

#include "report/page.h"
#include "scarce.h"

void lds_footnote_number(size_t number, char *text, size_t size)
{
    static const char *const digit[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
    snprintf(text, size, "%s%s", number >= 10 ? digit[number / 10 % 10] : "", digit[number % 10]);
}

void lds_footnote(struct lds_footnotes *notes, const char *sentence, char *marks)
{
    size_t place = 0, used = strlen(marks);
    while (place < notes->count && strcmp(notes->sentence[place], sentence) != 0)
        place++;
    if (place == LDS_FOOTNOTES)
        return;
    if (place == notes->count) {
        notes->sentence[place] = strdup(sentence);
        if (!notes->sentence[place]) {
            lds_scarce_note();
            return;
        }
        notes->count++;
    }
    char number[16];
    lds_footnote_number(place + 1, number, sizeof number);
    if (!strstr(marks, number))
        snprintf(marks + used, LDS_MARKS_SIZE - used, "%s", number);
}

void lds_footnotes_print(const struct lds_footnotes *notes, FILE *out)
{
    for (size_t i = 0; i < notes->count; i++) {
        char number[16];
        lds_footnote_number(i + 1, number, sizeof number);
        lds_page_paragraph(out, 2, 2, "%s %s", number, notes->sentence[i]);
    }
}

void lds_footnotes_free(struct lds_footnotes *notes)
{
    for (size_t i = 0; i < notes->count; i++)
        free(notes->sentence[i]);
    *notes = (struct lds_footnotes){0};
}
