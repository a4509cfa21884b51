/* Bench files and response curves. */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/bench_keys.h"
#include "capture/text.h"
#include "fail.h"
#include "grow.h"
#include "ini_file.h"
#include "loadside/capture.h"
#include "text_file.h"

#define AT(member) offsetof(struct lds_bench, member)

static const struct lds_ini_key keys[] = {
    {"full_scale", LDS_INI_QUANTITY, "V", AT(full_scale_v), 0.0, 1e6, true,
     .fallback = "not calibrated: figures in dBFS"},
    {"attenuation", LDS_INI_QUANTITY, "", AT(attenuation), 1.0, 1e6, false, .fallback = "1"},
    {"load", LDS_INI_QUANTITY, "ohm", AT(load_ohm), 0.0, 1e6, true, .fallback = "not stated: no watts"},
    {"dc_coupled", LDS_INI_YES_NO, "", AT(dc_coupled), 0, 0, false, .fallback = "no"},
    {"offset", LDS_INI_QUANTITY, "V", AT(offset_v), 0.0, 1e3, false, .fallback = "not stated"},
    {"low_corner", LDS_INI_QUANTITY, "Hz", AT(low_corner_hz), 0.0, 1e4, false, .fallback = "0 Hz: none"},
    {"usable_to", LDS_INI_QUANTITY, "Hz", AT(usable_to_hz), 0.0, 10e6, true, .fallback = "to the end of the capture"},
    {"clock_ppm", LDS_INI_QUANTITY, "ppm", AT(clock_ppm), 0.0, 1e5, false, .fallback = "100 ppm"},
    {"calibration_percent", LDS_INI_QUANTITY, "%", AT(calibration_percent), 0.0, 50.0, false,
     .fallback = "0 %: not stated"},
    {"load_percent", LDS_INI_QUANTITY, "%", AT(load_percent), 0.0, 50.0, false, .fallback = "0 %: not stated"},
    {"mains", LDS_INI_QUANTITY, "Hz", AT(mains_hz), 10.0, 1000.0, false, .fallback = "searched from 45 to 65 Hz"},
    {"response", LDS_INI_OWN, "", 0, 0, 0, false, .fallback = "flat"},
    {"play_full_scale", LDS_INI_QUANTITY, "V", AT(play_full_scale_v), 0.0, 1e3, true, .fallback = "not stated"},
    {"gain", LDS_INI_QUANTITY, "dB", AT(gain_db), -120.0, 120.0, false, .fallback = "not stated"},
    {"supply", LDS_INI_RAILS, "V", AT(supply_v), -1e4, 1e4, false, .fallback = "not stated"},
    {"play_clock", LDS_INI_QUANTITY, "ppm", AT(play_clock_ppm), -1e5, 1e5, false, .fallback = "not measured"},
    {"chain", LDS_INI_OWN, "", 0, 0, 0, false, .fallback = "none"},
    {"name", LDS_INI_TEXT, "", AT(name), 0, 0, false, .fallback = "not stated"},
    {"repeat_level_db", LDS_INI_QUANTITY, "dB", AT(repeat_level_db), 0.0, 20.0, false, .fallback = "0.03 dB"},
    {"repeat_noise_db", LDS_INI_QUANTITY, "dB", AT(repeat_noise_db), 0.0, 20.0, false, .fallback = "0.1 dB"},
    {"repeat_distortion_db", LDS_INI_QUANTITY, "dB", AT(repeat_distortion_db), 0.0, 20.0, false, .fallback = "0.2 dB"},
    {"repeat_mains_db", LDS_INI_QUANTITY, "dB", AT(repeat_mains_db), 0.0, 20.0, false, .fallback = "1 dB"},
    {"repeat_dc_db", LDS_INI_QUANTITY, "dB", AT(repeat_dc_db), 0.0, 20.0, false, .fallback = "1 dB"},
};
enum { KEYS = sizeof keys / sizeof *keys, POINTS_MAX = 100000 };

const struct lds_ini_key *lds_bench_keys(size_t *count)
{
    *count = KEYS;
    return keys;
}

const struct lds_ini_key *lds_bench_key_find(const char *name)
{
    return lds_ini_key_find(keys, KEYS, name);
}

/* A path that starts at the folder of the bench file. */
static enum lds_status path_beside(const char *key, const char *text, const char *path, const char *what, char *full,
                                   size_t size, struct lds_error *error)
{
    const char *slash = strrchr(path, '/');
    int folder = slash && text[0] != '/' ? (int)(slash + 1 - path) : 0;
    int length = snprintf(full, size, "%.*s%s", folder, path, text);
    if (length <= 0 || (size_t)length >= size || !*text)
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; the path of %s was expected", key, text, what);
    return LDS_OK;
}

static enum lds_status set_path_key(struct lds_bench *bench, const struct lds_ini_key *key, const char *text,
                                    const char *path, struct lds_error *error)
{
    const bool response = strcmp(key->name, "response") == 0;
    char full[4096];
    enum lds_status status = path_beside(key->name, text, path, response ? "a CSV of Hz, dB" : "a saved measurement",
                                         full, sizeof full, error);
    if (status || response)
        return status ? status : lds_bench_load_response(bench, full, error);
    char *copy = strdup(full);
    if (!copy)
        return lds_fail_memory(error, "a bench");
    free(bench->chain);
    bench->chain = copy;
    return LDS_OK;
}

/* "channel 2" */
int lds_bench_section_channel(const char *section)
{
    int used = 0;
    char number[4];
    if (sscanf(section, "channel %3[0-9]%n", number, &used) != 1 || section[used])
        return 0;
    long channel = strtol(number, NULL, 10);
    return channel <= LDS_CHANNELS_MAX ? (int)channel : 0;
}

/* The channel's own bench, made if it has none. NULL: no memory. */
static struct lds_bench *own_bench(struct lds_bench *bench, int channel)
{
    for (size_t i = 0; i < bench->channels; i++)
        if (bench->channel[i].channel == channel)
            return &bench->channel[i].bench;
    return lds_bench_add(bench, channel);
}

enum lds_status lds_bench_key_set(struct lds_bench *bench, int channel, const struct lds_ini_key *key,
                                  const char *value, const char *path, struct lds_error *error)
{
    if (channel > 0 && strcmp(key->name, "name") == 0)
        return lds_bench_name_channel(bench, channel, value) ? LDS_OK : lds_fail_memory(error, "the name of a channel");
    struct lds_bench *own = channel > 0 ? own_bench(bench, channel) : bench;
    if (!own)
        return lds_fail_memory(error, "the bench of a channel");
    return key->kind == LDS_INI_OWN ? set_path_key(own, key, value, path, error) : lds_ini_set(key, own, value, error);
}

struct reading {
    struct lds_bench bench; /* a copy, dropped on error */
    const char *path;
    int channel; /* whose section it is; 0: [bench] */
    int section_line;
    bool seen[KEYS]; /* in this section */
};

/* What [channel N] does not state is as in [bench], which stands before it. */
static enum lds_status enter_section(struct reading *reading, const struct lds_ini_place *at, const char *name,
                                     struct lds_error *error)
{
    int channel = lds_bench_section_channel(at->section);
    if (channel == 0) {
        if (lds_ini_under(at, "bench", name, error))
            return LDS_BAD_USE;
        if (reading->bench.channels > 0)
            return lds_fail(error, LDS_BAD_USE,
                            "'%.64s' stands after a [channel N]; all of [bench] stands before those", name);
        return LDS_OK;
    }
    if (reading->section_line == at->section_line)
        return LDS_OK;
    memset(reading->seen, 0, sizeof reading->seen);
    if (lds_bench_of(&reading->bench, channel) != &reading->bench || lds_bench_channel_name(&reading->bench, channel))
        return lds_fail(error, LDS_BAD_USE, "[channel %d] is there twice; one section a channel was expected", channel);
    reading->channel = channel;
    reading->section_line = at->section_line;
    return LDS_OK;
}

static enum lds_status take_key(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                                struct lds_error *error)
{
    struct reading *reading = context;
    const struct lds_ini_key *key = lds_bench_key_find(name);
    enum lds_status status = enter_section(reading, at, name, error);
    if (status)
        return status;
    if (!key) {
        const char *names[KEYS];
        for (size_t i = 0; i < KEYS; i++)
            names[i] = keys[i].name;
        return lds_ini_unknown("unknown key", name, names, KEYS, "the keys are in docs/bench-file.md", error);
    }
    if (reading->seen[key - keys])
        return lds_fail(error, LDS_BAD_USE, "%s is stated twice (an indented line continues the one before)", name);
    reading->seen[key - keys] = true;
    return lds_bench_key_set(&reading->bench, reading->channel, key, value, reading->path, error);
}

enum lds_status lds_bench_load(struct lds_bench *bench, const char *path, struct lds_error *error)
{
    static const struct lds_ini_format format = {.what = "the bench file",
                                                 .name_one = "name one that can be read",
                                                 .form = "'key = value'; see docs/bench-file.md",
                                                 .shorten = "shorten it",
                                                 .key = take_key};
    struct reading reading = {.path = path};
    enum lds_status status = lds_bench_copy(&reading.bench, bench, error);
    if (status)
        return status;
    status = lds_ini_read(path, &format, &reading, error);
    if (status) {
        lds_bench_free(&reading.bench);
    } else {
        lds_bench_free(bench);
        *bench = reading.bench;
    }
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
        if (!lds_resize(&curve->hz, room, sizeof *curve->hz) || !lds_resize(&curve->db, room, sizeof *curve->db))
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
            continue; /* a section header or an empty line */
        if (!row || !isfinite(cell[0].value) || !isfinite(cell[1].value))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64 ": is not a row of Hz, dB; two numbers, with decimal points where a comma is "
                            "between them, were expected",
                            path, lines->number);
        double hz = cell[0].value, db = cell[1].value;
        if (!(hz > (curve->points ? curve->hz[curve->points - 1] : 0.0)))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64
                            ": %.9g Hz is not higher than the one before; frequencies above 0 in rising order "
                            "were expected",
                            path, lines->number, hz);
        if (fabs(db) > 200.0)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s:%" PRId64 ": %.9g dB is not the gain of a capture chain; within 200 dB was "
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
