/* Reads results that loadside measure --json saved (docs/json.md). */
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
#include "safe_text.h"
#include "saved/channel.h"
#include "saved/names.h"
#include "saved/parts.h"

/* The next character that is not white space (RFC 8259, 2), or EOF. */
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
    if (stat(path, &info) != 0 || !S_ISREG(info.st_mode)) /* reading from a pipe here would lose data */
        return false;
    FILE *file = fopen(path, "re");
    if (!file)
        return false;
    bool begins = next_sign(file) == '{';
    int second = begins ? next_sign(file) : EOF;
    fclose(file);
    return begins && (second == '"' || second == '}');
}

/* As lds_bench_load_response requires: at least two points, frequencies above 0 and rising. */
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

/* The key of bench files for the same member, for its range. */
static const struct lds_ini_key *key_at(size_t offset)
{
    size_t count;
    const struct lds_ini_key *keys = lds_bench_keys(&count);
    for (size_t i = 0; i < count; i++)
        if (keys[i].kind == LDS_INI_QUANTITY && keys[i].offset == offset)
            return &keys[i];
    return NULL;
}

/* A null keeps the default, which must then be NAN: where the default is a number, the file must have one. */
static void read_quantity(struct lds_saved_reader *reader, const json_t *object, const struct lds_bench_member *member,
                          struct lds_bench *bench)
{
    const struct lds_ini_key *key = key_at(member->offset);
    double number = lds_saved_number(reader, object, member->name, key->low, key->high), before;
    memcpy(&before, (char *)bench + member->offset, sizeof before);
    if (isnan(number) ? isfinite(before) : key->above_low && !(number > key->low))
        lds_saved_wrong(reader, member->name, isnan(number) ? "a number" : "above 0");
    if (isfinite(number))
        memcpy((char *)bench + member->offset, &number, sizeof number);
}

static void read_member(struct lds_saved_reader *reader, const json_t *object, const struct lds_bench_member *member,
                        struct lds_bench *bench)
{
    void *field = (char *)bench + member->offset;
    if (member->later && !lds_saved_has(reader, object, member->name))
        return;
    switch (member->kind) {
    case LDS_BENCH_REAL:
    case LDS_BENCH_PLAIN:
        read_quantity(reader, object, member, bench);
        return;
    case LDS_BENCH_TEXT:
        *(char **)field = lds_saved_text(reader, object, member->name);
        return;
    case LDS_BENCH_YES:
        *(bool *)field = lds_saved_yes(reader, object, member->name);
        return;
    }
}

static void read_bench(struct lds_saved_reader *reader, const json_t *capture, struct lds_bench *bench)
{
    const json_t *object = lds_saved_object(reader, capture, "bench");
    lds_bench_init(bench);
    size_t outside = lds_saved_enter(reader, "bench");
    for (size_t i = 0; i < LDS_BENCH_MEMBERS; i++)
        read_member(reader, object, &lds_bench_members[i], bench);
    read_response(reader, object, bench);
    lds_saved_leave(reader, outside);
}

/* Reads the benches of single channels. */
static void read_own_benches(struct lds_saved_reader *reader, const json_t *capture,
                             struct lds_measurement *measurement)
{
    const json_t *array = json_object_get(capture, "channels");
    for (size_t i = 0; i < measurement->channels && reader->status == LDS_OK; i++) {
        const json_t *one = json_array_get(array, i);
        if (!lds_saved_has(reader, one, "bench"))
            continue;
        struct lds_bench *own = lds_bench_add(&measurement->bench, measurement->channel[i].channel);
        if (!own) {
            reader->status = lds_fail_memory(reader->error, "a saved result");
            return;
        }
        lds_bench_free(own);
        read_bench(reader, one, own);
    }
}

static const int64_t MOST_FRAMES = INT64_C(1) << 53; /* exact in a double */

static void read_capture(struct lds_saved_reader *reader, const char *key, const json_t *object, void *into,
                         const void *context)
{
    struct lds_measurement *measurement = into;
    (void)key;
    (void)context;
    lds_bench_init(&measurement->bench);
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
    measurement->settle_band_v = lds_saved_has(reader, object, "settle_band_v")
                                     ? lds_saved_number(reader, object, "settle_band_v", 0.0, LDS_SAVED_MOST)
                                     : (double)NAN;
    measurement->averages = (int)lds_saved_whole(reader, object, "averages", 0, INT32_MAX);
    read_bench(reader, object, &measurement->bench);
    lds_saved_signal(reader, object, &measurement->signal);
    size_t channels = json_array_size(lds_saved_array(reader, object, "channels"));
    if (channels == 0 || channels > LDS_CHANNELS_MAX)
        lds_saved_wrong(reader, "channels", "an array of 1 to 64 channels");
    lds_saved_list(reader, object, "channels", &measurement->channel, &measurement->channels,
                   sizeof *measurement->channel, lds_saved_channel, measurement);
    read_own_benches(reader, object, measurement);
    lds_saved_list(reader, object, "pairs", &measurement->pair, &measurement->pairs, sizeof *measurement->pair,
                   lds_saved_channel_pair, measurement);
    reader->capture++;
}

/* Checks that this is a result of a known version. */
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
    if (root && reader.status == LDS_OK) {
        reader.captures = json_array_size(lds_saved_array(&reader, root, "captures"));
        if (reader.captures == 0)
            lds_saved_wrong(&reader, "captures", "an array with at least one capture");
        lds_saved_list(&reader, root, "captures", measurement, count, sizeof **measurement, read_capture, NULL);
    }
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
