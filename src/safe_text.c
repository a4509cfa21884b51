#include "safe_text.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scarce.h"

static const uint32_t REPLACEMENT = 0xFFFD;

/* Well-formed sequences after The Unicode Standard, table 3-7: no overlong forms, no surrogates, nothing above
 * 10FFFF. */
uint32_t lds_utf8_next(const char *text, size_t *bytes)
{
    const unsigned char *u = (const unsigned char *)text;
    *bytes = u[0] != 0;
    if (u[0] < 0x80)
        return u[0];
    int more = u[0] >= 0xC2 && u[0] <= 0xDF ? 1 : (u[0] & 0xF0) == 0xE0 ? 2 : u[0] >= 0xF0 && u[0] <= 0xF4 ? 3 : 0;
    if (more == 0)
        return REPLACEMENT;
    uint32_t code = u[0] & (0x3Fu >> more);
    for (int i = 1; i <= more; i++) {
        if ((u[i] & 0xC0) != 0x80)
            return REPLACEMENT;
        code = code << 6 | (u[i] & 0x3Fu);
    }
    static const uint32_t least[] = {0, 0x80, 0x800, 0x10000};
    if (code < least[more] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF))
        return REPLACEMENT;
    *bytes = (size_t)more + 1;
    return code;
}

bool lds_character_is_unsafe(uint32_t code)
{
    return code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0x200E || code == 0x200F ||
           (code >= 0x2028 && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
}

/* A byte becomes at most 6 bytes ("\u202e" stands for 3 of them, "\xHH" and U+FFFD for 1). */
static char *copy(const char *text, bool (*must_escape)(uint32_t code))
{
    char *clean = malloc(strlen(text) * 6 + 1);
    if (!clean) {
        lds_scarce_note();
        return NULL;
    }
    size_t length = 0;
    size_t bytes;
    for (uint32_t code; (code = lds_utf8_next(text, &bytes)) != 0; text += bytes) {
        if (must_escape && must_escape(code)) {
            length += (size_t)snprintf(clean + length, 7, code < 0x100 ? "\\x%02x" : "\\u%04x", (unsigned)code);
        } else if (code == REPLACEMENT) {
            memcpy(clean + length, "\xEF\xBF\xBD", 3);
            length += 3;
        } else {
            memcpy(clean + length, text, bytes);
            length += bytes;
        }
    }
    clean[length] = '\0';
    return clean;
}

char *lds_words_clean(const char *text)
{
    return copy(text, NULL);
}

char *lds_words_escape(const char *text)
{
    return copy(text, lds_character_is_unsafe);
}

static bool is_dark(uint32_t code)
{
    return lds_character_is_unsafe(code) && code != '\t' && code != '\n' && code != '\r';
}

char *lds_words_escape_dark(const char *text)
{
    return copy(text, is_dark);
}

struct range {
    uint32_t first, last;
};

static bool in(const struct range *range, size_t count, uint32_t code)
{
    for (size_t i = 0; i < count; i++)
        if (code >= range[i].first && code <= range[i].last)
            return true;
    return false;
}

static int width_of(uint32_t code)
{
    static const struct range none[] = {{0x0300, 0x036F}, {0x1AB0, 0x1AFF}, {0x1DC0, 0x1DFF}, {0x200B, 0x200F},
                                        {0x20D0, 0x20FF}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}};
    static const struct range wide[] = {{0x1100, 0x115F}, {0x2E80, 0x303E},   {0x3041, 0x4DBF},   {0x4E00, 0xA4CF},
                                        {0xAC00, 0xD7A3}, {0xF900, 0xFAFF},   {0xFE30, 0xFE6F},   {0xFF00, 0xFF60},
                                        {0xFFE0, 0xFFE6}, {0x1F300, 0x1F64F}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD}};
    if (in(none, sizeof none / sizeof none[0], code))
        return 0;
    return in(wide, sizeof wide / sizeof wide[0], code) ? 2 : 1;
}

int lds_words_width(const char *text)
{
    int width = 0;
    size_t bytes;
    for (uint32_t code; (code = lds_utf8_next(text, &bytes)) != 0; text += bytes)
        width += width_of(code);
    return width;
}
