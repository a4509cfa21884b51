/* Bench files and response curves. */
#include <errno.h>
#include <ini.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "capture/bench_keys.h"
#include "capture/lines.h"
#include "capture/text.h"
#include "fail.h"
#include "ini_line.h"
#include "loadside/quantity.h"
#include "text_file.h"

#define AT(member) offsetof(struct lds_bench, member)

static const struct lds_bench_key keys[] = {
    {"full_scale", LDS_BENCH_QUANTITY, "V", AT(full_scale_v), 0.0, 1e6, true, "not calibrated: figures in dBFS"},
    {"attenuation", LDS_BENCH_QUANTITY, "", AT(attenuation), 1.0, 1e6, false, "1"},
    {"load", LDS_BENCH_QUANTITY, "ohm", AT(load_ohm), 0.0, 1e6, true, "not stated: no watts"},
    {"dc_coupled", LDS_BENCH_YES_NO, "", AT(dc_coupled), 0, 0, false, "no"},
    {"offset", LDS_BENCH_QUANTITY, "V", AT(offset_v), 0.0, 1e3, false, "not stated"},
    {"low_corner", LDS_BENCH_QUANTITY, "Hz", AT(low_corner_hz), 0.0, 1e4, false, "0 Hz: none"},
    {"usable_to", LDS_BENCH_QUANTITY, "Hz", AT(usable_to_hz), 0.0, 10e6, true, "to the end of the capture"},
    {"clock_ppm", LDS_BENCH_QUANTITY, "ppm", AT(clock_ppm), 0.0, 1e5, false, "100 ppm"},
    {"calibration_percent", LDS_BENCH_QUANTITY, "%", AT(calibration_percent), 0.0, 50.0, false, "0 %: not stated"},
    {"load_percent", LDS_BENCH_QUANTITY, "%", AT(load_percent), 0.0, 50.0, false, "0 %: not stated"},
    {"mains", LDS_BENCH_QUANTITY, "Hz", AT(mains_hz), 10.0, 1000.0, false, "looked for from 45 to 65 Hz"},
    {"response", LDS_BENCH_RESPONSE, "", 0, 0, 0, false, "flat"},
    {"name", LDS_BENCH_TEXT, "", AT(name), 0, 0, false, "not stated"},
    {"repeat_level_db", LDS_BENCH_QUANTITY, "dB", AT(repeat_level_db), 0.0, 20.0, false, "0.03 dB"},
    {"repeat_noise_db", LDS_BENCH_QUANTITY, "dB", AT(repeat_noise_db), 0.0, 20.0, false, "0.1 dB"},
    {"repeat_distortion_db", LDS_BENCH_QUANTITY, "dB", AT(repeat_distortion_db), 0.0, 20.0, false, "0.2 dB"},
    {"repeat_mains_db", LDS_BENCH_QUANTITY, "dB", AT(repeat_mains_db), 0.0, 20.0, false, "1 dB"},
};
enum { KEYS = sizeof keys / sizeof *keys, POINTS_MAX = 100000 };

const struct lds_bench_key *lds_bench_keys(size_t *count)
{
    *count = KEYS;
    return keys;
}

const struct lds_bench_key *lds_bench_key_find(const char *name)
{
    for (size_t i = 0; i < KEYS; i++)
        if (strcmp(keys[i].name, name) == 0)
            return &keys[i];
    return NULL;
}

static enum lds_status set_quantity(struct lds_bench *bench, const struct lds_bench_key *key, const char *text,
                                    struct lds_error *error)
{
    double value;
    if (!lds_quantity_parse(text, key->unit, &value))
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; a number%s%s was expected", key->name, text,
                        *key->unit ? " in " : "", key->unit);
    bool in_range = (key->above_low ? value > key->low : value >= key->low) && value <= key->high;
    if (!in_range)
        return lds_fail(error, LDS_BAD_USE, "%s is %.9g%s%s; %s %.9g and at most %.9g was expected", key->name, value,
                        *key->unit ? " " : "", key->unit, key->above_low ? "more than" : "at least", key->low,
                        key->high);
    memcpy((char *)bench + key->offset, &value, sizeof value);
    return LDS_OK;
}

static enum lds_status set_yes_no(struct lds_bench *bench, const struct lds_bench_key *key, const char *text,
                                  struct lds_error *error)
{
    bool yes = !strcasecmp(text, "yes") || !strcasecmp(text, "true");
    if (!yes && strcasecmp(text, "no") != 0 && strcasecmp(text, "false") != 0)
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; yes or no was expected", key->name, text);
    memcpy((char *)bench + key->offset, &yes, sizeof yes);
    return LDS_OK;
}

static enum lds_status set_text(struct lds_bench *bench, const struct lds_bench_key *key, const char *text,
                                struct lds_error *error)
{
    char *copy = strdup(text), *old;
    if (!copy)
        return lds_fail_memory(error, "a bench");
    memcpy(&old, (char *)bench + key->offset, sizeof old);
    free(old);
    memcpy((char *)bench + key->offset, &copy, sizeof copy);
    return LDS_OK;
}

static enum lds_status set_response(struct lds_bench *bench, const char *text, const char *path,
                                    struct lds_error *error)
{
    char response[4096];
    const char *slash = strrchr(path, '/');
    int folder = slash && text[0] != '/' ? (int)(slash + 1 - path) : 0;
    int length = snprintf(response, sizeof response, "%.*s%s", folder, path, text);
    if (length <= 0 || (size_t)length >= sizeof response || !*text)
        return lds_fail(error, LDS_BAD_USE, "response is '%.64s'; the path of a CSV of Hz, dB was expected", text);
    return lds_bench_load_response(bench, response, error);
}

enum lds_status lds_bench_key_set(struct lds_bench *bench, const struct lds_bench_key *key, const char *value,
                                  const char *path, struct lds_error *error)
{
    switch (key->kind) {
    case LDS_BENCH_QUANTITY:
        return set_quantity(bench, key, value, error);
    case LDS_BENCH_YES_NO:
        return set_yes_no(bench, key, value, error);
    case LDS_BENCH_TEXT:
        return set_text(bench, key, value, error);
    case LDS_BENCH_RESPONSE:
        return set_response(bench, value, path, error);
    }
    return LDS_BAD_USE;
}

struct reading {
    struct lds_bench *bench;
    const char *path;
    FILE *file;
    int line; /* being read */
    bool seen[KEYS];
    int trouble_line;         /* of the first trouble; the rest of the file is then let pass */
    struct lds_error trouble; /* without path and line */
};

static int in_trouble(struct reading *reading)
{
    reading->trouble_line = reading->line;
    return 0; /* tells inih that this line is the bad one */
}

static enum lds_status unknown_key(const char *name, struct lds_error *error)
{
    const char *names[KEYS];
    for (size_t i = 0; i < KEYS; i++)
        names[i] = keys[i].name;
    const char *near = lds_nearest(name, names, KEYS);
    if (near)
        return lds_fail(error, LDS_BAD_USE, "unknown key '%.64s': is '%s' meant?", name, near);
    return lds_fail(error, LDS_BAD_USE, "unknown key '%.64s'; the keys are in docs/bench-file.md", name);
}

static enum lds_status take(struct reading *reading, const char *section, const char *name, const char *value)
{
    struct lds_error *error = &reading->trouble;
    if (strcmp(section, "bench") != 0)
        return lds_fail(error, LDS_BAD_USE, "'%.64s' stands %s%.64s%s; all keys stand under [bench]", name,
                        *section ? "under [" : "before any section", section, *section ? "]" : "");
    const struct lds_bench_key *key = lds_bench_key_find(name);
    if (!key)
        return unknown_key(name, error);
    if (reading->seen[key - keys])
        return lds_fail(error, LDS_BAD_USE, "%s is stated twice (an indented line continues the one before)", name);
    reading->seen[key - keys] = true;
    return lds_bench_key_set(reading->bench, key, value, reading->path, error);
}

static int take_key(void *context, const char *section, const char *name, const char *value)
{
    struct reading *reading = context;
    if (reading->trouble.status)
        return 1;
    return take(reading, section, name, value) ? in_trouble(reading) : 1;
}

/* For inih, which does not say in which line a key stands. */
static char *next_line(char *text, int size, void *context)
{
    struct reading *reading = context;
    reading->line++;
    enum lds_ini_line got = lds_ini_line_read(text, size, reading->file);
    if (got == LDS_INI_LINE)
        return text;
    if (got == LDS_INI_TOO_LONG && !reading->trouble.status) {
        lds_fail(&reading->trouble, LDS_BAD_USE, "is longer than %d characters: shorten it", size - 2);
        in_trouble(reading);
    }
    return NULL;
}

/* Reads the file into reading->bench, which the caller throws away on error. */
static enum lds_status read_keys(struct reading *reading, struct lds_error *error)
{
    enum lds_status opened =
        lds_text_file_open(reading->path, "the bench file", "name one that can be read", &reading->file, error);
    if (opened)
        return opened;
    errno = 0;
    int line = ini_parse_stream(next_line, reading, take_key, reading);
    bool failed = ferror(reading->file) != 0;
    int why = errno;
    fclose(reading->file);
    if (failed)
        return lds_fail(error, LDS_IO, "%s: the bench file cannot be read: %s", reading->path, strerror(why));
    if (line < 0)
        return lds_fail_memory(error, "a bench file");
    bool malformed = line > 0 && (!reading->trouble.status || line < reading->trouble_line);
    if (malformed)
        return lds_fail(error, LDS_BAD_USE, "%s:%d: is neither a section nor 'key = value'; see docs/bench-file.md",
                        reading->path, line);
    if (reading->trouble.status)
        return lds_fail(error, reading->trouble.status, "%s:%d: %.600s", reading->path, reading->trouble_line,
                        reading->trouble.message);
    return LDS_OK;
}

enum lds_status lds_bench_load(struct lds_bench *bench, const char *path, struct lds_error *error)
{
    struct lds_bench copy;
    struct reading *reading = calloc(1, sizeof *reading);
    if (!reading)
        return lds_fail_memory(error, "a bench file");
    enum lds_status status = lds_bench_copy(&copy, bench, error);
    if (!status) {
        reading->bench = &copy;
        reading->path = path;
        status = read_keys(reading, error);
        if (status) {
            lds_bench_free(&copy);
        } else {
            lds_bench_free(bench);
            *bench = copy;
        }
    }
    free(reading);
    return status;
}

struct curve {
    double *hz, *db;
    size_t points, room;
};

static bool add_point(struct curve *curve, double hz, double db)
{
    if (curve->points == curve->room) {
        size_t room = curve->room ? 2 * curve->room : 64;
        double *more_hz = realloc(curve->hz, room * sizeof *more_hz);
        if (more_hz)
            curve->hz = more_hz;
        double *more_db = realloc(curve->db, room * sizeof *more_db);
        if (more_db)
            curve->db = more_db;
        if (!more_hz || !more_db)
            return false;
        curve->room = room;
    }
    curve->hz[curve->points] = hz;
    curve->db[curve->points++] = db;
    return true;
}

static enum lds_status read_curve(struct lds_line_reader *lines, const char *path, struct curve *curve,
                                  struct lds_error *error)
{
    struct lds_cell cell[LDS_CELLS_MAX];
    char *line;
    while ((line = lds_lines_next(lines))) {
        int cells = 0;
        bool row = lds_row_separator(line, cell, &cells) && cells == 2;
        if (!row && (curve->points == 0 || line[strspn(line, " \t")] == '\0'))
            continue; /* a header, or an empty line */
        if (!row || !isfinite(cell[0].value) || !isfinite(cell[1].value))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64 ": is not a row of Hz, dB; two numbers, with decimal points where a comma is "
                            "between them, were expected",
                            path, lines->number);
        double hz = cell[0].value, db = cell[1].value;
        if (!(hz > (curve->points ? curve->hz[curve->points - 1] : 0.0)))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64 ": %.9g Hz does not rise; frequencies above 0 in rising order "
                            "were expected",
                            path, lines->number, hz);
        if (fabs(db) > 200.0)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64 ": %.9g dB is no gain of a capture chain; within 200 dB was "
                            "expected",
                            path, lines->number, db);
        if (curve->points == POINTS_MAX)
            return lds_fail(error, LDS_BAD_INPUT, "%s: holds more than %d points: thin it out", path, POINTS_MAX);
        if (!add_point(curve, hz, db))
            return lds_fail_memory(error, "a response curve");
    }
    if (lines->failed)
        return lds_fail(error, LDS_IO, "%s: the response cannot be read: %s", path, strerror(errno));
    if (lines->too_long || curve->points < 2)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: holds no response; at least two rows of Hz, dB, with decimal points where a comma is "
                        "between them, were expected",
                        path);
    return LDS_OK;
}

enum lds_status lds_bench_load_response(struct lds_bench *bench, const char *path, struct lds_error *error)
{
    FILE *file;
    enum lds_status status = lds_text_file_open(path, "the response", "name a CSV of Hz, dB", &file, error);
    if (status)
        return status;
    struct lds_line_reader *lines = malloc(sizeof *lines);
    struct curve curve = {0};
    if (!lines) {
        status = lds_fail_memory(error, "a response curve");
    } else {
        lds_lines_start(lines, fileno(file));
        (void)lseek(fileno(file), 0, SEEK_SET); /* the stream may have read ahead */
        status = read_curve(lines, path, &curve, error);
    }
    fclose(file);
    free(lines);
    if (status) {
        free(curve.hz);
        free(curve.db);
        return status;
    }
    free(bench->response_hz);
    free(bench->response_db);
    bench->response_hz = curve.hz;
    bench->response_db = curve.db;
    bench->response_points = curve.points;
    return LDS_OK;
}
