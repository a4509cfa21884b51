/* The limits file: limits for figures (docs/limits-file.md). */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/reading.h"
#include "fail.h"
#include "grow.h"
#include "ini_file.h"
#include "loadside/compare.h"
#include "loadside/quantity.h"
#include "record/record.h"

static bool ends_with(const char *text, const char *end)
{
    size_t length = strlen(text), tail = strlen(end);
    return length >= tail && strcmp(text + length - tail, end) == 0;
}

/* The units in which a figure may be limited, and their conversion. */
static bool parse_amount(const char *text, const struct lds_key *row, bool of_change, double *value, const char **unit)
{
    enum lds_scale scale = lds_scale_of(row, row->unit);
    bool level = strcmp(lds_key_unit(row, false), "dBFS") == 0;
    *unit = !of_change ? row->unit : scale == LDS_SCALE_OWN ? "dB" : lds_scale_unit(scale, row->unit);
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

/* Reads the beginning of the value. */
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

/* The key as written in results: its stem, and the band or frequency after it in its standard form. */
static bool spelled_as_results(const struct lds_key *row, const char *key, char *wanted, size_t size)
{
    struct lds_figure_name name = lds_key_read(key);
    char detail[96];
    lds_figure_detail(&name, detail, sizeof detail);
    snprintf(wanted, size, "%s.%s", row->stem, detail);
    return !(name.asked_hz[0] < name.asked_hz[1]) || strcmp(wanted, key) == 0;
}

static enum lds_status unknown_key(const char *key, struct lds_error *error)
{
    size_t count;
    const struct lds_key *rows = lds_keys(&count);
    const char **names = calloc(count, sizeof *names);
    for (size_t i = 0; names && i < count; i++)
        names[i] = rows[i].stem;
    const char *near = names ? lds_nearest(key, names, count) : NULL;
    free(names);
    if (near)
        return lds_fail(error, LDS_BAD_USE,
                        "unknown key '%.64s'; the nearest is '%s'; the keys are those of the JSON report", key, near);
    return lds_fail(error, LDS_BAD_USE, "unknown key '%.64s'; the keys are those of the JSON report", key);
}

static enum lds_status keep(struct lds_limits *limits, const struct lds_limit *limit, struct lds_error *error)
{
    for (size_t i = 0; i < limits->count; i++)
        if (limits->limit[i].kind == limit->kind && strcmp(limits->limit[i].key, limit->key) == 0)
            return lds_fail(error, LDS_BAD_USE,
                            "'%.64s' has this limit twice, first in line %d (an indented line continues the one "
                            "before); leave one out",
                            limit->key, limits->limit[i].line);
    char *key = strdup(limit->key);
    struct lds_limit *kept = key ? lds_grow(&limits->limit, &limits->count, sizeof *kept) : NULL;
    if (!kept) {
        free(key);
        return lds_fail_memory(error, "a limit");
    }
    *kept = *limit;
    kept->key = key;
    return LDS_OK;
}

enum lds_status lds_limits_add(struct lds_limits *limits, const char *key, const char *value, int line,
                               struct lds_error *error)
{
    struct lds_limit limit = {.key = key, .line = line};
    char wanted[160];
    const struct lds_key *row = lds_key_find(key);
    if (!row)
        return unknown_key(key, error);
    if (!spelled_as_results(row, key, wanted, sizeof wanted))
        return lds_fail(error, LDS_BAD_USE, "unknown key '%.64s'; results write it '%s'", key, wanted);
    const char *amount = parse_kind(value, &limit.kind);
    if (!amount)
        return lds_fail(error, LDS_BAD_USE,
                        "%.64s is '%.64s'; 'at most', 'at least' or 'change at most' and a value expected", key, value);
    bool of_change = limit.kind == LDS_CHANGE_AT_MOST;
    if (!parse_amount(amount, row, of_change, &limit.value, &limit.unit))
        return lds_fail(error, LDS_BAD_USE, "%.64s has '%.64s'; a number%s%s%s expected", key, amount,
                        *limit.unit ? " in " : "", limit.unit,
                        !of_change && row->print == LDS_PRINT_RATIO ? " or above 0 %" : "");
    if (of_change && limit.value < 0.0)
        return lds_fail(error, LDS_BAD_USE, "%.64s has '%.64s'; a change of at least 0 %s in either direction expected",
                        key, amount, limit.unit);
    return keep(limits, &limit, error);
}

/* ---- the file ---- */

static enum lds_status take_key(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                                struct lds_error *error)
{
    enum lds_status status = lds_ini_under(at, "limits", name, error);
    return status ? status : lds_limits_add(context, name, value, at->line, error);
}

enum lds_status lds_limits_read(const char *path, struct lds_limits *limits, struct lds_error *error)
{
    static const struct lds_ini_format format = {.what = "the limits file",
                                                 .name_one = "name one that can be read",
                                                 .form = "'key = at most VALUE'; see docs/limits-file.md",
                                                 .shorten = "shorten it",
                                                 .key = take_key};
    *limits = (struct lds_limits){0};
    enum lds_status status = lds_ini_read(path, &format, limits, error);
    if (!status && limits->count == 0)
        status =
            lds_fail(error, LDS_BAD_USE,
                     "%s: no limit in this file; at least one under [limits] expected; see docs/limits-file.md", path);
    if (status)
        lds_limits_free(limits);
    return status;
}

void lds_limits_free(struct lds_limits *limits)
{
    for (size_t i = 0; i < limits->count; i++)
        free((char *)(uintptr_t)limits->limit[i].key);
    free(limits->limit);
    *limits = (struct lds_limits){0};
}

/* ---- units ---- */

static enum lds_status check_unit(const char *path, const struct lds_limit *limit, const char *file,
                                  const struct lds_figure *figure, struct lds_error *error)
{
    if (!figure || limit->kind == LDS_CHANGE_AT_MOST || !limit->unit || strcmp(figure->unit, limit->unit) == 0)
        return LDS_OK;
    return lds_fail(
        error, LDS_BAD_USE,
        "%s:%d: a limit in %s found for %s, which %s has in %s; one unit for both expected; state the limit "
        "in %s, or calibrate with --full-scale V",
        path, limit->line, limit->unit, limit->key, file, figure->unit, figure->unit);
}

enum lds_status lds_limits_check(const struct lds_limits *limits, const char *path,
                                 const struct lds_measurement *measurement, size_t count, struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; i < limits->count; i++)
        for (size_t m = 0; m < count; m++)
            for (size_t c = 0; !status && c < measurement[m].channels; c++)
                status = check_unit(path, &limits->limit[i], measurement[m].file,
                                    lds_channel_figure(&measurement[m].channel[c], limits->limit[i].key), error);
    return status;
}
