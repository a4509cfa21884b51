/* The sentences of the client's page beside the verdict. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "job/power.h"
#include "job/tone.h"
#include "report/capture_cells.h"
#include "report/client.h"
#include "report/comparison_cells.h"
#include "report/job_words.h"
#include "report/words.h"
#include "scrap.h"

static char *closed(struct lds_scrap *scrap)
{
    return lds_scrap_close(scrap) ? scrap->text : NULL;
}

/* ---- limits ---- */

static void put_over(FILE *out, const struct lds_job *job, const struct lds_job_group *group)
{
    for (size_t c = 0; c < group->comparison.channels; c++) {
        const struct lds_compared_channel *channel = &group->comparison.channel[c];
        for (size_t i = 0; i < channel->limits; i++) {
            if (channel->limit[i].result != LDS_OVER)
                continue;
            struct lds_limit_cells cells = lds_limit_cells(channel, &channel->limit[i]);
            fprintf(out, " Exceeded: %s, %s, %s: %s, limit %s %s.", group->title,
                    lds_job_channel_words(job->sheet, channel->channel).text, cells.label.text, cells.found.text,
                    cells.kind, cells.bound.text);
        }
    }
}

static char *limits_words(const struct lds_job *job)
{
    size_t count[LDS_LIMIT_RESULTS] = {0};
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    for (size_t g = 0; g < job->groups; g++) {
        size_t of_group[LDS_LIMIT_RESULTS];
        lds_comparison_limits(&job->group[g].comparison, of_group);
        for (int i = 0; i < LDS_LIMIT_RESULTS; i++)
            count[i] += of_group[i];
    }
    size_t all = count[LDS_WITHIN] + count[LDS_OVER] + count[LDS_NOT_SHOWN];
    if (all > 0 && count[LDS_WITHIN] == all)
        fprintf(scrap.out, all == 1 ? "The limit agreed for this job is met." : "All %zu limits of this job are met.",
                all);
    else if (all > 0)
        fprintf(scrap.out, "Of %zu limits, %zu are met, %zu exceeded, %zu not shown either way.", all,
                count[LDS_WITHIN], count[LDS_OVER], count[LDS_NOT_SHOWN]);
    else if (job->sheet->limits > 0)
        fputs("The limits of this job were not judged: nothing was compared.", scrap.out);
    for (size_t g = 0; g < job->groups; g++)
        put_over(scrap.out, job, &job->group[g]);
    return closed(&scrap);
}

/* ---- power ---- */

static bool any_after(const struct lds_job *job)
{
    for (size_t i = 0; i < job->sheet->captures; i++)
        if (job->sheet->capture[i].role->power && job->sheet->capture[i].when == LDS_WHEN_AFTER)
            return true;
    return false;
}

/* The channel with the highest power of a sine, from the captures after the work, or from all if there are none after
 * it. steps: from captures of a tone that steps in level, the channel with the lowest power at 1 % THD+N. */
static const struct lds_channel *find_channel(const struct lds_job *job, bool steps, const struct lds_measurement **of)
{
    const struct lds_channel *found = NULL;
    double best = steps ? INFINITY : 0.0;
    bool after = any_after(job);
    for (size_t i = 0; i < job->sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &job->sheet->capture[i];
        const struct lds_measurement *m = &job->measurement[i];
        bool counts = (steps || capture->role->power) && (!after || capture->when == LDS_WHEN_AFTER);
        for (size_t c = 0; counts && c < m->channels; c++) {
            const struct lds_figure *power =
                lds_channel_find(&m->channel[c], steps ? LDS_FIGURE_POWER_1PCT : LDS_FIGURE_TONE_POWER);
            if (!power || !(steps ? power->value < best : power->value > best) ||
                (!steps && !lds_is_driven(m, m->channel[c].channel)))
                continue;
            best = power->value;
            found = &m->channel[c];
            *of = m;
        }
    }
    return found;
}

/* Whether the sine is shown rather than the steps in level: there are no steps, or the sine reached the rated power. */
static bool is_enough(const struct lds_job *job, const struct lds_channel *sine, const struct lds_channel *steps)
{
    const struct lds_figure *power = sine ? lds_channel_find(sine, LDS_FIGURE_TONE_POWER) : NULL;
    return power && (!steps || !(power->value < job->sheet->rating.power_w * (1.0 - LDS_RATED_WITHIN)));
}

static char *power_words(const struct lds_job *job)
{
    const struct lds_measurement *of[2] = {NULL, NULL};
    const struct lds_channel *sine = find_channel(job, false, &of[0]), *steps = find_channel(job, true, &of[1]);
    const bool enough = is_enough(job, sine, steps);
    const struct lds_channel *channel = enough ? sine : steps ? steps : sine;
    const struct lds_measurement *m = channel == sine ? of[0] : of[1];
    sine = channel == sine ? sine : NULL;
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    if (channel) {
        if (sine) {
            lds_power_write(scrap.out, "Tested at up to ", m, channel);
        } else {
            fprintf(scrap.out, "Power, %s: ", lds_job_channel_words(job->sheet, channel->channel).text);
            lds_job_steps_write(scrap.out, channel);
        }
        fputc(' ', scrap.out);
        if (isfinite(job->sheet->rating.power_w))
            lds_job_rating_write(scrap.out, &job->sheet->rating, m, channel);
    }
    return closed(&scrap);
}

/* ---- the rest ---- */

static char *beware_words(const struct lds_job *job)
{
    struct lds_rows_of_words rows = {0};
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    lds_job_words_beware(&rows, job);
    for (size_t i = 0; i < rows.count; i++)
        fprintf(scrap.out, "%s%s", i ? " " : "Beware: ", rows.row[i].text);
    lds_rows_of_words_free(&rows);
    return closed(&scrap);
}

static bool any_repeats(const struct lds_job *job)
{
    for (size_t g = 0; g < job->groups; g++)
        if (job->group[g].compared && job->group[g].comparison.repeatability == LDS_REPEAT_DEFAULT)
            return false;
    return true;
}

static char *sure_words(const struct lds_job *job, bool compared)
{
    return compared ? lds_made("± is a 95 %% interval: it holds the true change 19 times in 20, re-cabling included%s. "
                               "“Same” means that any change is smaller than what matters.",
                               any_repeats(job) ? "" : " (its size is assumed, since no capture was repeated)")
                    : lds_made("Intervals in the appendix are 95 %%: they hold the true value 19 times in 20.");
}

static char *by_words(const struct lds_job *job)
{
    return lds_made("Measured by %s%s%s", job->sheet->by ? job->sheet->by : "", job->sheet->by ? ", " : "(name), ",
                    lds_date_words(job->date).text);
}

void lds_client_words(struct lds_client *client, const struct lds_job *job)
{
    client->limits = limits_words(job);
    client->power = power_words(job);
    client->beware = beware_words(job);
    client->sure = sure_words(job, client->compared);
    client->by = by_words(job);
}
