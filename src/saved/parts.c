#include "saved/parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/measurement.h"
#include "safe_text.h"

/* The place is for a message, so one too long is cut. */
static size_t stepped(struct lds_saved_reader *reader, int written)
{
    size_t before = reader->length, room = sizeof reader->place - 1 - before;
    if (written > 0)
        reader->length += (size_t)written < room ? (size_t)written : room;
    return before;
}

size_t lds_saved_enter(struct lds_saved_reader *reader, const char *member)
{
    size_t length = reader->length;
    return stepped(reader,
                   snprintf(reader->place + length, sizeof reader->place - length, "%s%s", length ? "." : "", member));
}

size_t lds_saved_enter_element(struct lds_saved_reader *reader, size_t index)
{
    size_t length = reader->length;
    return stepped(reader, snprintf(reader->place + length, sizeof reader->place - length, "[%zu]", index));
}

void lds_saved_leave(struct lds_saved_reader *reader, size_t length)
{
    reader->length = length;
    reader->place[length] = '\0';
}

void lds_saved_wrong(struct lds_saved_reader *reader, const char *member, const char *expected)
{
    if (reader->status != LDS_OK)
        return;
    size_t before = reader->length;
    if (member)
        before = lds_saved_enter(reader, member);
    char *place = lds_words_escape(reader->place); /* a member's name may be anything */
    reader->status = lds_fail(reader->error, LDS_BAD_INPUT,
                              "%s: %s is not %s: measure the capture again, or restore the file as it was saved",
                              reader->file, place && place[0] ? place : "the whole", expected);
    free(place);
    lds_saved_leave(reader, before);
}

void lds_saved_no_memory(struct lds_saved_reader *reader)
{
    if (reader->status == LDS_OK)
        reader->status = lds_fail_memory(reader->error, "a saved result");
}

/* The member, or NULL when it is unknown or after an error. */
static const json_t *known(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = reader->status == LDS_OK ? json_object_get(object, member) : NULL;
    if (!value)
        lds_saved_wrong(reader, member, "there");
    return json_is_null(value) ? NULL : value;
}

bool lds_saved_has(const struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    return reader->status == LDS_OK && json_object_get(object, member);
}

bool lds_saved_in_range(struct lds_saved_reader *reader, const char *member, double number, double least, double most)
{
    char expected[80];
    if (number >= least && number <= most)
        return true;
    if (least == -most)
        snprintf(expected, sizeof expected, "within %g in either direction", most);
    else
        snprintf(expected, sizeof expected, "a number from %g to %g", least, most);
    lds_saved_wrong(reader, member, expected);
    return false;
}

double lds_saved_number(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                        double most)
{
    const json_t *value = known(reader, object, member);
    if (!value)
        return NAN;
    if (!json_is_number(value)) {
        lds_saved_wrong(reader, member, "a number or null");
        return NAN;
    }
    double number = json_number_value(value);
    return lds_saved_in_range(reader, member, number, least, most) ? number : (double)NAN;
}

double lds_saved_stated(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                        double most)
{
    double number = lds_saved_number(reader, object, member, least, most);
    if (isnan(number))
        lds_saved_wrong(reader, member, "a number");
    return number;
}

void lds_saved_rising(struct lds_saved_reader *reader, const char *member, double low, double high)
{
    /* Fifteen digits are written, so neighbours may swap in the last one. */
    if (low > high + 1e-12 * fmax(fabs(low), fabs(high)))
        lds_saved_wrong(reader, member, "between its limits, the low one first");
}

int64_t lds_saved_whole(struct lds_saved_reader *reader, const json_t *object, const char *member, int64_t least,
                        int64_t most)
{
    const json_t *value = known(reader, object, member);
    int64_t whole = json_integer_value(value);
    if (json_is_integer(value) && whole >= least && whole <= most)
        return whole;
    char expected[80];
    snprintf(expected, sizeof expected, "a whole number from %lld to %lld", (long long)least, (long long)most);
    lds_saved_wrong(reader, member, expected);
    return least;
}

bool lds_saved_yes(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = known(reader, object, member);
    if (!json_is_boolean(value))
        lds_saved_wrong(reader, member, "true or false");
    return json_is_true(value);
}

static const char *text_of(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = known(reader, object, member);
    if (value && !json_is_string(value))
        lds_saved_wrong(reader, member, "text or null");
    return json_string_value(value);
}

char *lds_saved_text(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const char *words = text_of(reader, object, member);
    char *copy = words ? strdup(words) : NULL;
    if (words && !copy)
        lds_saved_no_memory(reader);
    return copy;
}

void lds_saved_text_into(struct lds_saved_reader *reader, const json_t *object, const char *member, char *text,
                         size_t size)
{
    const char *words = text_of(reader, object, member);
    size_t used = 0, bytes;
    while (words && lds_utf8_next(words + used, &bytes) != 0 && used + bytes < size)
        used += bytes;
    if (used > 0)
        memcpy(text, words, used);
    text[used] = '\0';
}

const json_t *lds_saved_array(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = known(reader, object, member);
    if (!json_is_array(value))
        lds_saved_wrong(reader, member, "an array");
    return json_is_array(value) ? value : NULL;
}

const json_t *lds_saved_array_or_null(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = known(reader, object, member);
    if (value && !json_is_array(value))
        lds_saved_wrong(reader, member, "an array or null");
    return json_is_array(value) ? value : NULL;
}

const json_t *lds_saved_object(struct lds_saved_reader *reader, const json_t *object, const char *member)
{
    const json_t *value = known(reader, object, member);
    if (!json_is_object(value))
        lds_saved_wrong(reader, member, "an object");
    return json_is_object(value) ? value : NULL;
}

void lds_saved_pair(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                    double most, double pair[2])
{
    pair[0] = pair[1] = NAN;
    const json_t *array = lds_saved_array(reader, object, member);
    const json_t *first = json_array_get(array, 0), *second = json_array_get(array, 1);
    if (json_array_size(array) != 2 || !json_is_number(first) || !json_is_number(second)) {
        lds_saved_wrong(reader, member, "two numbers");
        return;
    }
    double low = json_number_value(first), high = json_number_value(second);
    if (!lds_saved_in_range(reader, member, low, least, most) || !lds_saved_in_range(reader, member, high, least, most))
        return;
    lds_saved_rising(reader, member, low, high);
    pair[0] = low;
    pair[1] = high;
}

void lds_saved_whole_pair(struct lds_saved_reader *reader, const json_t *object, const char *member, int most,
                          int pair[2])
{
    double number[2];
    lds_saved_pair(reader, object, member, 1.0, most, number);
    for (int i = 0; i < 2; i++) {
        pair[i] = isfinite(number[i]) ? (int)number[i] : 0;
        if (pair[i] != number[i])
            lds_saved_wrong(reader, member, "two whole numbers");
    }
}

unsigned lds_saved_flag_words(struct lds_saved_reader *reader, const json_t *array, const char *member)
{
    unsigned flags = 0;
    if (!json_is_array(array))
        lds_saved_wrong(reader, member, "an array of words");
    for (size_t i = 0; i < json_array_size(array); i++) {
        const char *name = json_string_value(json_array_get(array, i));
        if (!name) {
            lds_saved_wrong(reader, member, "an array of words");
            return 0;
        }
        for (int k = 0; k < LDS_FLAGS; k++)
            if (strcmp(name, lds_flag_name((enum lds_flag)(1u << k))) == 0)
                flags |= 1u << k;
    }
    return flags;
}

unsigned lds_saved_flags(struct lds_saved_reader *reader, const json_t *object)
{
    return lds_saved_flag_words(reader, lds_saved_array(reader, object, "flags"), "flags");
}

double lds_saved_level(struct lds_saved_reader *reader, const json_t *object, bool calibrated, const char *volts,
                       const char *dbfs)
{
    double level = lds_saved_number(reader, object, volts, 0.0, LDS_SAVED_MOST);
    if (calibrated)
        return level;
    if (!isnan(level))
        lds_saved_wrong(reader, volts, "null, as the channel is not calibrated");
    /* AES17: a full-scale sine, rms 1/sqrt(2), is 0 dBFS. */
    return pow(10.0, lds_saved_number(reader, object, dbfs, -LDS_SAVED_DB, LDS_SAVED_DB) / 20.0) / M_SQRT2;
}

static void *make_room(struct lds_saved_reader *reader, size_t wanted, size_t size, size_t *count)
{
    *count = 0;
    if (wanted == 0 || reader->status != LDS_OK)
        return NULL;
    void *room = calloc(wanted, size);
    if (room)
        *count = wanted;
    else
        lds_saved_no_memory(reader);
    return room;
}

void *lds_saved_room(struct lds_saved_reader *reader, const json_t *array, size_t size, size_t *count)
{
    return make_room(reader, json_array_size(array), size, count);
}

void lds_saved_list(struct lds_saved_reader *reader, const json_t *owner, const char *member, void *list, size_t *count,
                    size_t size, lds_saved_read_one *read, const void *context)
{
    const json_t *array = lds_saved_array(reader, owner, member);
    char *room = make_room(reader, json_array_size(array), size, count);
    size_t outside = lds_saved_enter(reader, member);
    memcpy(list, &room, sizeof room);
    for (size_t i = 0; i < *count; i++) {
        size_t here = lds_saved_enter_element(reader, i);
        const json_t *element = json_array_get(array, i);
        if (!json_is_object(element))
            lds_saved_wrong(reader, NULL, "an object");
        read(reader, NULL, element, room + i * size, context);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
}

void lds_saved_map(struct lds_saved_reader *reader, const json_t *owner, const char *member, void *list, size_t *count,
                   size_t size, lds_saved_read_one *read, const void *context)
{
    const json_t *object = lds_saved_object(reader, owner, member);
    char *room = make_room(reader, json_object_size(object), size, count);
    size_t outside = lds_saved_enter(reader, member), i = 0;
    memcpy(list, &room, sizeof room);
    for (void *at = json_object_iter((json_t *)(uintptr_t)object); at && i < *count; i++) {
        const char *key = json_object_iter_key(at);
        size_t here = lds_saved_enter(reader, key);
        read(reader, key, json_object_iter_value(at), room + i * size, context);
        lds_saved_leave(reader, here);
        at = json_object_iter_next((json_t *)(uintptr_t)object, at);
    }
    lds_saved_leave(reader, outside);
}
