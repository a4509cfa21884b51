/* "loadside-expected" version 1 (docs/json.md): what the parts of a job imply, beside what was measured. */
#include <math.h>

#include "report/expected_cells.h"
#include "report/json_parts.h"

static const char *word_of(enum lds_expected_word word)
{
    static const char *const words[] = {"agrees", "within", "differs", "not measured"};
    return words[word];
}

static json_t *numbers(double value, double low, double high)
{
    return lds_json_object(LDS_AS("value", lds_json_real(value)), LDS_AS("low", lds_json_real(low)),
                           LDS_AS("high", lds_json_real(high)), NULL);
}

static json_t *measured_object(const struct lds_job_expected *one)
{
    const struct lds_figure *m = one->measured;
    if (!m)
        return json_null();
    json_t *object = numbers(m->value, m->low, m->high);
    lds_json_set(object, LDS_TEXT(m, key), LDS_AS("capture", lds_json_text(one->capture->name)), NULL);
    return object;
}

static json_t *row_object(const void *element)
{
    const struct lds_job_expected *one = element;
    return lds_json_object(
        LDS_AS("name", lds_json_text(one->of->name)),
        LDS_AS("kind", lds_json_text(lds_expect_kind_row(one->of->kind)->name)),
        LDS_AS("side", lds_json_words(lds_when_name(one->when))), LDS_AS("channel", lds_json_ordinal(one->channel)),
        LDS_AS("key", lds_json_text(one->expected.row->key)), LDS_AS("unit", lds_json_text(one->expected.row->unit)),
        LDS_AS("expected", numbers(one->expected.value, one->expected.low, one->expected.high)),
        LDS_AS("measured", measured_object(one)), LDS_AS("result", lds_json_text(word_of(one->word))),
        LDS_AS("by", lds_json_real(one->word == LDS_EXPECTED_DIFFERS ? one->by : (double)NAN)), LDS_WORDS(one, why),
        NULL);
}

enum lds_status lds_expected_json(const struct lds_job *job, const char *path, struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-expected");
    lds_json_set(root, LDS_AS("parts", LDS_LIST(job->expected, job->expecteds, row_object)), NULL);
    return lds_json_write(root, path, "the JSON of what the parts imply", error);
}
