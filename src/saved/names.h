/* The names of JSON members: of a bench, and for the numbers of a column. */
#ifndef LDS_SAVED_NAMES_H
#define LDS_SAVED_NAMES_H

#include <stdio.h>

#include "record/quantities.h"

/* A member of a bench with the name of its field. */
struct lds_bench_member {
    const char *name;
    size_t offset;
    enum { LDS_BENCH_REAL, LDS_BENCH_PLAIN, LDS_BENCH_TEXT, LDS_BENCH_YES } kind;
    bool later; /* saved results of earlier versions do not have it */
};
enum { LDS_BENCH_MEMBERS = 17 };
extern const struct lds_bench_member lds_bench_members[LDS_BENCH_MEMBERS];

enum { LDS_JSON_NAME = 48 };

/* "level_v", "level_dbfs", "frequency_hz"; name: of the column, "low" or "high". */
static inline void lds_json_name(const char *name, enum lds_quantity quantity, enum lds_scale_of_levels scale,
                                 char member[LDS_JSON_NAME])
{
    snprintf(member, LDS_JSON_NAME, "%s%s", name, lds_quantity_row(quantity)->ending[scale]);
}

#endif
