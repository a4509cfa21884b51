/* What component values imply, for people: the answer, a table, what was stated, what is assumed. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "loadside/expect.h"
#include "report/expected_cells.h"
#include "report/page.h"
#include "report/reading.h"
#include "report/text.h"

/* indent 2, label, value, unit, from, to: 78 in all */
enum { LABEL = 33, BEFORE = 6, AFTER = 7, UNIT = 9 };

static void print_answer(FILE *out, const struct lds_expectation *expectation)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    for (size_t i = 0; i < expectation->kind->answers; i++) {
        const struct lds_expected *one = &expectation->figure[i];
        struct lds_expected_cells cells = lds_expected_cells(one);
        const char *label = one->row->label;
        if (i == 0)
            fprintf(scrap.out, "%c%s", toupper((unsigned char)label[0]), label + 1);
        else
            fprintf(scrap.out, "; %s", label);
        fprintf(scrap.out, ": %s%s%s", cells.value, cells.unit[0] ? " " : "", cells.unit);
        if (cells.low[0])
            fprintf(scrap.out, ", from %s to %s", cells.low, cells.high);
    }
    fputs(".", scrap.out);
    lds_text_scrap_print(&scrap, out, 0, 0);
    lds_page_paragraph(out, 0, 0, "%s", expectation->remark);
}

static void print_row(FILE *out, const struct lds_expected *one)
{
    if (isnan(one->value))
        return;
    struct lds_expected_cells cells = lds_expected_cells(one);
    lds_text_label_column(out, one->row->label, LABEL);
    lds_page_number(out, cells.value, BEFORE, cells.low[0] || cells.unit[0] ? AFTER : 0);
    lds_page_left(out, cells.unit, cells.low[0] ? UNIT : 0);
    if (cells.low[0]) {
        lds_page_number(out, cells.low, BEFORE - 1, AFTER);
        lds_page_number(out, cells.high, BEFORE - 1, 0);
    }
    fputc('\n', out);
}

static bool any_limits(const struct lds_expectation *expectation)
{
    bool any = false;
    for (size_t i = 0; i < expectation->figures; i++)
        any = any || !isnan(expectation->figure[i].low);
    return any;
}

static void print_table(FILE *out, const struct lds_expectation *expectation)
{
    fputc('\n', out);
    if (any_limits(expectation))
        fprintf(out, "%*s%-*s%-*s%s\n", 2 + LABEL + BEFORE - 4, "", 4 + AFTER + UNIT + 1, "value", BEFORE + AFTER - 1,
                "from", "to");
    for (size_t i = 0; i < expectation->figures; i++)
        print_row(out, &expectation->figure[i]);
    for (size_t i = 0; i < expectation->figures; i++)
        if (isnan(expectation->figure[i].value))
            lds_page_paragraph(out, 2, 2, "Not given: %s: %s.", expectation->figure[i].row->label,
                               expectation->figure[i].without);
}

/* "47 kohm": five significant digits, without zeros at the end. */
static void write_stated(FILE *out, double value, const char *unit)
{
    const double step = 1e-4 * fabs(value);
    struct lds_reading reading = lds_reading(value, value - step, value + step, unit,
                                             lds_expected_has_prefix(unit) ? fabs(value) : (double)NAN, false);
    lds_reading_trim(&reading);
    fprintf(out, "%s %s", reading.value, reading.unit);
}

/* "r 47 kohm ±1 %, c 2.2 µF" */
static void write_values(FILE *out, const struct lds_expectation *expectation)
{
    const struct lds_expect_spec *spec = &expectation->spec;
    const char *between = "";
    for (int i = 0; i < LDS_EXPECT_VALUES; i++)
        for (size_t k = 0; k < spec->count[i]; k++) {
            fprintf(out, "%s%s ", between, lds_expect_value_row((enum lds_expect_value)i)->name);
            write_stated(out, spec->value[i][k], lds_expect_value_row((enum lds_expect_value)i)->unit);
            if (!isnan(spec->tolerance_percent[i]))
                fprintf(out, " ±%.4g %%", spec->tolerance_percent[i]);
            between = ", ";
        }
    if (expectation->kind->band) {
        fprintf(out, "%sband %s to %s", between, lds_hz(spec->low_hz).text, lds_hz(spec->high_hz).text);
    }
}

static void print_from(FILE *out, const struct lds_expectation *expectation)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    fputs("From ", scrap.out);
    write_values(scrap.out, expectation);
    fputs(".", scrap.out);
    if (expectation->chosen)
        fputs(" The resistors are of the E24 series (IEC 60063), chosen so that the peak fits the input.", scrap.out);
    lds_text_scrap_print(&scrap, out, 0, 0);
    lds_page_paragraph(out, 0, 0, "%s",
                       any_limits(expectation)
                           ? "The limits are the worst case, with every stated tolerance at one of its ends; a value "
                             "without a tolerance counts as exact."
                           : "No tolerance was stated, so there are no limits.");
}

static void print_all(FILE *out, const struct lds_expectation *expectation)
{
    print_answer(out, expectation);
    print_table(out, expectation);
    fputc('\n', out);
    print_from(out, expectation);
    fputc('\n', out);
    for (const char *const *sentence = expectation->kind->assumptions; *sentence; sentence++)
        lds_page_paragraph(out, 0, 0, "%s", *sentence);
}

enum lds_status lds_expectation_text(const struct lds_expectation *expectation, FILE *out, struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        print_all(text, expectation);
    return lds_text_finish(&page, out, error);
}
