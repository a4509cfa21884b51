/* The lines of a job sheet. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bench_keys.h"
#include "fail.h"
#include "grow.h"
#include "ini_file.h"
#include "job/digest.h"
#include "job/look.h"
#include "job/roles.h"
#include "job/sheet.h"
#include "safe_text.h"

static bool add_capture(struct lds_sheet_reading *reading, const char *name)
{
    struct lds_sheet *sheet = reading->sheet;
    if (sheet->captures == LDS_SHEET_CAPTURES_MAX) {
        lds_fault(&reading->faults, reading->line, "more than %d captures found; make a sheet for each part of the job",
                  LDS_SHEET_CAPTURES_MAX);
        return false;
    }
    char *copy = lds_words_clean(name);
    struct lds_sheet_capture *one = copy ? lds_grow(&sheet->capture, &sheet->captures, sizeof *one) : NULL;
    if (!one) {
        free(copy);
        reading->faults.no_memory = true;
        return false;
    }
    *one = (struct lds_sheet_capture){.name = copy,
                                      .role = &lds_role_unknown,
                                      .power_w = NAN,
                                      .frequency_hz = NAN,
                                      .repeat = 1,
                                      .line = reading->line};
    lds_bench_init(&one->bench);
    return true;
}

static void begin_capture(struct lds_sheet_reading *reading, const char *name)
{
    const struct lds_sheet *sheet = reading->sheet;
    for (size_t i = 0; i < sheet->captures; i++)
        if (strcmp(sheet->capture[i].name, name) == 0)
            lds_fault(&reading->faults, reading->line,
                      "[capture %.64s] is in line %d already; give each capture a name of its own", name,
                      sheet->capture[i].line);
    if (!*name)
        lds_fault(&reading->faults, reading->line, "a capture without a name; as in [capture idle before]");
    reading->section = add_capture(reading, name) ? LDS_SHEET_CAPTURE : LDS_SHEET_NOWHERE;
}

/* Suggests a section by the first word: for "capturs idle" the nearest is "capture". */
static enum lds_status unknown_section(const char *word, struct lds_error *error)
{
    const char *names[LDS_SHEET_SECTIONS];
    for (int i = 0; i < LDS_SHEET_SECTIONS; i++)
        names[i] = lds_sheet_section_name((enum lds_sheet_section)i);
    return lds_ini_unknown("unknown section", word, names, LDS_SHEET_SECTIONS, "the sections are in docs/job-sheet.md",
                           error);
}

static enum lds_status begin_section(void *context, const struct lds_ini_place *at, bool closed,
                                     struct lds_error *error)
{
    struct lds_sheet_reading *reading = context;
    const char *name = at->section;
    char word[64]; /* its first */
    snprintf(word, sizeof word, "%.*s", (int)strcspn(name, " \t"), name);
    reading->line = reading->section_line = at->line;
    reading->section = LDS_SHEET_NOWHERE;
    if (!closed) /* the keys after it belong to whatever was meant */
        return LDS_OK;
    reading->text = NULL;
    for (int i = 0; i < LDS_SHEET_CAPTURE; i++) /* the sections without a name of their own */
        if (strcmp(name, lds_sheet_section_name((enum lds_sheet_section)i)) == 0)
            reading->section = (enum lds_sheet_section)i;
    reading->channel = lds_bench_section_channel(name);
    if (reading->channel > 0)
        reading->section = LDS_SHEET_BENCH;
    if (reading->section != LDS_SHEET_NOWHERE)
        return LDS_OK;
    const char *own = name + strlen(word) + strspn(name + strlen(word), " \t");
    if (strcmp(word, lds_sheet_section_name(LDS_SHEET_CAPTURE)) == 0)
        begin_capture(reading, own);
    else if (strcmp(word, lds_sheet_section_name(LDS_SHEET_EXPECT)) == 0)
        reading->section = lds_sheet_expect_begin(reading, own) ? LDS_SHEET_EXPECT : LDS_SHEET_NOWHERE;
    else
        return unknown_section(word, error);
    return LDS_OK;
}

static enum lds_status take_key(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                                struct lds_error *error)
{
    struct lds_sheet_reading *reading = context;
    char *clean = lds_words_clean(value), *clean_name = lds_words_clean(name);
    enum lds_status status = clean && clean_name ? LDS_OK : lds_fail_memory(error, "a job sheet");
    reading->line = at->line;
    if (!status && at->indented)
        lds_sheet_go_on(reading, clean_name, clean);
    else if (!status)
        lds_sheet_take(reading, clean_name, clean);
    free(clean);
    free(clean_name);
    return status;
}

static void take_fault(void *context, int line, const char *text)
{
    struct lds_sheet_reading *reading = context;
    lds_fault(&reading->faults, line, "%s", text);
}

static enum lds_status read_lines(struct lds_sheet_reading *reading, const char *path, struct lds_error *error)
{
    static const struct lds_ini_format format = {
        .what = "the job sheet",
        .name_one = "name one that can be read, or make one with 'loadside job --new FILE'",
        .form = "'key = value'; see docs/job-sheet.md",
        .shorten = "continue text in another, indented line; shorten anything else",
        .section = begin_section,
        .key = take_key,
        .fault = take_fault};
    if (strcmp(path, "-") != 0 && lds_is_stream(path)) /* "-" is a file name here */
        return lds_fail(error, LDS_BAD_USE, "%s: is a pipe or a device; a job reads its files twice: name a file",
                        path);
    return lds_ini_read(path, &format, reading, error);
}

static void begin(struct lds_sheet_reading *reading, struct lds_sheet *sheet)
{
    *reading = (struct lds_sheet_reading){.sheet = sheet, .section = LDS_SHEET_NOWHERE};
    *sheet = (struct lds_sheet){
        .supply_v = {NAN, NAN},
        .settle_band_v = NAN,
        .bias_ohm = NAN,
        .power_tolerance_percent = 5.0, /* common practice, no source */
        .rating = {
            .power_w = NAN, .load_ohm = NAN, .distortion_percent = NAN, .low_hz = NAN, .high_hz = NAN, .held_s = NAN}};
}

/* Adds the faults of the captures, so that one run reports everything that is wrong. */
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
        status = lds_fail(error, LDS_BAD_INPUT, "%s: %zu fault%s found; a sheet without expected; correct %s", path,
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
    free(capture->signal_file);
    free(capture->signal);
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
    for (size_t i = 0; i < sheet->expects; i++)
        lds_sheet_expect_free(&sheet->expect[i]);
    free(sheet->expect);
    for (size_t i = 0; i < sheet->captures; i++)
        free_capture(&sheet->capture[i]);
    free(sheet->capture);
    lds_limits_free(&limits);
    *sheet = (struct lds_sheet){0};
}
