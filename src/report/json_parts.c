#include "report/json_parts.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/loadside.h"
#include "report/figures.h"
#include "safe_text.h"
#include "scarce.h"
#include "whole_file.h"

/* Digits of a real: with 15 every decimal number of up to 15 digits reads back unchanged, and -90.4 prints as -90.4. */
enum { DIGITS = 15 };

void lds_json_put(json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        lds_scarce_note();
}

void lds_json_put_unless_empty(json_t *object, const char *name, json_t *value)
{
    if (json_object_size(value) > 0)
        lds_json_put(object, name, value);
    else
        json_decref(value);
}

void lds_json_append(json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        lds_scarce_note();
}

static void put_all(json_t *object, const char *name, va_list members)
{
    for (; name; name = va_arg(members, const char *))
        lds_json_put(object, name, va_arg(members, json_t *));
}

json_t *lds_json_object(const char *name, ...)
{
    json_t *object = json_object();
    va_list members;
    va_start(members, name);
    put_all(object, name, members);
    va_end(members);
    return object;
}

void lds_json_set(json_t *object, ...)
{
    va_list members;
    va_start(members, object);
    put_all(object, va_arg(members, const char *), members);
    va_end(members);
}

json_t *lds_json_real(double number)
{
    return isfinite(number) ? json_real(number) : json_null();
}

json_t *lds_json_reals(const double *number, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(array, lds_json_real(number[i]));
    return array;
}

json_t *lds_json_list(const void *first, size_t count, size_t size, json_t *(*make)(const void *element))
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(array, make((const char *)first + i * size));
    return array;
}

json_t *lds_json_plain(double number)
{
    if (isfinite(number) && number == floor(number) && fabs(number) < 1e15)
        return json_integer((json_int_t)number);
    return lds_json_real(number);
}

json_t *lds_json_pair(double first, double second)
{
    if (!isfinite(first) || !isfinite(second))
        return json_null();
    return json_pack("[o, o]", lds_json_plain(first), lds_json_plain(second));
}

json_t *lds_json_ordinal(int number)
{
    return number > 0 ? json_integer(number) : json_null();
}

json_t *lds_json_words(const char *words)
{
    return lds_json_text(words[0] ? words : NULL);
}

json_t *lds_json_text(const char *words)
{
    if (!words)
        return json_null();
    char *clean = lds_words_clean(words);
    json_t *string = clean ? json_string(clean) : NULL;
    free(clean);
    return string;
}

void lds_json_put_level(json_t *object, bool calibrated, const char *volts, const char *dbfs, double level)
{
    lds_json_put(object, volts, calibrated ? lds_json_real(level) : json_null());
    if (!calibrated)
        lds_json_put(object, dbfs, lds_json_real(lds_dbfs(level)));
}

json_t *lds_json_flags(unsigned flags)
{
    json_t *array = json_array();
    for (int i = 0; i < LDS_FLAGS; i++)
        if (flags & 1u << i)
            lds_json_append(array, json_string(lds_flag_name((enum lds_flag)(1u << i))));
    return array;
}

void lds_json_put_row_flags(json_t *object, json_t *flags)
{
    size_t i, flagged = 0;
    json_t *one;
    json_array_foreach(flags, i, one) flagged += json_array_size(one) > 0 ? 1 : 0;
    if (flagged > 0)
        lds_json_put(object, "row_flags", flags);
    else
        json_decref(flags);
}

json_t *lds_json_absents(const struct lds_absent *absent, size_t count)
{
    json_t *object = json_object();
    for (const struct lds_absent *one = NULL; (one = lds_next_absent(one, absent, count)) != NULL;)
        lds_json_put(object, one->key, lds_json_text(one->reason));
    return object;
}

json_t *lds_json_texts(char *const *words, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(array, lds_json_text(words[i]));
    return array;
}

json_t *lds_json_root(const char *format)
{
    return lds_json_object(LDS_AS("format", json_string(format)), LDS_AS("version", json_integer(1)),
                           LDS_AS("program", json_string("loadside " LOADSIDE_VERSION)), NULL);
}

/* jansson escapes only the controls of ASCII, not DEL, later controls or characters that change the direction of text;
 * terminals act on all of them. They occur only in strings, where "\u0085" is the same character; and jansson passes on
 * whole characters. */
static int write_escaped(const char *bytes, size_t size, void *context)
{
    FILE *out = context;
    size_t at = 0, written = 0, step;
    for (; at < size; at += step) {
        step = 1;
        if ((unsigned char)bytes[at] < 0x7F)
            continue;
        char one[8] = "";
        memcpy(one, bytes + at, size - at < 4 ? size - at : 4);
        uint32_t code = lds_utf8_next(one, &step);
        if (!lds_character_is_unsafe(code))
            continue;
        fwrite(bytes + written, 1, at - written, out);
        fprintf(out, "\\u%04x", (unsigned)code);
        written = at + step;
    }
    fwrite(bytes + written, 1, size - written, out);
    return ferror(out) ? -1 : 0;
}

enum lds_status lds_json_write(json_t *root, const char *path, const char *what, struct lds_error *error)
{
    if (lds_scarce_take()) {
        json_decref(root);
        return lds_fail_memory(error, what);
    }
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status == LDS_OK) {
        /* A failed write sets the stream's error flag, which the commit checks; without the flag, memory ran out. */
        if (json_dump_callback(root, write_escaped, file.out, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS)) != 0 &&
            !ferror(file.out))
            lds_scarce_note();
        fputc('\n', file.out);
        status = lds_whole_file_commit(&file, error);
    }
    json_decref(root);
    return status;
}
