/* The values that can be stated. */
#include <math.h>

#include "expect/kinds.h"

#define ROW_ONE(id, word, argument, in, from, to, sample, meaning)                                                     \
    [LDS_EXPECT_##id] = {.name = word, .unit = in, .least = from, .most = to, .example = sample},
#define ROW_MANY(id, word, argument, in, from, to, sample, meaning)                                                    \
    [LDS_EXPECT_##id] = {.name = word, .unit = in, .least = from, .most = to, .example = sample, .many = true},
static const struct lds_expect_value_row values[LDS_EXPECT_VALUES] = {LDS_EXPECT_VALUE_LIST(ROW_MANY, ROW_ONE)};

const struct lds_expect_value_row *lds_expect_value_row(enum lds_expect_value value)
{
    return &values[value];
}

double lds_expect_one(const struct lds_expect_spec *spec, enum lds_expect_value value)
{
    return spec->count[value] > 0 ? spec->value[value][0] : (double)NAN;
}
