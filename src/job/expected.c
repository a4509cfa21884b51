#include "job/steps.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "job/measurable.h"

static const struct lds_measurable rows[LDS_EXPECT_KINDS] = {
    [LDS_EXPECT_COUPLING] = {.place = 0, .shown = LDS_FIGURE_CORNER_LOW},
    [LDS_EXPECT_SERVO] = {.place = 0, .shown = LDS_FIGURE_CORNER_LOW},
    [LDS_EXPECT_RESISTOR] =
        {.place = 0,
         .shown = LDS_FIGURE_NOISE,
         .idle = true,
         .note =
             "A resistor's thermal noise is only a part of an amplifier's: more was measured where others add to it."},
    [LDS_EXPECT_OFFSET] = {.place = 0,
                           .shown = LDS_FIGURE_DC,
                           .instead = LDS_FIGURE_DC_FINAL,
                           .idle = true,
                           .note = "Of an offset only the magnitudes are compared."},
    [LDS_EXPECT_SUPPLY_RIPPLE] = {.place = 2,
                                  .shown = LDS_FIGURE_MAINS_EVEN,
                                  .idle = true,
                                  .most = true,
                                  .note = "The ripple that the parts imply is an upper limit, and what was measured "
                                          "are the even orders of the mains."},
};

const struct lds_measurable *lds_measurable_of(enum lds_expect_kind kind)
{
    return rows[kind].shown == LDS_FIGURE_OTHER ? NULL : &rows[kind];
}

/* ---- which capture shows it ---- */

static const struct lds_channel *channel_of(const struct lds_measurement *measurement, int channel)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].channel == channel)
            return &measurement->channel[i];
    return NULL;
}

static const struct lds_figure *figure_of(const struct lds_measurement *measurement, int channel,
                                          enum lds_figure_id shown)
{
    const struct lds_channel *found = channel_of(measurement, channel);
    return found ? lds_channel_find(found, shown) : NULL;
}

static bool takes_part(const struct lds_sheet_capture *capture, enum lds_when when)
{
    return capture->when == when && !capture->role->chain;
}

static void find_of_roles(const struct lds_job *job, enum lds_figure_id shown, bool idle, bool leads,
                          struct lds_job_expected *one)
{
    for (size_t i = 0; i < job->sheet->captures && !one->measured; i++) {
        const struct lds_sheet_capture *capture = &job->sheet->capture[i];
        if (!takes_part(capture, one->when) || capture->role->leads != leads ||
            (idle && capture->role->holds != LDS_SIGNAL_SILENCE))
            continue;
        one->measured = figure_of(&job->measurement[i], one->channel, shown);
        one->capture = one->measured ? capture : NULL;
    }
}

/* The first capture of the side that has the figure; if the figure is best taken from idle captures, the first idle
 * one. Roles that stand for their signal come first. */
static void find_shown(const struct lds_job *job, enum lds_figure_id shown, bool idle, struct lds_job_expected *one)
{
    find_of_roles(job, shown, idle, true, one);
    find_of_roles(job, shown, idle, false, one);
}

static bool find_measured(const struct lds_job *job, const struct lds_measurable *row, struct lds_job_expected *one)
{
    if (row->idle)
        find_shown(job, row->shown, true, one);
    find_shown(job, row->shown, false, one);
    if (row->instead != LDS_FIGURE_OTHER)
        find_shown(job, row->instead, false, one);
    return one->measured != NULL;
}

/* Why no capture of the side has the figure: the first reason that a capture gives. */
static void explain(const struct lds_job *job, const struct lds_measurable *row, struct lds_job_expected *one)
{
    snprintf(one->why, sizeof one->why, "no capture shows it");
    for (size_t i = 0; i < job->sheet->captures; i++)
        for (size_t c = 0; takes_part(&job->sheet->capture[i], one->when) && c < job->measurement[i].channels; c++) {
            const struct lds_channel *channel = &job->measurement[i].channel[c];
            for (size_t k = 0; k < channel->absents; k++) {
                const struct lds_figure_name name = lds_key_read(channel->absent[k].key);
                if (!lds_figure_is(&name, row->shown))
                    continue;
                snprintf(one->why, sizeof one->why, "%s", channel->absent[k].reason);
                return;
            }
        }
}

/* ---- what is implied and what was measured, side by side ---- */

/* What the parts imply; for noise, in the band that the capture covered. false: nothing. */
static bool imply(const struct lds_measurable *row, struct lds_job_expected *one)
{
    struct lds_expect_spec spec = one->when == LDS_WHEN_BEFORE ? one->of->before : one->of->after;
    struct lds_expectation expectation;
    if (spec.kind == LDS_EXPECT_RESISTOR && one->measured && one->measured->band_hz[1] > one->measured->band_hz[0]) {
        spec.low_hz = one->measured->band_hz[0];
        spec.high_hz = one->measured->band_hz[1];
    }
    if (lds_expect(&spec, &expectation, NULL) != LDS_OK)
        return false;
    one->expected = expectation.figure[row->place];
    return !isnan(one->expected.value);
}

static double other_than_nan(double number, double otherwise)
{
    return isnan(number) ? otherwise : number;
}

/* Compares magnitudes, since the parts do not say which sign an offset has. A figure below the floor has only an upper
 * limit. */
static void judge(const struct lds_measurable *row, struct lds_job_expected *one)
{
    const struct lds_figure *m = one->measured;
    const bool negative = m->value < 0.0;
    const double value = fabs(m->value);
    const double high = other_than_nan(negative ? -m->low : m->high, value);
    const double low = isnan(value) ? 0.0 : fmax(0.0, other_than_nan(negative ? -m->high : m->low, value));
    const double least = row->most ? 0.0 : other_than_nan(one->expected.low, one->expected.value);
    const double most = other_than_nan(one->expected.high, one->expected.value);
    if (low > most) {
        one->word = LDS_EXPECTED_DIFFERS;
        one->by = value - most;
    } else if (high < least) {
        one->word = LDS_EXPECTED_DIFFERS;
        one->by = other_than_nan(value, high) - least;
    } else {
        one->word = row->most ? LDS_EXPECTED_WITHIN : LDS_EXPECTED_AGREES;
    }
}

static bool add(struct lds_job *job, const struct lds_measurable *row, struct lds_job_expected *one)
{
    const bool found = one->channel > 0 && find_measured(job, row, one);
    one->word = LDS_EXPECTED_UNMEASURED;
    if (!imply(row, one))
        snprintf(one->why, sizeof one->why, "%s", one->expected.without);
    else if (!found)
        explain(job, row, one);
    else if (strcmp(one->measured->unit, one->expected.row->unit) != 0)
        snprintf(one->why, sizeof one->why, "the capture is not calibrated in %s", one->expected.row->unit);
    else
        judge(row, one);
    if (one->word == LDS_EXPECTED_UNMEASURED)
        one->measured = NULL;
    struct lds_job_expected *kept = lds_grow(&job->expected, &job->expecteds, sizeof *kept);
    if (kept)
        *kept = *one;
    return kept != NULL;
}

/* A row for each channel that shows it; where none does, one row that says why. */
static bool add_side(struct lds_job *job, const struct lds_sheet_expect *of, enum lds_when when)
{
    const struct lds_measurable *row = lds_measurable_of(of->kind);
    bool any = false, enough = true;
    for (int channel = 1; enough && channel <= LDS_CHANNELS_MAX; channel++) {
        struct lds_job_expected one = {.of = of, .when = when, .channel = channel};
        if ((of->channel > 0 && channel != of->channel) || !find_measured(job, row, &one))
            continue;
        any = true;
        one.measured = NULL;
        enough = add(job, row, &one);
    }
    return enough && (any || add(job, row, &(struct lds_job_expected){.of = of, .when = when}));
}

bool lds_job_expect(struct lds_job *job)
{
    static const enum lds_when sides[] = {LDS_WHEN_BEFORE, LDS_WHEN_AFTER, LDS_WHEN_ANY};
    bool enough = true, stated = false;
    for (size_t i = 0; i < job->sheet->captures; i++)
        stated = stated || (job->sheet->capture[i].when != LDS_WHEN_ANY && !job->sheet->capture[i].role->chain);
    for (size_t i = 0; enough && i < job->sheet->expects; i++)
        for (size_t k = 0; enough && k < sizeof sides / sizeof *sides; k++)
            if (stated == (sides[k] != LDS_WHEN_ANY)) /* without any side, the values after the work */
                enough = add_side(job, &job->sheet->expect[i], sides[k]);
    return enough;
}
