/* Members of a JSON text by name and type. A null member is unknown; one that is missing, of the wrong type or out of
 * range is an error that says where it is. */
#ifndef LDS_SAVED_PARTS_H
#define LDS_SAVED_PARTS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/error.h"

/* Limits beyond which a number is no valid figure and its fourth power overflows. */
#define LDS_SAVED_MOST 1e30
#define LDS_SAVED_DB 1000.0

/* The file that is being read. After the first error everything in it comes back as unknown. */
struct lds_saved_reader {
    const char *file;
    char place[256]; /* "captures[0].channels[1].figures.thd" */
    size_t length;   /* of place */
    enum lds_status status;
    struct lds_error *error;
    size_t capture, captures; /* the place of the one that is being read, and how many there are */
};

/* Steps to a member or an element: returns the length to pass to lds_saved_leave. */
size_t lds_saved_enter(struct lds_saved_reader *reader, const char *member);
size_t lds_saved_enter_element(struct lds_saved_reader *reader, size_t index);
void lds_saved_leave(struct lds_saved_reader *reader, size_t length);

/* Reports that the value at the present place, or in its member unless that is NULL, is not what was expected. */
void lds_saved_wrong(struct lds_saved_reader *reader, const char *member, const char *expected);
void lds_saved_no_memory(struct lds_saved_reader *reader);

/* Whether there is such a member, for optional members. */
bool lds_saved_has(const struct lds_saved_reader *reader, const json_t *object, const char *member);

/* Reports a number that is not within least..most. */
bool lds_saved_in_range(struct lds_saved_reader *reader, const char *member, double number, double least, double most);

/* Within least..most; NAN when unknown, for which the second also accepts a missing member. */
double lds_saved_number(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                        double most);
double lds_saved_stated(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                        double most);

/* Reports low above high; either may be NAN. */
void lds_saved_rising(struct lds_saved_reader *reader, const char *member, double low, double high);

int64_t lds_saved_whole(struct lds_saved_reader *reader, const json_t *object, const char *member, int64_t least,
                        int64_t most);

bool lds_saved_yes(struct lds_saved_reader *reader, const json_t *object, const char *member);

/* A copy to be freed, NULL when unknown; or copied to text, "" when unknown, cut to size between characters. */
char *lds_saved_text(struct lds_saved_reader *reader, const json_t *object, const char *member);
void lds_saved_text_into(struct lds_saved_reader *reader, const json_t *object, const char *member, char *text,
                         size_t size);

const json_t *lds_saved_array_or_null(struct lds_saved_reader *reader, const json_t *object, const char *member);
const json_t *lds_saved_array(struct lds_saved_reader *reader, const json_t *object, const char *member);
const json_t *lds_saved_object(struct lds_saved_reader *reader, const json_t *object, const char *member);

/* Two numbers within least..most, the second not below the first; NAN after an error. */
void lds_saved_pair(struct lds_saved_reader *reader, const json_t *object, const char *member, double least,
                    double most, double pair[2]);

/* Two whole numbers from 1 to most, the second not below the first; 0 after an error. */
void lds_saved_whole_pair(struct lds_saved_reader *reader, const json_t *object, const char *member, int most,
                          int pair[2]);

/* Words of flags, in a member of an object or in an array of that name. Unknown ones are from a later version, and
 * ignored. */
unsigned lds_saved_flags(struct lds_saved_reader *reader, const json_t *object);
unsigned lds_saved_flag_words(struct lds_saved_reader *reader, const json_t *array, const char *member);

/* An rms level: in volts, or from the dBFS next to it. */
double lds_saved_level(struct lds_saved_reader *reader, const json_t *object, bool calibrated, const char *volts,
                       const char *dbfs);

/* Room for the elements of an array (may be NULL), all zero; *count: how many. NULL when there are none. */
void *lds_saved_room(struct lds_saved_reader *reader, const json_t *array, size_t size, size_t *count);

/* Reads one element into its room; key: its name if it is a member of an object. */
typedef void lds_saved_read_one(struct lds_saved_reader *reader, const char *key, const json_t *element, void *into,
                                const void *context);

/* Reads each element of a member, which is an array or else an object, into room of `size` bytes, all zero. list:
 * address of the pointer to that room, which is set before the first is read. */
void lds_saved_list(struct lds_saved_reader *reader, const json_t *owner, const char *member, void *list, size_t *count,
                    size_t size, lds_saved_read_one *read, const void *context);
void lds_saved_map(struct lds_saved_reader *reader, const json_t *owner, const char *member, void *list, size_t *count,
                   size_t size, lds_saved_read_one *read, const void *context);

#endif
