/* Shared by the writers of JSON. Unknown is null, and only finite numbers are written as numbers. When memory runs out
 * it is noted (scarce.h), and nothing is written in the end. */
#ifndef LDS_REPORT_JSON_PARTS_H
#define LDS_REPORT_JSON_PARTS_H

#include <jansson.h>
#include <stdbool.h>

#include "loadside/compare.h"
#include "loadside/error.h"
#include "loadside/series.h"

/* A new object from pairs of a name and a value, NULL at the end. The object owns the values. */
json_t *lds_json_object(const char *name, ...) __attribute__((sentinel));

/* These put such members into an object; a single member into an object; a member into an object unless it is an object
 * without members; a value into an array. */
void lds_json_set(json_t *object, ...) __attribute__((sentinel));
void lds_json_put(json_t *object, const char *name, json_t *value);
void lds_json_put_unless_empty(json_t *object, const char *name, json_t *value);
void lds_json_append(json_t *array, json_t *value);

/* Members with the name of the field that they contain. */
#define LDS_REAL(record, field) #field, lds_json_real((record)->field)
#define LDS_PLAIN(record, field) #field, lds_json_plain((record)->field)
#define LDS_WHOLE(record, field) #field, json_integer((json_int_t)(record)->field)
#define LDS_YES(record, field) #field, json_boolean((record)->field)
#define LDS_TEXT(record, field) #field, lds_json_text((record)->field)
#define LDS_WORDS(record, field) #field, lds_json_words((record)->field)
#define LDS_AS(name, value) name, (value) /* one with another name */

json_t *lds_json_real(double number);
json_t *lds_json_reals(const double *number, size_t count);

/* An array of what `make` returns for each element of a list. */
json_t *lds_json_list(const void *first, size_t count, size_t size, json_t *(*make)(const void *element));
#define LDS_LIST(first, count, make) lds_json_list(first, count, sizeof *(first), make)

/* Counts, rates and band edges: without a point when they are whole. */
json_t *lds_json_plain(double number);
json_t *lds_json_pair(double first, double second); /* null unless both are known */
json_t *lds_json_ordinal(int number);               /* null unless above 0 */

/* NULL becomes null; bytes that are not UTF-8 become U+FFFD. */
json_t *lds_json_text(const char *words);
json_t *lds_json_words(const char *words); /* null for "" */

/* An rms level with the name `volts`: volts, or null, followed by the level in dBFS with the name `dbfs`. */
void lds_json_put_level(json_t *object, bool calibrated, const char *volts, const char *dbfs, double level);

json_t *lds_json_flags(unsigned flags);
/* The member "row_flags": such an array for each row; omitted if no row has any. */
void lds_json_put_row_flags(json_t *object, json_t *flags);

/* An object of key to reason, in the order of the table of keys. */
json_t *lds_json_absents(const struct lds_absent *absent, size_t count);

/* A figure and a change without their keys; a struct lds_ledger_unit. */
json_t *lds_json_figure(const struct lds_figure *figure);
json_t *lds_json_change(const struct lds_change *change);
json_t *lds_json_ledger_unit(const void *unit);

json_t *lds_json_texts(char *const *words, size_t count);

/* A new object with the members at the start of every file: format, version 1, program. */
json_t *lds_json_root(const char *format);

/* Writes root to path ("-": standard output), completely or not at all, and frees it. `what` is for "out of memory". */
enum lds_status lds_json_write(json_t *root, const char *path, const char *what, struct lds_error *error);

/* ---- series ---- */

/* Puts the series of a channel or pair into its object: the lists of lines, empty if there are none; or the curves and
 * the series over an axis, if there are any. */
void lds_json_put_lines(json_t *object, const struct lds_series *series, size_t count, bool calibrated);
void lds_json_put_curves(json_t *object, const struct lds_series *series, size_t count, bool calibrated);

#endif
