/* What the writers of JSON share. Unknown is null, and nothing but a finite number is ever a number. */
#ifndef LDS_REPORT_JSON_PARTS_H
#define LDS_REPORT_JSON_PARTS_H

#include <jansson.h>
#include <stdbool.h>

#include "loadside/error.h"
#include "loadside/measurement.h"

/* What is being written, and whether memory ran out on the way. */
struct lds_json_maker {
    bool failed;
};

/* The value becomes the object's or array's own. */
void lds_json_put(struct lds_json_maker *maker, json_t *object, const char *key, json_t *value);
void lds_json_append(struct lds_json_maker *maker, json_t *array, json_t *value);

json_t *lds_json_real(double number);
json_t *lds_json_reals(struct lds_json_maker *maker, const double *number, size_t count);

/* Counts, rates and band edges: without a point when they are whole. */
json_t *lds_json_plain(double number);

/* NULL becomes null; bytes that are not UTF-8 become U+FFFD. */
json_t *lds_json_text(const char *words);

/* An rms level under the name `volts`: volts, or null with the level in dBFS beside it under the name `dbfs`. */
void lds_json_put_level(struct lds_json_maker *maker, json_t *object, bool calibrated, const char *volts,
                        const char *dbfs, double level);

json_t *lds_json_flags(struct lds_json_maker *maker, unsigned flags);

/* An object of key to reason, in the order of the table of keys. */
json_t *lds_json_absents(struct lds_json_maker *maker, const struct lds_absent *absent, size_t count);

json_t *lds_json_texts(struct lds_json_maker *maker, char *const *words, size_t count);

/* A new object with the members that every file begins with: format, version 1, program. */
json_t *lds_json_root(struct lds_json_maker *maker, const char *format);

/* Writes root to path ("-": standard output), whole or not at all, and frees it. `what` is for "out of memory". */
enum lds_status lds_json_write(const struct lds_json_maker *maker, json_t *root, const char *path, const char *what,
                               struct lds_error *error);

#endif
