/* Results that loadside measure --json saved, read back (docs/json.md). */
#include "loadside/saved.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "capture/bench_keys.h"
#include "capture/reader.h"
#include "fail.h"
#include "report/saved_channel.h"
#include "report/saved_parts.h"
#include "safe_text.h"

/* The first character from here on that is no white space (RFC 8259, 2), or EOF. */
static int next_sign(FILE *file)
{
    int sign;
    do
        sign = fgetc(file);
    while (sign == ' ' || sign == '\t' || sign == '\n' || sign == '\r');
    return sign;
}

bool lds_saved_is(const char *path)
{
    struct stat info;
    if (stat(path, &info) != 0 || !S_ISREG(info.st_mode)) /* a pipe must not lose what is read from it here */
        return false;
    FILE *file = fopen(path, "re");
    if (!file)
        return false;
    bool begins = next_sign(file) == '{';
    int second = begins ? next_sign(file) : EOF;
    fclose(file);
    return begins && (second == '"' || second == '}');
}

/* As lds_bench_load_response takes it: at least two points, frequencies above 0 and rising. */
static void read_response(struct lds_saved_reader *reader, const json_t *object, struct lds_bench *bench)
{
    const json_t *hz = lds_saved_array_or_null(reader, object, "response_hz");
    const json_t *db = lds_saved_array_or_null(reader, object, "response_db");
    size_t points = 0, levels = 0;
    if (json_array_size(hz) != json_array_size(db))
        lds_saved_wrong(reader, "response_db", "as long as response_hz");
    if ((hz || db) && json_array_size(hz) < 2)
        lds_saved_wrong(reader, "response_hz", "null or an array of two frequencies or more");
    bench->response_hz = lds_saved_room(reader, hz, sizeof *bench->response_hz, &points);
    bench->response_db = lds_saved_room(reader, db, sizeof *bench->response_db, &levels);
    bench->response_points = points < levels ? points : levels;
    for (size_t i = 0; i < bench->response_points; i++) {
        const json_t *one = json_array_get(hz, i), *other = json_array_get(db, i);
        if (!json_is_number(one) || !json_is_number(other))
            lds_saved_wrong(reader, "response_hz", "with response_db as many pairs of numbers");
        bench->response_hz[i] = json_number_value(one);
        bench->response_db[i] = json_number_value(other);
        (void)lds_saved_in_range(reader, "response_db", bench->response_db[i], -200.0, 200.0);
        if (!(bench->response_hz[i] > (i > 0 ? bench->response_hz[i - 1] : 0.0)))
            lds_saved_wrong(reader, "response_hz", "rising, and above 0");
    }
}

/* The key of bench files that sets the same member, for its range. */
static const struct lds_ini_key *key_at(size_t offset)
{
    size_t count;
    const struct lds_ini_key *keys = lds_bench_keys(&count);
    for (size_t i = 0; i < count; i++)
        if (keys[i].kind == LDS_INI_QUANTITY && keys[i].offset == offset)
            return &keys[i];
    return NULL;
}

struct bench_member {
    const char *name;
    size_t offset;
    bool stated; /* never null */
};

static void read_quantity(struct lds_saved_reader *reader, const json_t *object, const struct bench_member *member,
                          struct lds_bench *bench)
{
    const struct lds_ini_key *key = key_at(member->offset);
    double number = lds_saved_number(reader, object, member->name, key->low, key->high);
    if (isnan(number) ? member->stated : key->above_low && !(number > key->low))
        lds_saved_wrong(reader, member->name, isnan(number) ? "a number" : "above 0");
    if (isfinite(number))
        memcpy((char *)bench + member->offset, &number, sizeof number);
}

/* What is null keeps its default. */
static void read_bench(struct lds_saved_reader *reader, const json_t *capture, struct lds_bench *bench)
{
#define AT(member) offsetof(struct lds_bench, member)
    static const struct bench_member members[] = {
        {"full_scale_v", AT(full_scale_v), false},
        {"attenuation", AT(attenuation), true},
        {"load_ohm", AT(load_ohm), false},
        {"offset_v", AT(offset_v), false},
        {"low_corner_hz", AT(low_corner_hz), true},
        {"usable_to_hz", AT(usable_to_hz), false},
        {"clock_ppm", AT(clock_ppm), true},
        {"calibration_percent", AT(calibration_percent), true},
        {"load_percent", AT(load_percent), true},
        {"mains_hz", AT(mains_hz), false},
        {"repeat_level_db", AT(repeat_level_db), false},
        {"repeat_noise_db", AT(repeat_noise_db), false},
        {"repeat_distortion_db", AT(repeat_distortion_db), false},
        {"repeat_mains_db", AT(repeat_mains_db), false},
    };
#undef AT
    const json_t *object = lds_saved_object(reader, capture, "bench");
    lds_bench_init(bench);
    size_t outside = lds_saved_enter(reader, "bench");
    for (size_t i = 0; i < sizeof members / sizeof members[0]; i++)
        read_quantity(reader, object, &members[i], bench);
    bench->name = lds_saved_text(reader, object, "name");
    bench->dc_coupled = lds_saved_yes(reader, object, "dc_coupled");
    read_response(reader, object, bench);
    lds_saved_leave(reader, outside);
}

static void read_channels(struct lds_saved_reader *reader, const json_t *object, struct lds_measurement *measurement)
{
    const json_t *array = lds_saved_array(reader, object, "channels");
    if (json_array_size(array) == 0 || json_array_size(array) > LDS_CHANNELS_MAX)
        lds_saved_wrong(reader, "channels", "an array of 1 to 64 channels");
    size_t outside = lds_saved_enter(reader, "channels");
    measurement->channel = lds_saved_room(reader, array, sizeof *measurement->channel, &measurement->channels);
    for (size_t i = 0; i < measurement->channels; i++) {
        size_t here = lds_saved_enter_element(reader, i);
        lds_saved_channel(reader, json_array_get(array, i), &measurement->channel[i]);
        for (size_t k = 0; k < i; k++)
            if (measurement->channel[k].channel == measurement->channel[i].channel)
                lds_saved_wrong(reader, "channel", "another number than that of a channel before it");
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
}

static void read_pairs(struct lds_saved_reader *reader, const json_t *object, struct lds_measurement *measurement)
{
    const json_t *array = lds_saved_array(reader, object, "pairs");
    size_t outside = lds_saved_enter(reader, "pairs");
    measurement->pair = lds_saved_room(reader, array, sizeof *measurement->pair, &measurement->pairs);
    for (size_t i = 0; i < measurement->pairs; i++) {
        size_t here = lds_saved_enter_element(reader, i);
        lds_saved_channel_pair(reader, json_array_get(array, i), measurement, &measurement->pair[i]);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
}

static const int64_t MOST_FRAMES = INT64_C(1) << 53; /* whole in a double */

static void read_capture(struct lds_saved_reader *reader, const json_t *object, struct lds_measurement *measurement)
{
    if (!json_is_object(object))
        lds_saved_wrong(reader, NULL, "an object");
    measurement->file = lds_saved_text(reader, object, "file");
    if (!measurement->file)
        lds_saved_wrong(reader, "file", "text");
    lds_saved_text_into(reader, object, "encoding", measurement->format, sizeof measurement->format);
    lds_saved_text_into(reader, object, "date", measurement->date, sizeof measurement->date);
    measurement->rate_hz = lds_saved_stated(reader, object, "rate_hz", LDS_RATE_MIN_HZ, LDS_RATE_MAX_HZ);
    measurement->frames = lds_saved_whole(reader, object, "frames", 2, MOST_FRAMES);
    measurement->seconds = lds_saved_stated(reader, object, "seconds", 0.0, LDS_SAVED_MOST);
    if (!(fabs(measurement->seconds * measurement->rate_hz / (double)measurement->frames - 1.0) < 1e-6))
        lds_saved_wrong(reader, "seconds", "frames over rate_hz");
    measurement->window_s = lds_saved_number(reader, object, "window_s", 0.0, measurement->seconds);
    measurement->averages = (int)lds_saved_whole(reader, object, "averages", 0, INT32_MAX);
    read_bench(reader, object, &measurement->bench);
    lds_saved_signal(reader, object, &measurement->signal);
    read_channels(reader, object, measurement);
    read_pairs(reader, object, measurement);
}

/* Whether this is a result of a version that is known here. */
static void check_format(struct lds_saved_reader *reader, const json_t *root)
{
    const char *format = json_string_value(json_object_get(root, "format"));
    const json_t *version = json_object_get(root, "version");
    if (reader->status != LDS_OK)
        return;
    if (!format || strcmp(format, "loadside-measurement") != 0) {
        char *found = lds_words_escape(format ? format : "");
        reader->status = lds_fail(reader->error, LDS_BAD_INPUT,
                                  "%s: JSON %s%.60s%s; \"loadside-measurement\" expected: name a capture, or what "
                                  "'loadside measure --json' wrote",
                                  reader->file, format ? "of format \"" : "without a format", found ? found : "",
                                  format ? "\"" : "");
        free(found);
    } else if (!json_is_integer(version) || json_integer_value(version) != 1) {
        char *found = json_dumps(version, JSON_ENCODE_ANY);
        reader->status = lds_fail(reader->error, LDS_BAD_INPUT,
                                  "%s: a result of version %.40s; version 1 expected: read it with the program that "
                                  "wrote it, or measure the capture again",
                                  reader->file, found ? found : "unknown");
        free(found);
    }
}

static void read_captures(struct lds_saved_reader *reader, const json_t *root, struct lds_measurement **measurement,
                          size_t *count)
{
    const json_t *array = lds_saved_array(reader, root, "captures");
    if (json_array_size(array) == 0)
        lds_saved_wrong(reader, "captures", "an array with at least one capture");
    size_t outside = lds_saved_enter(reader, "captures");
    *measurement = lds_saved_room(reader, array, sizeof **measurement, count);
    for (size_t i = 0; i < *count; i++) {
        size_t here = lds_saved_enter_element(reader, i);
        lds_bench_init(&(*measurement)[i].bench);
        read_capture(reader, json_array_get(array, i), &(*measurement)[i]);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
}

static json_t *load(struct lds_saved_reader *reader, const char *path)
{
    FILE *file = fopen(path, "re");
    json_error_t fault;
    if (!file) {
        reader->status = lds_fail(reader->error, LDS_IO, "%s: cannot be read: %s", path, strerror(errno));
        return NULL;
    }
    json_t *root = json_loadf(file, JSON_REJECT_DUPLICATES, &fault);
    bool failed = ferror(file);
    int reason = errno;
    fclose(file);
    if (!root && failed)
        reader->status = lds_fail(reader->error, LDS_IO, "%s: cannot be read: %s", path, strerror(reason));
    else if (!root && json_error_code(&fault) == json_error_out_of_memory)
        lds_saved_no_memory(reader);
    else if (!root)
        reader->status =
            lds_fail(reader->error, LDS_BAD_INPUT,
                     "%s: is not JSON: %s at line %d, column %d: name a capture, or what 'loadside measure --json' "
                     "wrote",
                     path, fault.text, fault.line, fault.column);
    return root;
}

enum lds_status lds_saved_read(const char *path, struct lds_measurement **measurement, size_t *count,
                               struct lds_error *error)
{
    struct lds_saved_reader reader = {.file = path, .error = error};
    *measurement = NULL;
    *count = 0;
    json_t *root = load(&reader, path);
    check_format(&reader, root);
    if (root && reader.status == LDS_OK)
        read_captures(&reader, root, measurement, count);
    json_decref(root);
    if (reader.status != LDS_OK) {
        for (size_t i = 0; i < *count; i++)
            lds_measurement_free(&(*measurement)[i]);
        free(*measurement);
        *measurement = NULL;
        *count = 0;
    }
    return reader.status;
}
