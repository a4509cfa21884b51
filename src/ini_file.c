#include "ini_file.h"

#include <ctype.h>
#include <errno.h>
#include <ini.h>
#include <stdio.h>
#include <string.h>

#include "fail.h"
#include "text_file.h"

struct reading {
    const struct lds_ini_format *format;
    void *context;
    FILE *file;
    struct lds_ini_place at;
    int expects_key;        /* the last line that should hold a key and value, until inih confirms it; 0: none */
    bool guarded;           /* the ';' of its quoted value stand as GUARD */
    bool begun;             /* this section has a key, which an indented line continues */
    int first_line;         /* of the first fault, after which everything is ignored; 0: none */
    struct lds_error first; /* without path and line */
};

/* Passes the fault of a line to the caller, or keeps it. */
static void fault(struct reading *reading, int line, const struct lds_error *error)
{
    if (!error->status)
        return;
    if (reading->format->fault && error->status != LDS_NO_MEMORY) {
        reading->format->fault(reading->context, line, error->message);
    } else if (!reading->first.status) {
        reading->first = *error;
        reading->first_line = line;
    }
}

static void begin_section(struct reading *reading, const char *start, const char *end)
{
    struct lds_ini_place *at = &reading->at;
    struct lds_error error = {0};
    const char *name = start + strspn(start, " \t");
    size_t length = end && end > name ? (size_t)(end - name) : 0;
    while (length > 0 && isspace((unsigned char)name[length - 1]))
        length--;
    at->section_line = at->line;
    snprintf(at->section, sizeof at->section, "%.*s", (int)length, name);
    if (end)
        reading->begun = false;
    if (reading->format->section && !reading->first.status) {
        reading->format->section(reading->context, at, end != NULL, &error);
        fault(reading, at->line, &error);
    }
}

enum { GUARD = 1 }; /* a control character in the place of ';', which inih would take for a comment */

/* A value in double quotes may hold ';'. It ends with the first quote before a blank or the line's end. */
static bool guard_quoted(char *line)
{
    char *value = strpbrk(line, "=:");
    value = value ? value + 1 + strspn(value + 1, " \t") : NULL;
    if (!value || *value != '"')
        return false;
    char *end = strchr(value + 1, '"');
    while (end && !strchr(" \t\r\n", end[1]))
        end = strchr(end + 1, '"');
    for (char *at = value; end && at < end; at++)
        if (*at == ';')
            *at = GUARD;
    return end != NULL;
}

/* Looks at a line before inih does. */
static void look(struct reading *reading, const char *line)
{
    static const char mark[] = "\xEF\xBB\xBF";
    if (reading->at.line == 1 && strncmp(line, mark, strlen(mark)) == 0)
        line += strlen(mark);
    const char *start = line + strspn(line, " \t\r\n\v\f");
    reading->at.indented = start > line && reading->begun;
    if (!*start || *start == ';' || *start == '#')
        return;
    bool begins = *start == '[' && !reading->at.indented;
    const char *end = begins ? strchr(start, ']') : NULL;
    if (!end)
        reading->expects_key = reading->at.line;
    if (begins)
        begin_section(reading, start + 1, end);
}

/* The previous line is finished. */
static void close_line(struct reading *reading)
{
    struct lds_error error = {0};
    if (reading->expects_key > 0)
        lds_fail(&error, LDS_BAD_USE, "is neither a section nor %s", reading->format->form);
    fault(reading, reading->expects_key, &error);
    reading->expects_key = 0;
}

/* Whether the line did not fit. inih would take the rest for another line, so the rest is skipped. */
static bool is_cut(const char *text, int size, FILE *file)
{
    size_t length = strlen(text);
    if (length + 1 < (size_t)size || text[length - 1] == '\n')
        return false;
    int c = getc(file);
    if (c == EOF) /* the last line just fits, without a line end */
        return false;
    while (c != EOF && c != '\n')
        c = getc(file);
    return true;
}

static char *next_line(char *text, int size, void *context)
{
    struct reading *reading = context;
    struct lds_error error = {0};
    close_line(reading);
    reading->at.line++;
    if (!fgets(text, size, reading->file))
        return NULL;
    if (is_cut(text, size, reading->file)) {
        lds_fail(&error, LDS_BAD_USE, "is longer than %d characters: %s", size - 2, reading->format->shorten);
        fault(reading, reading->at.line, &error);
        strcpy(text, "#\n");
    } else {
        look(reading, text);
        reading->guarded = reading->expects_key > 0 && guard_quoted(text);
    }
    return text;
}

static int take_key(void *context, const char *section, const char *name, const char *value)
{
    struct reading *reading = context;
    struct lds_error error = {0};
    (void)section; /* not used, as inih cuts it to 50 characters */
    reading->expects_key = 0;
    char plain[INI_MAX_LINE];
    snprintf(plain, sizeof plain, "%s", value);
    for (char *at = plain; reading->guarded && *at; at++)
        if (*at == GUARD)
            *at = ';';
    if (!reading->first.status)
        reading->format->key(reading->context, &reading->at, name, plain, &error);
    fault(reading, reading->at.line, &error);
    reading->begun = true;
    return 1;
}

enum lds_status lds_ini_read(const char *path, const struct lds_ini_format *format, void *context,
                             struct lds_error *error)
{
    struct reading reading = {.format = format, .context = context};
    enum lds_status opened = lds_text_file_open(path, format->what, format->name_one, &reading.file, error);
    if (opened)
        return opened;
    errno = 0;
    int parsed = ini_parse_stream(next_line, &reading, take_key, &reading);
    bool failed = ferror(reading.file) != 0;
    int why = errno;
    fclose(reading.file);
    if (failed)
        return lds_fail(error, LDS_IO, "%s: %s cannot be read: %s; name one that can", path, format->what,
                        strerror(why));
    if (parsed < 0)
        return lds_fail_memory(error, format->what);
    if (reading.first.status)
        return lds_fail(error, reading.first.status, "%s:%d: %.600s", path, reading.first_line, reading.first.message);
    if (parsed > 0 && !format->fault) /* a comment starts between the brackets of a section */
        return lds_fail(error, LDS_BAD_USE, "%s:%d: is neither a section nor %s", path, parsed, format->form);
    return LDS_OK;
}

enum lds_status lds_ini_under(const struct lds_ini_place *at, const char *section, const char *name,
                              struct lds_error *error)
{
    if (strcmp(at->section, section) == 0)
        return LDS_OK;
    return lds_fail(error, LDS_BAD_USE, "'%.64s' stands %s%.64s%s; all keys stand under [%s]", name,
                    *at->section ? "under [" : "before any section", at->section, *at->section ? "]" : "", section);
}
