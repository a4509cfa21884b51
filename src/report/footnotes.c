#include "report/footnotes.h"

#include <stdlib.h>
#include <string.h>

#include "loadside/measurement.h"
#include "report/page.h"
#include "scarce.h"

struct lds_short lds_footnote_number(size_t number)
{
    static const char *const digit[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
    return lds_short("%s%s", number >= 10 ? digit[number / 10 % 10] : "", digit[number % 10]);
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
    const struct lds_short number = lds_footnote_number(place + 1);
    if (!strstr(marks, number.text))
        snprintf(marks + used, LDS_MARKS_SIZE - used, "%s", number.text);
}

void lds_footnote_flags(struct lds_footnotes *notes, unsigned flags, bool bench, char *marks)
{
    static const struct {
        unsigned flag;
        const char *sentence, *advice;
    } of[] = {
        {LDS_FLAG_UNSTEADY, "changes during the capture, by more than steady noise would.", ""},
        {LDS_FLAG_CLIPPED, "is affected by clipping: it may be due to the clipping.", ""},
        {LDS_FLAG_GAP, "is affected by a gap in the capture: it may be due to the gap.", ""},
        {LDS_FLAG_BANDWIDTH, "reaches past the edge where the capture's own filter cuts off.", ""},
        {LDS_FLAG_FEW_BITS, "may be the rounding of a capture that uses few bits.", ""},
        {LDS_FLAG_IDENTICAL, "is that of another channel too", ": look at the wiring."},
        {LDS_FLAG_DRIFTING, "the tone moves, or is not there all the time: the figure needs it steady.", ""},
        {LDS_FLAG_NEAR_LINE, "stands on or close to an order of the mains: the limits allow for hum there.",
         " A tone off the mains, such as 997 Hz, avoids it."},
        {LDS_FLAG_NEAR_CHAIN, "is near what the capture chain adds by itself: the limits allow for it.", ""},
        {LDS_FLAG_CHAIN_LIMITED, "is the capture chain's own: that of the amplifier lies below.", ""},
        {LDS_FLAG_PHASE_NOT_KNOWN, "is from levels alone, as if it were a resistance: an inductance hardly shows.",
         " One capture, switched from load to load and back, tells the phase too."},
    };
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++)
        if (flags & of[i].flag)
            lds_footnote(notes, lds_sentence("%s%s", of[i].sentence, bench ? of[i].advice : "").text, marks);
}

void lds_footnotes_print(const struct lds_footnotes *notes, FILE *out)
{
    for (size_t i = 0; i < notes->count; i++) {
        lds_page_paragraph(out, 2, 2, "%s %s", lds_footnote_number(i + 1).text, notes->sentence[i]);
    }
}

void lds_footnotes_free(struct lds_footnotes *notes)
{
    for (size_t i = 0; i < notes->count; i++)
        free(notes->sentence[i]);
    *notes = (struct lds_footnotes){0};
}
