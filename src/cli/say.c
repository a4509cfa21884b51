#include "say.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"

/* Writes the escape of one byte to escape (5 bytes), or the byte itself. */
static void escape_byte(unsigned char byte, char *escape)
{
    if (byte == '\n') {
        strcpy(escape, "\\n");
    } else if (byte == '\t') {
        strcpy(escape, "\\t");
    } else if (byte < 0x20 || byte == 0x7f) {
        snprintf(escape, 5, "\\x%02x", byte);
    } else {
        escape[0] = (char)byte;
        escape[1] = '\0';
    }
}

/* Without memory: escapes everything that is not ASCII. */
static void escape_plainly(const char *text, char *line, size_t size)
{
    char escape[5];
    size_t used = 0;
    for (const char *p = text; *p && size > 0; p++) {
        escape_byte((unsigned char)*p, escape);
        if ((unsigned char)*p >= 0x80)
            snprintf(escape, sizeof escape, "\\x%02x", (unsigned char)*p);
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
    char *safe, escape[5], *bytes = malloc(4 * strlen(text) + 1);
    size_t used = 0;
    for (const char *p = text; bytes && *p; p++) {
        escape_byte((unsigned char)*p, escape);
        const size_t length = strlen(escape);
        memcpy(bytes + used, escape, length);
        used += length;
    }
    if (bytes)
        bytes[used] = '\0';
    safe = bytes ? lds_words_escape(bytes) : NULL;
    free(bytes);
    if (!safe) {
        escape_plainly(text, line, size);
        return;
    }
    used = strlen(safe);
    if (used >= size)
        for (used = size ? size - 1 : 0; used > 0 && ((unsigned char)safe[used] & 0xc0) == 0x80;)
            used--; /* cut between characters */
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
