/* The sections [expect NAME] of a job sheet: component values, before and after the work. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "job/measurable.h"
#include "job/sheet.h"
#include "loadside/quantity.h"
#include "safe_text.h"

bool lds_sheet_expect_begin(struct lds_sheet_reading *reading, const char *name)
{
    struct lds_sheet *sheet = reading->sheet;
    for (size_t i = 0; i < sheet->expects; i++)
        if (strcmp(sheet->expect[i].name, name) == 0)
            lds_fault(&reading->faults, reading->line,
                      "[expect %.64s] is in line %d already; give each section a name of its own", name,
                      sheet->expect[i].line);
    if (!*name)
        lds_fault(&reading->faults, reading->line, "parts without a name; as in [expect input coupling]");
    char *copy = lds_words_clean(name);
    struct lds_sheet_expect *one = copy ? lds_grow(&sheet->expect, &sheet->expects, sizeof *one) : NULL;
    if (!one) {
        free(copy);
        reading->faults.no_memory = true;
        return false;
    }
    one->name = copy;
    one->line = reading->line;
    one->kind = LDS_EXPECT_KINDS;
    return true;
}

void lds_sheet_expect_free(struct lds_sheet_expect *expect)
{
    free(expect->name);
    for (int i = 0; i < LDS_EXPECT_VALUES; i++) {
        free(expect->value[i]);
        free(expect->tolerance[i]);
    }
}

/* ---- values ---- */

/* What is being read, and the line to which its faults belong. */
struct taking {
    struct lds_sheet_reading *reading;
    const struct lds_sheet_expect *of;
    int value;
    bool tolerance; /* of the value; else the value itself */
};

/* Reports a fault in the line of the key, or else of the section. */
static void fault(const struct taking *taking, const char *message)
{
    char key[64];
    snprintf(key, sizeof key, "%s%s", lds_expect_value_row((enum lds_expect_value)taking->value)->name,
             taking->tolerance ? " tolerance" : "");
    const struct lds_stated *stated = lds_sheet_stated(taking->reading, taking->of->line, key);
    lds_fault(&taking->reading->faults, stated ? stated->line : taking->of->line, "%s", message);
}

/* One number of text[0..length). false: a fault. */
static bool take_number(const struct taking *taking, const char *text, size_t length, struct lds_expect_spec *spec)
{
    const struct lds_expect_value_row *row = lds_expect_value_row((enum lds_expect_value)taking->value);
    const char *unit = taking->tolerance ? "%" : row->unit;
    struct lds_error error = {0};
    char number[64];
    double value;
    snprintf(number, sizeof number, "%.*s", (int)(length < sizeof number ? length : sizeof number - 1), text);
    if (length >= sizeof number || !lds_quantity_parse(number, unit, &value))
        snprintf(error.message, sizeof error.message, "%s%s is '%.60s'; a number in %s was expected, as in %s %s",
                 row->name, taking->tolerance ? " tolerance" : "", number, unit, taking->tolerance ? "5" : row->example,
                 taking->tolerance ? "%" : "");
    else if (taking->tolerance)
        (void)lds_expect_give_tolerance(spec, row->name, value, &error);
    else
        (void)lds_expect_give(spec, (enum lds_expect_value)taking->value, value, &error);
    if (error.message[0])
        fault(taking, error.message);
    return !error.message[0];
}

/* "47 kohm, 10 kohm" of text[0..length). */
static bool take_list(const struct taking *taking, const char *text, size_t length, struct lds_expect_spec *spec)
{
    bool good = true;
    for (size_t at = 0; good && at <= length;) {
        const char *comma = memchr(text + at, ',', length - at);
        const size_t end = comma ? (size_t)(comma - text) : length;
        good = take_number(taking, text + at, end - at, spec);
        at = end + 1;
    }
    return good;
}

/* Before and after the work, or the same for both. */
static bool take_both(const struct taking *taking, struct lds_sheet_expect *expect, const char *text)
{
    size_t before = strlen(text);
    const char *after = lds_sheet_arrow(text, &before);
    return take_list(taking, text, before, &expect->before) &&
           take_list(taking, after ? after : text, strlen(after ? after : text), &expect->after);
}

static bool is_empty(const struct lds_sheet_expect *expect)
{
    bool empty = expect->kind == LDS_EXPECT_KINDS && expect->channel == 0;
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        empty = empty && !expect->value[i] && !expect->tolerance[i];
    return empty;
}

static void take_section(struct lds_sheet_reading *reading, struct lds_sheet_expect *expect)
{
    struct lds_expectation expectation;
    struct lds_error error = {0};
    if (expect->kind == LDS_EXPECT_KINDS) {
        const struct lds_stated *kind = lds_sheet_stated(reading, expect->line, "kind");
        if (!kind || kind->value) /* a wrong kind was already reported */
            lds_fault(&reading->faults, expect->line,
                      "[expect %.64s] states no kind; kind = coupling, servo, resistor, offset or supply-ripple "
                      "expected; add it",
                      expect->name);
        return;
    }
    lds_expect_spec_init(&expect->before, expect->kind);
    lds_expect_spec_init(&expect->after, expect->kind);
    bool good = true;
    for (int i = 0; good && i < LDS_EXPECT_VALUES; i++)
        good = !expect->value[i] || take_both(&(struct taking){reading, expect, i, false}, expect, expect->value[i]);
    for (int i = 0; good && i < LDS_EXPECT_VALUES; i++)
        good = !expect->tolerance[i] ||
               take_both(&(struct taking){reading, expect, i, true}, expect, expect->tolerance[i]);
    if (good && !lds_measurable_of(expect->kind))
        lds_fault(&reading->faults, expect->line,
                  "[expect %.64s] is of kind %s, which no capture shows; coupling, servo, resistor, offset or "
                  "supply-ripple expected; ask 'loadside expect %s' instead",
                  expect->name, lds_expect_kind_row(expect->kind)->name, lds_expect_kind_row(expect->kind)->name);
    else if (good &&
             (lds_expect(&expect->before, &expectation, &error) || lds_expect(&expect->after, &expectation, &error)))
        lds_fault(&reading->faults, expect->line, "[expect %.64s]: %s", expect->name, error.message);
}

void lds_sheet_expects(struct lds_sheet_reading *reading)
{
    struct lds_sheet *sheet = reading->sheet;
    size_t kept = 0;
    for (size_t i = 0; i < sheet->expects; i++) {
        if (is_empty(&sheet->expect[i])) {
            lds_sheet_expect_free(&sheet->expect[i]);
            continue;
        }
        take_section(reading, &sheet->expect[i]);
        sheet->expect[kept++] = sheet->expect[i];
    }
    sheet->expects = kept;
}
