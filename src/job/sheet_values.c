/* Keys and values of a job sheet. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bench_keys.h"
#include "job/sheet.h"
#include "loadside/quantity.h"

const struct lds_stated *lds_sheet_stated(const struct lds_sheet_reading *reading, int section_line, const char *name)
{
    for (size_t i = reading->stateds; i-- > 0 && reading->stated[i].section_line >= section_line;)
        if (reading->stated[i].section_line == section_line && strcmp(reading->stated[i].name, name) == 0)
            return &reading->stated[i];
    return NULL;
}

/* Remembers that the key was stated. value: what is to be taken later, or NULL. */
static void remember(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    struct lds_stated *grown = realloc(reading->stated, (reading->stateds + 1) * sizeof *grown);
    struct lds_stated one = {reading->section, reading->section_line, strdup(name), value ? strdup(value) : NULL,
                             reading->line};
    if (grown)
        reading->stated = grown;
    if (!grown || !one.name || (value && !one.value)) {
        free(one.name);
        free(one.value);
        reading->faults.no_memory = true;
        return;
    }
    grown[reading->stateds++] = one;
}

static void unknown_key(struct lds_sheet_reading *reading, const char *name)
{
    const char *names[64];
    size_t count, all = 0, bench;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    const struct lds_bench_key *bench_keys = lds_bench_keys(&bench);
    for (size_t i = 0; i < count; i++)
        if (keys[i].section == reading->section)
            names[all++] = keys[i].name;
    for (size_t i = 0; reading->section == LDS_SHEET_BENCH && i < bench && all < sizeof names / sizeof *names; i++)
        names[all++] = bench_keys[i].name;
    char *text = lds_fault_nearest(name, names, all, "the keys are in docs/job-sheet.md");
    lds_fault(&reading->faults, reading->line, "unknown key in [%s]: %s", lds_sheet_section_name(reading->section),
              text ? text : name);
    free(text);
}

static void set_text(struct lds_sheet_reading *reading, char **place, const char *value)
{
    free(*place);
    *place = strdup(value);
    if (!*place)
        reading->faults.no_memory = true;
}

static bool is_date(const char *text)
{
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    static const char form[] = "dddd-dd-dd";
    if (strlen(text) != strlen(form))
        return false;
    for (size_t i = 0; form[i]; i++)
        if (form[i] == 'd' ? !isdigit((unsigned char)text[i]) : text[i] != form[i])
            return false;
    int year = atoi(text), month = atoi(text + 5), day = atoi(text + 8);
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] - (month == 2 && !leap);
}

static void set_quantity(struct lds_sheet_reading *reading, const struct lds_sheet_key *key, double *place,
                         const char *value)
{
    double number, minutes;
    if (strcmp(key->unit, "s") == 0 && lds_quantity_parse(value, "min", &minutes))
        number = 60.0 * minutes;
    else if (!lds_quantity_parse(value, key->unit, &number)) {
        lds_fault(&reading->faults, reading->line, "%s is '%.64s'; a number%s%s was expected", key->name, value,
                  *key->unit ? " in " : "", key->unit);
        return;
    }
    if ((key->above_low ? number > key->low : number >= key->low) && number <= key->high)
        *place = number;
    else
        lds_fault(&reading->faults, reading->line, "%s is %.9g%s%s; %s %.9g and at most %.9g was expected", key->name,
                  number, *key->unit ? " " : "", key->unit, key->above_low ? "more than" : "at least", key->low,
                  key->high);
}

static void set_whole(struct lds_sheet_reading *reading, const struct lds_sheet_key *key, int *place, const char *value)
{
    double number;
    if (lds_quantity_parse(value, "", &number) && number == floor(number) && number >= key->low && number <= key->high)
        *place = (int)number;
    else
        lds_fault(&reading->faults, reading->line, "%s is '%.64s'; a whole number from %.0f to %.0f was expected",
                  key->name, value, key->low, key->high);
}

/* The word's place in the list, or -1 after a fault. */
static int word_of(struct lds_sheet_reading *reading, const char *name, const char *value, const char *const *words,
                   int count, const char *expected)
{
    for (int i = 0; i < count; i++)
        if (strcmp(value, words[i]) == 0)
            return i;
    char *text = lds_fault_nearest(value, words, (size_t)count, expected);
    lds_fault(&reading->faults, reading->line, "%s is %s", name, text ? text : value);
    free(text);
    return -1;
}

static void set_role(struct lds_sheet_reading *reading, struct lds_sheet_capture *capture, const char *value)
{
    const char *words[] = {lds_role_name(LDS_ROLE_IDLE), lds_role_name(LDS_ROLE_SINE), lds_role_name(LDS_ROLE_CHAIN)};
    int word = word_of(reading, "role", value, words, 3, "idle, sine or chain was expected");
    if (word >= 0)
        capture->role = (enum lds_role)word;
}

static void set_when(struct lds_sheet_reading *reading, struct lds_sheet_capture *capture, const char *value)
{
    const char *words[] = {lds_when_name(LDS_WHEN_BEFORE), lds_when_name(LDS_WHEN_AFTER)};
    int word = word_of(reading, "side", value, words, 2, "before or after was expected");
    if (word >= 0)
        capture->when = word == 0 ? LDS_WHEN_BEFORE : LDS_WHEN_AFTER;
}

/* "channel 2": which one, 0 when the key is none. */
static int channel_of(const char *name)
{
    static const char word[] = "channel ";
    double number;
    if (strncmp(name, word, strlen(word)) != 0 || !lds_quantity_parse(name + strlen(word), "", &number) ||
        number != floor(number) || number < 1 || number > LDS_CHANNELS_MAX)
        return 0;
    return (int)number;
}

/* base: the sheet or the capture that the key's offset counts from. */
static void set(struct lds_sheet_reading *reading, const struct lds_sheet_key *key, void *base, const char *name,
                const char *value)
{
    void *place = (char *)base + key->offset;
    switch (key->kind) {
    case LDS_SHEET_LINES:
        reading->text = place;
        set_text(reading, place, value);
        return;
    case LDS_SHEET_DATE:
        if (!is_date(value)) {
            lds_fault(&reading->faults, reading->line, "date is '%.64s'; year-month-day was expected, as in 2026-05-17",
                      value);
            return;
        }
        set_text(reading, place, value);
        return;
    case LDS_SHEET_TEXT:
        set_text(reading, place, value);
        return;
    case LDS_SHEET_QUANTITY:
        set_quantity(reading, key, place, value);
        return;
    case LDS_SHEET_WHOLE:
        set_whole(reading, key, place, value);
        return;
    case LDS_SHEET_RANGE:
        if (!lds_band_parse(value, (double *)place, (double *)place + 1))
            lds_fault(&reading->faults, reading->line,
                      "%s is '%.64s'; two frequencies were expected, as in 20 Hz - 20 kHz", name, value);
        return;
    case LDS_SHEET_ROLE:
        set_role(reading, base, value);
        return;
    case LDS_SHEET_WHEN:
        set_when(reading, base, value);
        return;
    case LDS_SHEET_CHANNEL_NAME:
        set_text(reading, (char **)place + channel_of(name), value);
        return;
    }
}

static void take_known(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    size_t count;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    struct lds_sheet *sheet = reading->sheet;
    void *base = reading->section == LDS_SHEET_CAPTURE ? (void *)&sheet->capture[sheet->captures - 1] : (void *)sheet;
    for (size_t i = 0; i < count; i++) {
        bool meant = keys[i].kind == LDS_SHEET_CHANNEL_NAME ? channel_of(name) > 0 : strcmp(keys[i].name, name) == 0;
        if (keys[i].section != reading->section || !meant)
            continue;
        remember(reading, name, NULL);
        if (*value || keys[i].kind == LDS_SHEET_LINES)
            set(reading, &keys[i], base, name, value);
        return;
    }
    if (reading->section != LDS_SHEET_BENCH || !lds_bench_key_find(name))
        unknown_key(reading, name);
    else
        remember(reading, name, value); /* until the bench file is known that it counts over */
}

/* "10 uF -> 22 uF" (or a real arrow) into what stands before and after it. */
static void take_part(struct lds_sheet_reading *reading, const char *name, const char *value)
{
    struct lds_sheet *sheet = reading->sheet;
    const char *arrow = strstr(value, "->"), *after;
    after = arrow ? arrow + strlen("->") : NULL;
    if (!arrow && (arrow = strstr(value, "→")) != NULL)
        after = arrow + strlen("→");
    if (!arrow) {
        lds_fault(&reading->faults, reading->line,
                  "%.64s is '%.64s'; what was fitted before and after was expected, as in 10 uF -> 22 uF", name, value);
        return;
    }
    size_t before = (size_t)(arrow - value);
    while (before > 0 && isspace((unsigned char)value[before - 1]))
        before--;
    after += strspn(after, " \t");
    struct lds_part *grown = realloc(sheet->part, (sheet->parts + 1) * sizeof *grown);
    if (grown) {
        sheet->part = grown;
        struct lds_part *part = &grown[sheet->parts++];
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
        return; /* else the section was told */
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
        if (*value && lds_limits_add(&reading->limits, name, value, reading->line, &error))
            lds_fault(&reading->faults, reading->line, "%s", error.message);
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
                  "an indented line goes on with the key before it, and %.64s is not text that may; begin it at the "
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
