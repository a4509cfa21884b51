/* Lines of a job sheet. */
#include <ctype.h>
#include <errno.h>
#include <ini.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "ini_line.h"
#include "job/digest.h"
#include "job/repeats.h"
#include "job/sheet.h"
#include "loadside/quantity.h"
#include "safe_text.h"
#include "text_file.h"

static void unknown_section(struct lds_sheet_reading *reading, const char *name)
{
    const char *names[LDS_SHEET_SECTIONS];
    for (int i = 0; i < LDS_SHEET_SECTIONS; i++)
        names[i] = lds_sheet_section_name((enum lds_sheet_section)i);
    char *text = lds_fault_nearest(name, names, LDS_SHEET_SECTIONS, "the sections are in docs/job-sheet.md");
    lds_fault(&reading->faults, reading->line, "unknown section %s", text ? text : name);
    free(text);
}

static bool add_capture(struct lds_sheet_reading *reading, const char *name)
{
    struct lds_sheet *sheet = reading->sheet;
    if (sheet->captures == LDS_SHEET_CAPTURES_MAX) {
        lds_fault(&reading->faults, reading->line, "more than %d captures found; make a sheet for each part of the job",
                  LDS_SHEET_CAPTURES_MAX);
        return false;
    }
    struct lds_sheet_capture *grown = realloc(sheet->capture, (sheet->captures + 1) * sizeof *grown);
    char *copy = lds_words_clean(name);
    if (grown)
        sheet->capture = grown;
    if (!grown || !copy) {
        free(copy);
        reading->faults.no_memory = true;
        return false;
    }
    grown[sheet->captures] = (struct lds_sheet_capture){.name = copy,
                                                        .role = LDS_ROLE_UNKNOWN,
                                                        .power_w = NAN,
                                                        .frequency_hz = NAN,
                                                        .repeat = 1,
                                                        .line = reading->line};
    lds_bench_init(&grown[sheet->captures++].bench);
    return true;
}

static void begin_capture(struct lds_sheet_reading *reading, const char *name)
{
    const struct lds_sheet *sheet = reading->sheet;
    for (size_t i = 0; i < sheet->captures; i++)
        if (strcmp(sheet->capture[i].name, name) == 0)
            lds_fault(&reading->faults, reading->line,
                      "[capture %.64s] stands in line %d already; give each capture a name of its own", name,
                      sheet->capture[i].line);
    if (!*name)
        lds_fault(&reading->faults, reading->line, "a capture without a name; as in [capture idle before]");
    reading->section = add_capture(reading, name) ? LDS_SHEET_CAPTURE : LDS_SHEET_NOWHERE;
}

/* name: what stands between the brackets, without blanks about it. */
static void begin_section(struct lds_sheet_reading *reading, char *name)
{
    size_t word = strcspn(name, " \t");
    reading->section = LDS_SHEET_NOWHERE;
    reading->section_line = reading->line;
    reading->begun = false;
    reading->text = NULL;
    for (int i = 0; i < LDS_SHEET_CAPTURE; i++)
        if (strcmp(name, lds_sheet_section_name((enum lds_sheet_section)i)) == 0)
            reading->section = (enum lds_sheet_section)i;
    if (reading->section != LDS_SHEET_NOWHERE)
        return;
    if (word == strlen("capture") && strncmp(name, "capture", word) == 0) {
        begin_capture(reading, name + word + strspn(name + word, " \t"));
        return;
    }
    name[word] = '\0'; /* the nearest of "capturs idle" is "capture" */
    unknown_section(reading, name);
}

static bool begins_comment(const char *text)
{
    return *text == ';' || *text == '#';
}

/* Looks at a line before inih does, which tells neither where sections begin nor which lines it made nothing of. */
static void look(struct lds_sheet_reading *reading, const char *line)
{
    static const char mark[] = "\xEF\xBB\xBF";
    if (reading->line == 1 && strncmp(line, mark, strlen(mark)) == 0)
        line += strlen(mark);
    const char *start = line + strspn(line, " \t\r\n\v\f");
    reading->indented = start > line && reading->begun;
    reading->expects_line = 0;
    if (!*start || begins_comment(start))
        return;
    const char *end = strchr(start, ']');
    if (*start != '[' || reading->indented || !end) {
        reading->expects_line = reading->line;
        if (*start == '[' && !reading->indented) { /* keys after it belong to whatever was meant */
            reading->section = LDS_SHEET_NOWHERE;
            reading->section_line = reading->line;
        }
        return;
    }
    size_t length = (size_t)(end - start - 1);
    char *name = strndup(start + 1 + strspn(start + 1, " \t"), length);
    if (!name) {
        reading->faults.no_memory = true;
        return;
    }
    name[strcspn(name, "]")] = '\0';
    for (length = strlen(name); length > 0 && isspace((unsigned char)name[length - 1]); length--)
        name[length - 1] = '\0';
    begin_section(reading, name);
    free(name);
}

static void close_line(struct lds_sheet_reading *reading)
{
    if (reading->expects_line > 0)
        lds_fault(&reading->faults, reading->expects_line,
                  "is neither a section nor 'key = value'; see docs/job-sheet.md");
    reading->expects_line = 0;
}

static char *next_line(char *text, int size, void *context)
{
    struct lds_sheet_reading *reading = context;
    close_line(reading);
    reading->line++;
    enum lds_ini_line got = lds_ini_line_read(text, size, reading->file);
    if (got == LDS_INI_END)
        return NULL;
    if (got == LDS_INI_TOO_LONG) {
        lds_fault(&reading->faults, reading->line,
                  "is longer than %d characters: go on in another line, indented, where text may; shorten it else",
                  size - 2);
        strcpy(text, "#\n"); /* the fault is told */
        return text;
    }
    look(reading, text);
    return text;
}

static int take_key(void *context, const char *section, const char *name, const char *value)
{
    struct lds_sheet_reading *reading = context;
    (void)section; /* cut to 50 characters; reading->section is not */
    reading->expects_line = 0;
    char *clean = lds_words_clean(value), *clean_name = lds_words_clean(name);
    if (!clean || !clean_name)
        reading->faults.no_memory = true;
    else if (reading->indented)
        lds_sheet_go_on(reading, clean_name, clean);
    else
        lds_sheet_take(reading, clean_name, clean);
    reading->begun = true;
    free(clean);
    free(clean_name);
    return 1;
}

static enum lds_status read_lines(struct lds_sheet_reading *reading, const char *path, struct lds_error *error)
{
    if (strcmp(path, "-") != 0 && lds_is_stream(path)) /* "-" is a file of that name here */
        return lds_fail(error, LDS_BAD_USE, "%s: is a pipe or a device; a job reads its files twice: name a file",
                        path);
    enum lds_status opened = lds_text_file_open(path, "the job sheet",
                                                "name one that can be read, or make one with 'loadside job --new FILE'",
                                                &reading->file, error);
    if (opened)
        return opened;
    errno = 0;
    int line = ini_parse_stream(next_line, reading, take_key, reading);
    bool failed = ferror(reading->file) != 0;
    int why = errno;
    fclose(reading->file);
    close_line(reading);
    if (failed)
        return lds_fail(error, LDS_IO, "%s: the job sheet cannot be read: %s; name one that can", path, strerror(why));
    return line < 0 ? lds_fail_memory(error, "a job sheet") : LDS_OK;
}

static void begin(struct lds_sheet_reading *reading, struct lds_sheet *sheet)
{
    *reading = (struct lds_sheet_reading){.sheet = sheet, .section = LDS_SHEET_NOWHERE};
    *sheet = (struct lds_sheet){
        .power_tolerance_percent = 5.0, /* common practice, no source */
        .rating = {
            .power_w = NAN, .load_ohm = NAN, .distortion_percent = NAN, .low_hz = NAN, .high_hz = NAN, .held_s = NAN}};
}

/* All that is wrong in one run: what stops the job without these faults, too. */
static void look_too(struct lds_sheet_reading *reading)
{
    struct lds_look *look = lds_look_at(reading->sheet, &reading->faults);
    if (look)
        lds_repeats_check(reading->sheet, look, &reading->faults);
    free(look);
}

enum lds_status lds_sheet_read(const char *path, struct lds_sheet *sheet, struct lds_remarks *wrong,
                               struct lds_error *error)
{
    struct lds_sheet_reading reading;
    *wrong = (struct lds_remarks){0};
    begin(&reading, sheet);
    sheet->path = strdup(path);
    enum lds_status status = sheet->path ? read_lines(&reading, path, error) : lds_fail_memory(error, "a job sheet");
    if (!status)
        lds_sheet_whole(&reading);
    if (reading.faults.count > 0)
        look_too(&reading);
    sheet->limit = reading.limits.limit;
    sheet->limits = reading.limits.count;
    if (!status && !lds_faults_tell(&reading.faults, path, wrong))
        status = lds_fail_memory(error, "a job sheet");
    else if (!status && wrong->count > 0)
        status = lds_fail(error, LDS_BAD_INPUT, "%s: %zu fault%s found; a sheet without expected; mend %s", path,
                          wrong->count, wrong->count == 1 ? "" : "s", wrong->count == 1 ? "it" : "them");
    for (size_t i = 0; i < reading.stateds; i++) {
        free(reading.stated[i].name);
        free(reading.stated[i].value);
    }
    free(reading.stated);
    lds_faults_free(&reading.faults);
    return status;
}

static void free_capture(struct lds_sheet_capture *capture)
{
    free(capture->name);
    free(capture->file);
    free(capture->path);
    free(capture->note);
    free(capture->bench_file);
    lds_bench_free(&capture->bench);
}

void lds_sheet_free(struct lds_sheet *sheet)
{
    struct lds_limits limits = {sheet->limits, sheet->limit};
    char *const text[] = {sheet->path, sheet->bench_file, sheet->make, sheet->type, sheet->serial, sheet->client,
                          sheet->by,   sheet->place,      sheet->date, sheet->work, sheet->notes};
    for (size_t i = 0; i < sizeof text / sizeof *text; i++)
        free(text[i]);
    for (int i = 0; i <= LDS_CHANNELS_MAX; i++)
        free(sheet->channel_name[i]);
    for (size_t i = 0; i < sheet->parts; i++) {
        free(sheet->part[i].name);
        free(sheet->part[i].before);
        free(sheet->part[i].after);
    }
    free(sheet->part);
    for (size_t i = 0; i < sheet->captures; i++)
        free_capture(&sheet->capture[i]);
    free(sheet->capture);
    lds_limits_free(&limits);
    *sheet = (struct lds_sheet){0};
}
