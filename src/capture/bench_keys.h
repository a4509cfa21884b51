/* The keys of a bench file: one table drives reading, checking and the test that the documentation agrees. */
#ifndef LDS_CAPTURE_BENCH_KEYS_H
#define LDS_CAPTURE_BENCH_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/bench.h"

enum lds_bench_kind { LDS_BENCH_QUANTITY, LDS_BENCH_YES_NO, LDS_BENCH_TEXT, LDS_BENCH_RESPONSE };

struct lds_bench_key {
    const char *name;
    enum lds_bench_kind kind;
    const char *unit;     /* of a quantity, "" when it has none */
    size_t offset;        /* of its member in struct lds_bench */
    double low, high;     /* range of a quantity, both included */
    bool above_low;       /* low itself is out of range */
    const char *fallback; /* what holds when the key is missing, in words for the documentation */
};

const struct lds_bench_key *lds_bench_keys(size_t *count);

/* The row of that name, or NULL. */
const struct lds_bench_key *lds_bench_key_find(const char *name);

/* Sets what the key stands for. path: of the file that it stands in, where a relative path of a response starts.
 * LDS_BAD_USE: the value is wrong; the message names neither file nor line, which the caller puts before it. */
enum lds_status lds_bench_key_set(struct lds_bench *bench, const struct lds_bench_key *key, const char *value,
                                  const char *path, struct lds_error *error);

#endif
