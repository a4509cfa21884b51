#include "report/expected_cells.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "job/measurable.h"
#include "report/job_words.h"
#include "report/reading.h"
#include "scarce.h"

const char *lds_beside_note(const struct lds_job *job, size_t number)
{
    if (number == 0)
        return "What the parts imply is worked out from their values alone; its limits are those with every stated "
               "tolerance at its end, at worst. What was measured has its 95 % interval. The two agree where they "
               "overlap.";
    for (int kind = 0; kind < LDS_EXPECT_KINDS; kind++) {
        const struct lds_measurable *row = lds_measurable_of((enum lds_expect_kind)kind);
        bool there = false;
        for (size_t i = 0; i < job->expecteds; i++)
            there = there || job->expected[i].of->kind == (enum lds_expect_kind)kind;
        if (there && row && row->note && --number == 0)
            return row->note;
    }
    return NULL;
}

bool lds_expected_has_prefix(const char *unit)
{
    static const char *const plain[] = {"dB", "degrees", "%", ""};
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++)
        if (strcmp(unit, plain[i]) == 0)
            return false;
    return true;
}

static double reference_of(const struct lds_expected *one)
{
    return lds_expected_has_prefix(one->row->unit) ? fabs(one->value) : (double)NAN;
}

void lds_expected_cells_make(struct lds_expected_cells *cells, const struct lds_expected *one)
{
    struct lds_reading reading, end;
    const char *unit = one->row->unit;
    const double reference = reference_of(one), half = fmax(one->high - one->value, one->value - one->low);
    lds_reading_make(&reading, one->value, one->low, one->high, unit, reference, false);
    *cells = (struct lds_expected_cells){.value = ""};
    memcpy(cells->value, reading.value, sizeof cells->value);
    memcpy(cells->unit, reading.unit, sizeof cells->unit);
    if (isnan(half))
        return;
    lds_reading_make(&end, one->low, one->low - half, one->low + half, unit, reference, false);
    memcpy(cells->low, end.value, sizeof cells->low);
    lds_reading_make(&end, one->high, one->high - half, one->high + half, unit, reference, false);
    memcpy(cells->high, end.value, sizeof cells->high);
}

/* A value far from the reference has a prefix of its own, which is then said. */
static void put_measured(struct lds_beside_cells *cells, const struct lds_job_expected *one)
{
    const struct lds_figure *m = one->measured;
    const bool negative = m->value < 0.0; /* magnitudes */
    struct lds_reading reading;
    lds_reading_make(&reading, fabs(m->value), negative ? -m->high : m->low, negative ? -m->low : m->high,
                     one->expected.row->unit, reference_of(&one->expected), false);
    const bool own = strcmp(reading.unit, cells->implied.unit) != 0;
    snprintf(cells->measured, sizeof cells->measured, "%s", reading.value);
    snprintf(cells->interval, sizeof cells->interval, "%s%s%s", reading.interval,
             own ? reading.interval[0] ? " " : "" : "", own ? reading.unit : "");
}

static void put_word(struct lds_beside_cells *cells, const struct lds_job_expected *one)
{
    struct lds_reading reading;
    switch (one->word) {
    case LDS_EXPECTED_AGREES:
        snprintf(cells->word, sizeof cells->word, "agrees");
        return;
    case LDS_EXPECTED_WITHIN:
        snprintf(cells->word, sizeof cells->word, "within");
        return;
    case LDS_EXPECTED_DIFFERS:
        /* Two significant digits, in the unit that suits the difference. */
        lds_reading_make(&reading, fabs(one->by), 0.9 * fabs(one->by), 1.1 * fabs(one->by), one->expected.row->unit,
                         lds_expected_has_prefix(one->expected.row->unit) ? fabs(one->by) : (double)NAN, false);
        snprintf(cells->word, sizeof cells->word, "%s by %s %s", one->by > 0.0 ? "more" : "less", reading.value,
                 reading.unit);
        return;
    case LDS_EXPECTED_UNMEASURED:
        snprintf(cells->word, sizeof cells->word, "not measured");
        return;
    }
}

/* Whether the section has rows of several channels, or the channel has a name. */
static bool says_channel(const struct lds_job *job, const struct lds_job_expected *one)
{
    bool others = one->channel > 0 && job->sheet->channel_name[one->channel];
    for (size_t i = 0; i < job->expecteds; i++)
        others = others || (job->expected[i].of == one->of && job->expected[i].channel > 0 &&
                            job->expected[i].channel != one->channel);
    return one->channel > 0 && others;
}

static void put_label(char *label, size_t size, const struct lds_job *job, const struct lds_job_expected *one)
{
    const char *side = one->when == LDS_WHEN_ANY ? "" : lds_when_name(one->when);
    char channel[120] = "";
    if (says_channel(job, one))
        lds_job_channel_words(job->sheet, one->channel, channel, sizeof channel);
    snprintf(label, size, "%s%s%s", side, side[0] && channel[0] ? ", " : "", channel);
    if (!label[0])
        snprintf(label, size, "all captures");
}

void lds_beside_cells_make(struct lds_beside_cells *cells, const struct lds_job *job,
                           const struct lds_job_expected *one)
{
    *cells = (struct lds_beside_cells){.measured = "-"};
    put_label(cells->label, sizeof cells->label, job, one);
    if (isnan(one->expected.value))
        snprintf(cells->implied.value, sizeof cells->implied.value, "-");
    else
        lds_expected_cells_make(&cells->implied, &one->expected);
    if (cells->implied.low[0])
        snprintf(cells->limits, sizeof cells->limits, "%s to %s", cells->implied.low, cells->implied.high);
    else if (lds_measurable_of(one->of->kind)->most)
        snprintf(cells->limits, sizeof cells->limits, "at most");
    if (one->measured)
        put_measured(cells, one);
    put_word(cells, one);
}

char *lds_beside_title(const struct lds_sheet_expect *expect)
{
    struct lds_scrap scrap;
    const char *between = "";
    if (!lds_scrap_open(&scrap))
        return NULL;
    fprintf(scrap.out, "%s: ", expect->name);
    for (int i = 0; i < LDS_EXPECT_VALUES; i++) {
        const char *name = lds_expect_value_row((enum lds_expect_value)i)->name;
        if (!expect->value[i])
            continue;
        fprintf(scrap.out, "%s%s %s", between, name, expect->value[i]);
        if (expect->tolerance[i])
            fprintf(scrap.out, " ±%s", expect->tolerance[i]);
        between = "; ";
    }
    return lds_scrap_close(&scrap) ? scrap.text : NULL;
}

char *lds_beside_reason(const struct lds_job *job, const struct lds_job_expected *one)
{
    char label[160], *text = NULL;
    if (one->word != LDS_EXPECTED_UNMEASURED)
        return NULL;
    put_label(label, sizeof label, job, one);
    if (asprintf(&text, "Not measured, %s: %s.", label, one->why) >= 0)
        return text;
    lds_scarce_note();
    return NULL;
}
