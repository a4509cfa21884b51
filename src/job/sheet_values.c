/* Keys and values of a job sheet. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bench_keys.h"
#include "grow.h"
#include "job/sheet.h"
#include "loadside/quantity.h"

const struct lds_stated *lds_sheet_stated(const struct lds_sheet_reading *reading, int section_line, const char *name)
{
    for (size_t i = reading->stateds; i-- > 0 && reading->stated[i].section_line >= section_line;)
        if (reading->stated[i].section_line == section_line && strcmp(reading->stated[i].name, name) == 0)
            return &reading->stated[i];
    return NULL;
}

/* Remembers that the key was stated. value: to be taken later, or NULL. */
static void remember(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    struct lds_stated one = {.section = reading->section,
                             .section_line = reading->section_line,
                             .channel = reading->channel,
                             .name = strdup(name),
                             .value = value ? strdup(value) : NULL,
                             .line = reading->line};
    struct lds_stated *kept =
        one.name && (!value || one.value) ? lds_grow(&reading->stated, &reading->stateds, sizeof *kept) : NULL;
    if (kept) {
        *kept = one;
        return;
    }
    free(one.name);
    free(one.value);
    reading->faults.no_memory = true;
}

/* A fault of this line, or memory that ran out. */
static void note(struct lds_sheet_reading *reading, const struct lds_error *error)
{
    if (error->status == LDS_NO_MEMORY)
        reading->faults.no_memory = true;
    else if (error->status)
        lds_fault(&reading->faults, reading->line, "%s", error->message);
}

static void unknown_key(struct lds_sheet_reading *reading, const char *name)
{
    const char *names[64];
    char what[64];
    size_t count, all = 0, bench;
    struct lds_error error = {0};
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    const struct lds_ini_key *bench_keys = lds_bench_keys(&bench);
    for (size_t i = 0; i < count; i++)
        if (keys[i].section == reading->section && reading->channel == 0)
            names[all++] = keys[i].is.name;
    for (size_t i = 0; reading->section == LDS_SHEET_BENCH && i < bench && all < sizeof names / sizeof *names; i++)
        names[all++] = bench_keys[i].name;
    if (reading->channel > 0)
        snprintf(what, sizeof what, "unknown key in [channel %d]:", reading->channel);
    else
        snprintf(what, sizeof what, "unknown key in [%s]:", lds_sheet_section_name(reading->section));
    lds_ini_unknown(what, name, names, all, "the keys are in docs/job-sheet.md", &error);
    note(reading, &error);
}

/* "channel 2": the channel number, 0 for any other key. */
static int channel_of(const char *name)
{
    static const char word[] = "channel ";
    double number;
    if (strncmp(name, word, strlen(word)) != 0 || !lds_quantity_parse(name + strlen(word), "", &number) ||
        number != floor(number) || number < 1 || number > LDS_CHANNELS_MAX)
        return 0;
    return (int)number;
}

/* base: the sheet or the capture to which the key's offset applies. */
static void set(struct lds_sheet_reading *reading, const struct lds_ini_key *key, char *base, const char *name,
                const char *value)
{
    struct lds_error error = {0};
    struct lds_ini_key own = *key;
    if (key->kind == LDS_INI_OWN) { /* the name of a channel */
        own.kind = LDS_INI_TEXT;
        own.offset += (size_t)channel_of(name) * sizeof(char *);
    }
    if (key->kind == LDS_INI_LINES)
        reading->text = (char **)(void *)(base + key->offset);
    lds_ini_set(&own, base, value, &error);
    note(reading, &error);
}

static void take_known(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    size_t count;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    struct lds_sheet *sheet = reading->sheet;
    char *base = reading->section == LDS_SHEET_CAPTURE  ? (char *)&sheet->capture[sheet->captures - 1]
                 : reading->section == LDS_SHEET_EXPECT ? (char *)&sheet->expect[sheet->expects - 1]
                                                        : (char *)sheet;
    for (size_t i = 0; i < count && reading->channel == 0; i++) {
        const struct lds_ini_key *key = &keys[i].is;
        bool meant = key->kind == LDS_INI_OWN ? channel_of(name) > 0 : strcmp(key->name, name) == 0;
        if (keys[i].section != reading->section || !meant)
            continue;
        remember(reading, name, *value ? NULL : "");
        if (*value || key->kind == LDS_INI_LINES)
            set(reading, key, base, name, value);
        return;
    }
    if (reading->section != LDS_SHEET_BENCH || !lds_bench_key_find(name))
        unknown_key(reading, name);
    else
        remember(reading, name, value); /* until the bench file that it overrides is known */
}

const char *lds_sheet_arrow(const char *value, size_t *before)
{
    const char *arrow = strstr(value, "->"), *after;
    after = arrow ? arrow + strlen("->") : NULL;
    if (!arrow && (arrow = strstr(value, "→")) != NULL)
        after = arrow + strlen("→");
    if (!arrow)
        return NULL;
    *before = (size_t)(arrow - value);
    while (*before > 0 && isspace((unsigned char)value[*before - 1]))
        (*before)--;
    return after + strspn(after, " \t");
}

static void take_part(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    struct lds_sheet *sheet = reading->sheet;
    size_t before = 0;
    const char *after = lds_sheet_arrow(value, &before);
    if (!after) {
        lds_fault(&reading->faults, reading->line,
                  "%.64s is '%.64s'; what was fitted before and after was expected, as in 10 uF -> 22 uF", name, value);
        return;
    }
    struct lds_part *part = lds_grow(&sheet->part, &sheet->parts, sizeof *part);
    if (part) {
        *part = (struct lds_part){strdup(name), before > 0 ? strndup(value, before) : strdup("not fitted"),
                                  strdup(*after ? after : "not fitted")};
        if (part->name && part->before && part->after)
            return;
    }
    reading->faults.no_memory = true;
}

void lds_sheet_take(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    struct lds_error error = {0};
    reading->text = NULL;
    if (reading->section == LDS_SHEET_NOWHERE) {
        if (reading->section_line == 0)
            lds_fault(&reading->faults, reading->line, "'%.64s' stands before any section; put [unit] or another first",
                      name);
        return; /* else the section was reported */
    }
    const struct lds_stated *stated = lds_sheet_stated(reading, reading->section_line, name);
    if (stated && reading->section != LDS_SHEET_LIMITS) {
        lds_fault(&reading->faults, reading->line, "%.64s is stated in line %d already; leave one out", name,
                  stated->line);
        return;
    }
    if (reading->section == LDS_SHEET_PARTS) {
        remember(reading, name, NULL);
        if (*value)
            take_part(reading, name, value);
    } else if (reading->section == LDS_SHEET_LIMITS) {
        if (*value)
            lds_limits_add(&reading->limits, name, value, reading->line, &error);
        note(reading, &error);
    } else {
        take_known(reading, name, value);
    }
}

void lds_sheet_go_on(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    if (reading->section == LDS_SHEET_NOWHERE)
        return;
    if (!reading->text) {
        lds_fault(&reading->faults, reading->line,
                  "an indented line continues the key before it, and %.64s is not text that may; begin it at the "
                  "line's beginning",
                  name);
        return;
    }
    char *joined = NULL, *before = *reading->text;
    if (asprintf(&joined, "%s%s%s", before ? before : "", before && *before ? "\n" : "", value) < 0) {
        reading->faults.no_memory = true;
        return;
    }
    free(before);
    *reading->text = joined;
}
