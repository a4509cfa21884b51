/* The keys of a bench file: one table for reading, checking, and the test that compares it with the documentation. */
#ifndef LDS_CAPTURE_BENCH_KEYS_H
#define LDS_CAPTURE_BENCH_KEYS_H

#include <stddef.h>

#include "ini_key.h"
#include "loadside/bench.h"

/* Only the response is LDS_INI_OWN: the path of a file. */
const struct lds_ini_key *lds_bench_keys(size_t *count);

/* The row of that name, or NULL. */
const struct lds_ini_key *lds_bench_key_find(const char *name);

/* N of a section [channel N]; 0: it is another one. */
int lds_bench_section_channel(const char *section);

/* Sets what the key stands for. channel: whose section it is in, 0 for [bench]; the name in a section of a channel is
 * that of the channel, any other key gives it a bench of its own. path: of the file that contains it; a relative path
 * of a response starts from there. LDS_BAD_USE: the value is wrong; the message names neither file nor line, which the
 * caller adds in front. */
enum lds_status lds_bench_key_set(struct lds_bench *bench, int channel, const struct lds_ini_key *key,
                                  const char *value, const char *path, struct lds_error *error);

#endif
