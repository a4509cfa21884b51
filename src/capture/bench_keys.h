/* The keys of a bench file: one table drives reading, checking and the test that the documentation agrees. */
#ifndef LDS_CAPTURE_BENCH_KEYS_H
#define LDS_CAPTURE_BENCH_KEYS_H

#include <stddef.h>

#include "ini_key.h"
#include "loadside/bench.h"

/* Of LDS_INI_OWN is the response alone, a path of a file. */
const struct lds_ini_key *lds_bench_keys(size_t *count);

/* The row of that name, or NULL. */
const struct lds_ini_key *lds_bench_key_find(const char *name);

/* Sets what the key stands for. path: of the file that it stands in, where a relative path of a response starts.
 * LDS_BAD_USE: the value is wrong; the message names neither file nor line, which the caller puts before it. */
enum lds_status lds_bench_key_set(struct lds_bench *bench, const struct lds_ini_key *key, const char *value,
                                  const char *path, struct lds_error *error);

#endif
