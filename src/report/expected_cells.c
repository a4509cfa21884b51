#include "report/expected_cells.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "job/measurable.h"
#include "report/job_words.h"
#include "report/reading.h"

const char *lds_beside_note(const struct lds_job *job, size_t number)
{
    if (number == 0)
        return "What the parts imply is worked out from their values alone; its limits are the worst case, with every "
               "stated tolerance at one of its ends. What was measured has its 95 % interval. The two agree where they "
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

struct lds_expected_cells lds_expected_cells(const struct lds_expected *one)
{
    struct lds_expected_cells cells = {.value = ""};
    const char *unit = one->row->unit;
    const double reference = reference_of(one), half = fmax(one->high - one->value, one->value - one->low);
    struct lds_reading reading = lds_reading(one->value, one->low, one->high, unit, reference, false);
    memcpy(cells.value, reading.value, sizeof cells.value);
    memcpy(cells.unit, reading.unit, sizeof cells.unit);
    if (isnan(half))
        return cells;
    const struct lds_reading low = lds_reading(one->low, one->low - half, one->low + half, unit, reference, false),
                             high = lds_reading(one->high, one->high - half, one->high + half, unit, reference, false);
    memcpy(cells.low, low.value, sizeof cells.low);
    memcpy(cells.high, high.value, sizeof cells.high);
    return cells;
}

/* A value far from the reference has a prefix of its own, which is then said. */
static void put_measured(struct lds_beside_cells *cells, const struct lds_job_expected *one)
{
    const struct lds_figure *m = one->measured;
    const bool negative = m->value < 0.0; /* magnitudes */
    struct lds_reading reading = lds_reading(fabs(m->value), negative ? -m->high : m->low, negative ? -m->low : m->high,
                                             one->expected.row->unit, reference_of(&one->expected), false);
    const bool own = strcmp(reading.unit, cells->implied.unit) != 0;
    snprintf(cells->measured, sizeof cells->measured, "%s", reading.value);
    snprintf(cells->interval, sizeof cells->interval, "%s%s%s", reading.interval,
             own ? reading.interval[0] ? " " : "" : "", own ? reading.unit : "");
}

static struct lds_short word_of(const struct lds_job_expected *one)
{
    static const char *const words[] = {
        [LDS_EXPECTED_AGREES] = "agrees", [LDS_EXPECTED_WITHIN] = "within", [LDS_EXPECTED_UNMEASURED] = "not measured"};
    const char *unit = one->expected.row->unit;
    const double by = fabs(one->by);
    if (one->word != LDS_EXPECTED_DIFFERS)
        return lds_short("%s", words[one->word]);
    /* Two significant digits, in the unit that suits the difference. */
    const struct lds_reading reading =
        lds_reading(by, 0.9 * by, 1.1 * by, unit, lds_expected_has_prefix(unit) ? by : (double)NAN, false);
    return lds_short("%s by %s %s", one->by > 0.0 ? "more" : "less", reading.value, reading.unit);
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

static struct lds_label label_of(const struct lds_job *job, const struct lds_job_expected *one)
{
    const char *side = one->when == LDS_WHEN_ANY ? "" : lds_when_name(one->when);
    struct lds_label channel = {""};
    if (says_channel(job, one))
        channel = lds_job_channel_words(job->sheet, one->channel);
    return side[0] || channel.text[0]
               ? lds_label("%s%s%.119s", side, side[0] && channel.text[0] ? ", " : "", channel.text)
               : lds_label("all captures");
}

struct lds_beside_cells lds_beside_cells(const struct lds_job *job, const struct lds_job_expected *one)
{
    struct lds_beside_cells cells = {.label = label_of(job, one), .measured = "-", .word = word_of(one)};
    if (isnan(one->expected.value))
        snprintf(cells.implied.value, sizeof cells.implied.value, "-");
    else
        cells.implied = lds_expected_cells(&one->expected);
    if (cells.implied.low[0])
        snprintf(cells.limits, sizeof cells.limits, "%s to %s", cells.implied.low, cells.implied.high);
    else if (lds_measurable_of(one->of->kind)->most)
        snprintf(cells.limits, sizeof cells.limits, "at most");
    if (one->measured)
        put_measured(&cells, one);
    return cells;
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
    return one->word == LDS_EXPECTED_UNMEASURED ? lds_made("Not measured, %s: %s.", label_of(job, one).text, one->why)
                                                : NULL;
}
