#include "say.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"

/* Escapes control characters and, if asked, whatever is not ASCII; what does not fit is left out. */
static void escape_bytes(const char *text, bool ascii, char *line, size_t size)
{
    size_t used = 0;
    for (const unsigned char *p = (const unsigned char *)text; *p && size > 0; p++) {
        char escape[5] = {(char)*p, '\0'};
        if (*p == '\n' || *p == '\t')
            strcpy(escape, *p == '\n' ? "\\n" : "\\t");
        else if (*p < 0x20 || *p == 0x7f || (ascii && *p >= 0x80))
            snprintf(escape, sizeof escape, "\\x%02x", *p);
        const size_t length = strlen(escape);
        if (used + length >= size)
            break;
        memcpy(line + used, escape, length);
        used += length;
    }
    if (size)
        line[used] = '\0';
}

/* Also escapes what the library escapes: controls beyond ASCII, changes of direction, invalid UTF-8. */
void say_escaped(const char *text, char *line, size_t size)
{
    const size_t room = 4 * strlen(text) + 1;
    char *bytes = malloc(room), *safe = NULL;
    if (bytes) {
        escape_bytes(text, false, bytes, room);
        safe = lds_words_escape(bytes);
    }
    free(bytes);
    if (!safe) { /* memory ran out */
        escape_bytes(text, true, line, size);
        return;
    }
    size_t used = strlen(safe);
    if (used >= size)
        for (used = size ? size - 1 : 0; used > 0 && ((unsigned char)safe[used] & 0xc0) == 0x80;)
            used--; /* so as not to cut a character in two */
    if (size) {
        memcpy(line, safe, used);
        line[used] = '\0';
    }
    free(safe);
}

bool say(const char *subject, const char *format, ...)
{
    char message[4096], line[8192], name[8192];
    va_list args;
    va_start(args, format);
    vsnprintf(message, sizeof message, format, args);
    va_end(args);
    say_escaped(subject, name, sizeof name);
    say_escaped(message, line, sizeof line);
    fprintf(stderr, "loadside: %s: %s\n", name, line);
    return false;
}

bool say_about(const char *path, const char *message)
{
    const char *subject = strcmp(path, "-") == 0 ? "standard input" : path;
    const size_t length = strlen(subject);
    char place[8192];
    int line_digits = 0; /* of "path:12: ..." */
    if (strncmp(message, subject, length) == 0 && message[length] == ':') {
        message += length + 1;
        line_digits = (int)strspn(message, "0123456789");
        if (message[line_digits] != ':')
            line_digits = 0;
    }
    snprintf(place, sizeof place, "%s%s%.*s", subject, line_digits > 0 ? ":" : "", line_digits, message);
    message += line_digits + (line_digits > 0);
    return say(place, "%s", message + strspn(message, " "));
}

bool say_unless(enum lds_status status, const char *path, const struct lds_error *error)
{
    return status == LDS_OK || say_about(path, error->message);
}
