#include "limits_file.h"

#include <errno.h>
#include <ini.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "say.h"

struct reading {
    const char *path;
    FILE *file;
    int line; /* being read */
    struct limits *limits;
    bool bad; /* the first trouble was said; the rest of the file is let pass */
};

static int trouble(struct reading *reading, const char *format, ...) __attribute__((format(printf, 2, 3)));

static int trouble(struct reading *reading, const char *format, ...)
{
    char message[600], subject[4200];
    va_list args;
    va_start(args, format);
    vsnprintf(message, sizeof message, format, args);
    va_end(args);
    snprintf(subject, sizeof subject, "%s:%d", reading->path, reading->line);
    say(subject, "%s", message);
    reading->bad = true;
    return 0;
}

static bool ends_with(const char *text, const char *end)
{
    size_t length = strlen(text), tail = strlen(end);
    return length >= tail && strcmp(text + length - tail, end) == 0;
}

/* The limit of a change is in dB, but of DC, which may be 0 and of either sign, in volts. */
static const char *change_unit(const struct lds_key *row)
{
    return strcmp(row->stem, "level.dc") == 0 ? "V" : "dB";
}

/* Units that a figure may be limited in, and what they are turned into. */
static bool parse_amount(const char *text, const struct lds_key *row, bool of_change, double *value, const char **unit)
{
    *unit = of_change ? change_unit(row) : row->unit;
    bool level = strcmp(row->unit, "V") == 0 || strcmp(row->unit, "W") == 0 || strcmp(row->unit, "V/√Hz") == 0;
    if (!of_change && level && ends_with(text, "dBFS")) {
        *unit = "dBFS";
    } else if (!of_change && strcmp(row->unit, "V") == 0 && ends_with(text, "dBV")) {
        bool good = lds_quantity_parse(text, "dBV", value);
        *value = pow(10.0, *value / 20.0);
        return good;
    } else if (!of_change && row->print == LDS_PRINT_RATIO && ends_with(text, "%")) {
        bool good = lds_quantity_parse(text, "%", value) && *value > 0.0;
        *value = 20.0 * log10(*value / 100.0);
        return good;
    }
    return lds_quantity_parse(text, *unit, value) ||
           (strcmp(*unit, "V/√Hz") == 0 && lds_quantity_parse(text, "V/rtHz", value));
}

/* What the value begins with. */
static const char *parse_kind(const char *text, enum lds_limit_kind *kind)
{
    static const struct {
        const char *words;
        enum lds_limit_kind kind;
    } kinds[] = {{"at most ", LDS_AT_MOST}, {"at least ", LDS_AT_LEAST}, {"change at most ", LDS_CHANGE_AT_MOST}};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (strncmp(text, kinds[i].words, strlen(kinds[i].words)) == 0) {
            *kind = kinds[i].kind;
            return text + strlen(kinds[i].words);
        }
    return NULL;
}

/* The key as results write it: its stem, and the band or frequency after it in the one way that keys have. */
static bool spelled_as_results(const struct lds_key *row, const char *key, char *wanted, size_t size)
{
    const char *suffix = key + strlen(row->stem);
    double low_hz, high_hz;
    char name[64];
    snprintf(wanted, size, "%s", key);
    if (*suffix != '.' || !lds_band_parse(suffix + 1, &low_hz, &high_hz))
        return true;
    lds_band_name(low_hz, high_hz, name, sizeof name);
    snprintf(wanted, size, "%s.%s", row->stem, name);
    return strcmp(wanted, key) == 0;
}

static int unknown_key(struct reading *reading, const char *key)
{
    size_t count;
    const struct lds_key *rows = lds_keys(&count);
    const char **names = calloc(count, sizeof *names);
    for (size_t i = 0; names && i < count; i++)
        names[i] = rows[i].stem;
    const char *near = names ? lds_nearest(key, names, count) : NULL;
    if (near)
        trouble(reading, "unknown key '%.64s'; the nearest is '%s'; the keys are those of the JSON report", key, near);
    else
        trouble(reading, "unknown key '%.64s'; the keys are those of the JSON report", key);
    free(names);
    return 0;
}

static int keep(struct reading *reading, const struct lds_limit *limit, const char *unit)
{
    struct limits *limits = reading->limits;
    for (size_t i = 0; i < limits->count; i++)
        if (limits->limit[i].kind == limit->kind && strcmp(limits->limit[i].key, limit->key) == 0)
            return trouble(reading,
                           "'%.64s' is limited so twice, first in line %d (an indented line continues the one "
                           "before); leave one out",
                           limit->key, limits->limit[i].line);
    struct lds_limit *more = realloc(limits->limit, (limits->count + 1) * sizeof *more);
    if (more)
        limits->limit = more;
    const char **units = realloc(limits->unit, (limits->count + 1) * sizeof *units);
    if (units)
        limits->unit = units;
    char *key = strdup(limit->key);
    if (!more || !units || !key) {
        free(key);
        return trouble(reading, "out of memory for a limit: close other programs");
    }
    more[limits->count] = *limit;
    more[limits->count].key = key;
    units[limits->count++] = unit;
    return 1;
}

static int take_key(void *context, const char *section, const char *name, const char *value)
{
    struct reading *reading = context;
    struct lds_limit limit = {.key = name, .line = reading->line};
    char wanted[160];
    enum lds_limit_kind kind;
    if (reading->bad)
        return 1;
    if (strcmp(section, "limits") != 0)
        return trouble(reading, "'%.64s' stands %s%.64s%s; all keys stand under [limits]", name,
                       *section ? "under [" : "before any section", section, *section ? "]" : "");
    const struct lds_key *row = lds_key_find(name);
    if (!row)
        return unknown_key(reading, name);
    if (!spelled_as_results(row, name, wanted, sizeof wanted))
        return trouble(reading, "unknown key '%.64s'; results write it '%s'", name, wanted);
    const char *amount = parse_kind(value, &kind), *unit;
    if (!amount)
        return trouble(reading, "%.64s is '%.64s'; 'at most', 'at least' or 'change at most' and a value expected",
                       name, value);
    if (!parse_amount(amount, row, kind == LDS_CHANGE_AT_MOST, &limit.value, &unit))
        return trouble(reading, "%.64s has '%.64s'; a number%s%s%s expected", name, amount, *unit ? " in " : "", unit,
                       kind != LDS_CHANGE_AT_MOST && row->print == LDS_PRINT_RATIO ? " or above 0 %" : "");
    if (kind == LDS_CHANGE_AT_MOST && limit.value < 0.0)
        return trouble(reading, "%.64s has '%.64s'; a change of at least 0 %s in either direction expected", name,
                       amount, unit);
    limit.kind = kind;
    return keep(reading, &limit, unit);
}

/* fgets for inih, which does not say in which line a key stands, and would take the rest of a line that is too long for
 * it as another. */
static char *next_line(char *text, int size, void *context)
{
    struct reading *reading = context;
    reading->line++;
    if (!fgets(text, size, reading->file))
        return NULL;
    size_t length = strlen(text);
    if (length + 1 < (size_t)size || text[length - 1] == '\n')
        return text;
    if (!reading->bad)
        trouble(reading, "is longer than %d characters: shorten it", size - 2);
    return NULL;
}

bool limits_read(const char *path, struct limits *limits)
{
    struct reading reading = {.path = path, .limits = limits};
    *limits = (struct limits){0};
    reading.file = fopen(path, "re");
    if (!reading.file) {
        say(path, "the limits file cannot be opened: %s; name one that can be read", strerror(errno));
        return false;
    }
    errno = 0;
    int line = ini_parse_stream(next_line, &reading, take_key, &reading);
    bool failed = ferror(reading.file) != 0;
    int reason = errno;
    fclose(reading.file);
    if (failed) {
        say(path, "the limits file cannot be read: %s; name one that can", strerror(reason));
    } else if (line != 0 && !reading.bad) {
        reading.line = line;
        trouble(&reading, "is neither a section nor 'key = at most VALUE'; see docs/limits-file.md");
    } else if (!reading.bad && limits->count == 0) {
        say(path, "no limit in this file; at least one under [limits] expected; see docs/limits-file.md");
    }
    return !failed && line == 0 && !reading.bad && limits->count > 0;
}

void limits_free(struct limits *limits)
{
    for (size_t i = 0; i < limits->count; i++)
        free((char *)(uintptr_t)limits->limit[i].key);
    free(limits->limit);
    free(limits->unit);
    *limits = (struct limits){0};
}

static const char *unit_of(const struct lds_channel *channel, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(channel, key);
    return figure ? figure->unit : NULL;
}

bool limits_check(const char *path, const struct limits *limits, const struct lds_measurement *measurement,
                  size_t count)
{
    for (size_t i = 0; i < limits->count; i++)
        for (size_t m = 0; m < count && limits->limit[i].kind != LDS_CHANGE_AT_MOST; m++)
            for (size_t c = 0; c < measurement[m].channels; c++) {
                const char *unit = unit_of(&measurement[m].channel[c], limits->limit[i].key);
                if (!unit || strcmp(unit, limits->unit[i]) == 0)
                    continue;
                char subject[4200];
                snprintf(subject, sizeof subject, "%s:%d", path, limits->limit[i].line);
                say(subject,
                    "a limit in %s found for %s, which %s has in %s; one unit for both expected; state the limit "
                    "in %s, or calibrate with --full-scale V",
                    limits->unit[i], limits->limit[i].key, measurement[m].file, unit, unit);
                return false;
            }
    return true;
}
