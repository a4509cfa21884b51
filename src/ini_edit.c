#include "ini_edit.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const BLANKS = " \t";

/* Where a key stands, or where it would go. */
struct place {
    const char *value, *end; /* of the old value; NULL: it is not there */
    const char *after;       /* end of the last key of the section, or of its title; NULL: there is no such section */
};

static bool is_section(const char *line, const char *section)
{
    const size_t length = strlen(section);
    line += strspn(line, BLANKS);
    if (*line != '[')
        return false;
    line += 1 + strspn(line + 1, BLANKS);
    return strncmp(line, section, length) == 0 && line[length + strspn(line + length, BLANKS)] == ']';
}

static bool is_key(const char *line, const char *key)
{
    const size_t length = strlen(key);
    line += strspn(line, BLANKS);
    if (strncmp(line, key, length) != 0)
        return false;
    line += length + strspn(line + length, BLANKS);
    return *line == '=' || *line == ':';
}

/* The value runs from its first character to the blanks, the comment after a blank, or the line end that follow it. */
static void take_value(const char *line, struct place *place)
{
    const char *value = line + strcspn(line, "=:") + 1, *end;
    value += strspn(value, BLANKS);
    end = value + strcspn(value, "\r\n");
    for (const char *c = value; c < end; c++)
        if (*c == ';' && (c == value || strchr(BLANKS, c[-1]))) {
            end = c;
            break;
        }
    while (end > value && strchr(BLANKS, end[-1]))
        end--;
    place->value = value;
    place->end = end;
}

static struct place find(const char *text, const char *section, const char *key)
{
    struct place place = {0};
    bool inside = false;
    const char *line = strncmp(text, "\xEF\xBB\xBF", 3) == 0 ? text + 3 : text;
    while (*line && !place.value) {
        const char *end = line + strcspn(line, "\n"), *next = *end ? end + 1 : end;
        const char *sign = line + strspn(line, BLANKS);
        if (*sign == '[')
            inside = is_section(line, section);
        const bool counts = *sign == '[' || (*sign && !strchr(";#\r\n", *sign));
        if (inside && counts)
            place.after = next;
        if (inside && *sign != '[' && is_key(line, key))
            take_value(line, &place);
        line = next;
    }
    return place;
}

char *lds_ini_edit(const char *text, const char *section, const char *key, const char *value, char *old, size_t size)
{
    const struct place place = find(text, section, key);
    const char *end_of_line = strstr(text, "\r\n") ? "\r\n" : "\n";
    char *edited = NULL;
    int length;
    if (old)
        snprintf(old, size, "%.*s", place.value ? (int)(place.end - place.value) : 0, place.value ? place.value : "");
    if (place.value) {
        const char *blank = place.end == place.value && *place.end && !strchr(" \t\r\n", *place.end) ? " " : "";
        length = asprintf(&edited, "%.*s%s%s%s", (int)(place.value - text), text, value, blank, place.end);
    } else if (place.after) {
        const bool open = place.after > text && place.after[-1] != '\n'; /* the last line has no end */
        length = asprintf(&edited, "%.*s%s%s = %s%s%s", (int)(place.after - text), text, open ? end_of_line : "", key,
                          value, end_of_line, place.after);
    } else {
        const size_t all = strlen(text);
        const bool open = all > 0 && text[all - 1] != '\n';
        length = asprintf(&edited, "%s%s%s[%s]%s%s = %s%s", text, open ? end_of_line : "", all > 0 ? end_of_line : "",
                          section, end_of_line, key, value, end_of_line);
    }
    return length < 0 ? NULL : edited;
}
