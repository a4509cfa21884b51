/* "loadside-expectation" version 1 (docs/json.md). */
#include <math.h>

#include "loadside/expect.h"
#include "report/json_parts.h"

static json_t *value_object(const struct lds_expect_spec *spec, int value)
{
    return lds_json_object(LDS_AS("value", lds_json_reals(spec->value[value], spec->count[value])),
                           LDS_AS("unit", lds_json_text(lds_expect_value_row((enum lds_expect_value)value)->unit)),
                           LDS_AS("tolerance_percent", lds_json_real(spec->tolerance_percent[value])), NULL);
}

static json_t *values_object(const struct lds_expect_spec *spec)
{
    json_t *object = json_object();
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        if (spec->count[i] > 0)
            lds_json_put(object, lds_expect_value_row((enum lds_expect_value)i)->name, value_object(spec, i));
    return object;
}

static json_t *sentences(const char *const *sentence)
{
    json_t *array = json_array();
    for (; *sentence; sentence++)
        lds_json_append(array, lds_json_text(*sentence));
    return array;
}

enum lds_status lds_expectation_json(const struct lds_expectation *expectation, const char *path,
                                     struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-expectation"), *figures = json_object(), *absent = json_object();
    for (size_t i = 0; i < expectation->figures; i++) {
        const struct lds_expected *one = &expectation->figure[i];
        if (isnan(one->value))
            lds_json_put(absent, one->row->key, lds_json_text(one->without));
        else
            lds_json_put(figures, one->row->key,
                         lds_json_object(LDS_REAL(one, value), LDS_TEXT(one->row, unit), LDS_REAL(one, low),
                                         LDS_REAL(one, high), NULL));
    }
    lds_json_set(root, LDS_AS("kind", lds_json_text(expectation->kind->name)), LDS_AS("figures", figures),
                 LDS_AS("absent", absent), LDS_AS("values", values_object(&expectation->spec)), NULL);
    if (expectation->kind->band)
        lds_json_put(root, "band_hz", lds_json_pair(expectation->spec.low_hz, expectation->spec.high_hz));
    lds_json_set(root, LDS_AS("assumptions", sentences(expectation->kind->assumptions)),
                 LDS_AS("remark", lds_json_words(expectation->remark)), NULL);
    return lds_json_write(root, path, "the JSON of what the values imply", error);
}
