/* Members of a JSON text by name and kind. A member that is missing or null is unknown; one of the wrong kind is an
 * error that says where it stands. */
#ifndef LDS_REPORT_SAVED_PARTS_H
#define LDS_REPORT_SAVED_PARTS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/error.h"

/* What is being read. After the first error nothing is read any more, and what is asked for comes back unknown. */
struct lds_saved_reader {
    const char *file;
    char place[256]; /* "captures[0].channels[1].figures.thd" */
    size_t length;   /* of place */
    enum lds_status status;
    struct lds_error *error;
};

/* Steps to a member or an element: returns the length to give back to lds_saved_leave. */
size_t lds_saved_enter(struct lds_saved_reader *reader, const char *member);
size_t lds_saved_enter_element(struct lds_saved_reader *reader, size_t index);
void lds_saved_leave(struct lds_saved_reader *reader, size_t length);

/* Says that what stands at the present place, in its member unless NULL, is not what was expected. */
void lds_saved_wrong(struct lds_saved_reader *reader, const char *member, const char *expected);
void lds_saved_no_memory(struct lds_saved_reader *reader);

/* NAN when unknown. */
double lds_saved_number(struct lds_saved_reader *reader, const json_t *object, const char *member);

/* `unknown` when there is none; else within least..most. */
int64_t lds_saved_whole(struct lds_saved_reader *reader, const json_t *object, const char *member, int64_t least,
                        int64_t most, int64_t unknown);

bool lds_saved_yes(struct lds_saved_reader *reader, const json_t *object, const char *member);

/* A copy that is to be freed, NULL when unknown; or into text, "" when unknown, cut to size between characters. */
char *lds_saved_text(struct lds_saved_reader *reader, const json_t *object, const char *member);
void lds_saved_text_into(struct lds_saved_reader *reader, const json_t *object, const char *member, char *text,
                         size_t size);

/* NULL when unknown. */
const json_t *lds_saved_array(struct lds_saved_reader *reader, const json_t *object, const char *member);
const json_t *lds_saved_object(struct lds_saved_reader *reader, const json_t *object, const char *member);

/* Two numbers, or as many NAN. */
void lds_saved_pair(struct lds_saved_reader *reader, const json_t *object, const char *member, double pair[2]);

/* Words of flags. One that is not known is of a later version, and let pass. */
unsigned lds_saved_flags(struct lds_saved_reader *reader, const json_t *object);

/* An rms level: volts, or from the dBFS beside it. */
double lds_saved_level(struct lds_saved_reader *reader, const json_t *object, bool calibrated, const char *volts,
                       const char *dbfs);

/* Room for the elements of an array (may be NULL), all zero; *count is how many. NULL when there are none. */
void *lds_saved_room(struct lds_saved_reader *reader, const json_t *array, size_t size, size_t *count);

#endif
