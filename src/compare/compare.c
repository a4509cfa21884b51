/* A comparison as a whole: both sides' captures, every channel that both have, Holm over everything that is judged, and
 * the words. */
#include "loadside/compare.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "compare/regions.h"
#include "compare/work.h"
#include "fail.h"
#include "loadside/capture.h"

/* ---- the sides ---- */

/* The captures of both sides, each file only once per side. */
static bool take_captures(const struct lds_side side[2], struct lds_captures *captures)
{
    captures->list = calloc(side[0].captures + side[1].captures + 1, sizeof *captures->list);
    for (int s = 0, first = 0; captures->list && s < 2; s++, first = captures->all)
        for (size_t i = 0; i < side[s].captures; i++) {
            bool known = false;
            for (int k = first; k < captures->all; k++)
                known = known || lds_same_capture(captures->list[k], &side[s].measurement[i]);
            if (known)
                continue;
            captures->list[captures->all++] = &side[s].measurement[i];
            captures->count[s]++;
        }
    return captures->list != NULL;
}

static bool name_files(struct lds_side side, char ***file, size_t *files)
{
    for (size_t i = 0; i < side.captures; i++)
        if (!lds_say(file, files, "%s", side.measurement[i].file ? side.measurement[i].file : ""))
            return false;
    return true;
}

static bool has_channel(const struct lds_work *work, int side, int channel)
{
    int first = side ? work->captures.count[0] : 0;
    for (int i = first; i < first + work->captures.count[side]; i++)
        for (size_t c = 0; c < work->captures.list[i]->channels; c++)
            if (work->captures.list[i]->channel[c].channel == channel)
                return true;
    return false;
}

static bool make_parts(struct lds_work *work)
{
    struct lds_comparison *out = work->out;
    int channels[LDS_CHANNELS_MAX], count = 0;
    for (int c = 1; c <= LDS_CHANNELS_MAX; c++)
        if (has_channel(work, 0, c) && has_channel(work, 1, c))
            channels[count++] = c;
    out->channel = calloc((size_t)count + 1, sizeof *out->channel);
    work->part = calloc((size_t)count + 1, sizeof *work->part);
    if (!out->channel || !work->part)
        return false;
    out->channels = (size_t)count;
    for (int c = 0; c < count; c++) {
        out->channel[c].channel = channels[c];
        work->part[c].out = &out->channel[c];
        if (!lds_view_open(&work->part[c].view, &work->captures, (const int[2]){channels[c], 0}))
            return false;
        const char *name = work->part[c].view.seen[work->part[c].view.count[0]].channel->name;
        out->channel[c].name = name ? strdup(name) : NULL;
        if (name && !out->channel[c].name)
            return false;
        out->channel[c].calibrated = work->part[c].view.seen[work->part[c].view.count[0]].channel->calibrated;
    }
    work->pair = calloc((size_t)(count * count) + 1, sizeof *work->pair);
    for (int a = 0; work->pair && a < count; a++)
        for (int b = a + 1; b < count; b++) {
            struct lds_pair_part *pair = &work->pair[work->pairs++];
            *pair = (struct lds_pair_part){.of = {&work->part[a], &work->part[b]}};
            if (!lds_view_open(&pair->view, &work->captures, (const int[2]){channels[a], channels[b]}))
                return false;
        }
    return work->pair != NULL;
}

/* ---- what is compared ---- */

static bool find_changes(struct lds_work *work)
{
    for (size_t c = 0; c < work->out->channels; c++)
        if (!lds_changes_find(work, &work->part[c], &work->part[c].view) ||
            !lds_lines_find_changes(work, &work->part[c]))
            return false;
    for (size_t p = 0; p < work->pairs; p++)
        if (!lds_changes_find(work, work->pair[p].of[1], &work->pair[p].view))
            return false;
    return lds_axis_find(work);
}

/* ---- Holm over all of it, and the words ---- */

static bool decide(const struct lds_work *work)
{
    size_t room = 1, count = 0;
    for (size_t c = 0; c < work->out->channels; c++)
        room += work->out->channel[c].changes + work->out->channel[c].lines;
    struct lds_fact **fact = calloc(room, sizeof(struct lds_fact *));
    for (size_t c = 0; fact && c < work->out->channels; c++) {
        for (size_t i = 0; i < work->out->channel[c].changes; i++)
            fact[count++] = &work->part[c].change[i];
        for (size_t i = 0; i < work->out->channel[c].lines; i++)
            fact[count++] = &work->part[c].line[i];
    }
    bool ok = fact && lds_facts_decide(fact, count, work->options->false_alarm);
    free((void *)fact);
    return ok;
}

static bool is_worse(const struct lds_change *change)
{
    const struct lds_key *row = change->name.row;
    return change->judged && ((change->word == LDS_HIGHER && row->worse == LDS_WORSE_UP) ||
                              (change->word == LDS_LOWER && row->worse == LDS_WORSE_DOWN));
}

static void write_down(struct lds_part *part)
{
    for (size_t i = 0; i < part->out->changes; i++) {
        struct lds_change *change = &part->out->change[i];
        const struct lds_fact *fact = &part->change[i];
        change->change = fact->delta.change;
        change->low = fact->delta.low;
        change->high = fact->delta.high;
        change->u = fact->delta.u;
        change->dof = fact->delta.dof;
        change->p = change->judged ? fact->delta.p : (double)NAN;
        change->p_adjusted = fact->p_adjusted;
        change->word = fact->word;
        change->at_least = fact->at_least;
        change->resolve_seconds = fact->resolve_seconds;
        change->worse = is_worse(change);
        if (change->judged)
            part->out->words[change->word]++;
    }
    for (size_t i = 0; i < part->out->lines; i++) {
        struct lds_line_change *line = &part->out->line[i];
        const struct lds_fact *fact = &part->line[i];
        line->change_db = fact->delta.change;
        line->low_db = fact->delta.low;
        line->high_db = fact->delta.high;
        line->word = fact->word;
        line->appeared = fact->below[0] && fact->word == LDS_HIGHER;
        line->vanished = fact->below[1] && fact->word == LDS_LOWER;
    }
}

static void name_channels(const struct lds_comparison *out, const int number[2], const char *name[2])
{
    for (size_t c = 0; c < out->channels; c++)
        for (int k = 0; k < 2; k++)
            if (number[k] == out->channel[c].channel)
                name[k] = out->channel[c].name;
}

/* What belongs to a pair gets the names of its channels. */
static void name_pairs(struct lds_comparison *out)
{
    for (size_t c = 0; c < out->channels; c++) {
        struct lds_compared_channel *channel = &out->channel[c];
        for (size_t i = 0; i < channel->changes; i++)
            name_channels(out, channel->change[i].name.channels, channel->change[i].channel_name);
        for (size_t i = 0; i < channel->axes; i++)
            name_channels(out, channel->axis[i].channels, channel->axis[i].channel_name);
        for (size_t i = 0; i < channel->not_compared; i++)
            name_channels(out, lds_key_read(channel->not_compared_why[i].key).channels,
                          channel->not_compared_why[i].channel_name);
    }
}

/* ---- the whole ---- */

static enum lds_status refuse_empty(const struct lds_work *work, struct lds_error *error)
{
    static const char *const name[2] = {"before", "after"};
    for (int s = 0; s < 2; s++)
        if (work->captures.count[s] == 0)
            return lds_fail(error, LDS_BAD_INPUT, "no capture on the side \"%s\": a comparison needs one on each",
                            name[s]);
    return LDS_OK;
}

static enum lds_status refuse_unusable(const struct lds_work *work, struct lds_error *error)
{
    if (work->out->channels == 0)
        return lds_fail(error, LDS_BAD_INPUT,
                        "no channel is on both sides: choose the same channel of both, or record both alike");
    size_t changes = 0;
    const char *why = NULL;
    for (size_t c = 0; c < work->out->channels; c++) {
        const struct lds_compared_channel *channel = &work->out->channel[c];
        changes += channel->changes;
        const struct lds_seen *seen = &work->part[c].view.seen[work->part[c].view.count[0]];
        if (!why && channel->not_compared > 0)
            why = channel->not_compared_why[0].reason;
        for (size_t i = 0; !why && i < seen->absents; i++)
            if (seen->absent[i].name.row->compared != LDS_NOT_COMPARED)
                why = seen->absent[i].reason;
    }
    if (changes == 0)
        return lds_fail(error, LDS_BAD_INPUT, "no figure can be compared (%s): record both sides in the same way",
                        why ? why : "the sides have none in common");
    return LDS_OK;
}

/* A line or a part of the noise that rose is worse, even if no total shows it. */
static bool channel_is_worse(const struct lds_compared_channel *channel)
{
    bool worse = false;
    for (size_t i = 0; i < channel->changes; i++)
        worse = worse || channel->change[i].worse;
    for (size_t i = 0; i < channel->lines; i++)
        worse = worse || channel->line[i].word == LDS_HIGHER;
    for (size_t i = 0; i < channel->axes; i++)
        for (size_t k = 0; k < channel->axis[i].regions; k++)
            worse = worse || lds_region_is_worse(channel->axis[i].kind, &channel->axis[i].region[k]);
    for (size_t i = 0; i < channel->limits; i++)
        worse = worse || channel->limit[i].result == LDS_OVER;
    return worse;
}

static bool run(struct lds_work *work, struct lds_side before, struct lds_side after)
{
    struct lds_comparison *out = work->out;
    out->repeatability = work->scatter.source;
    memcpy(out->repeat_db, work->scatter.family_db, sizeof out->repeat_db);
    if (!find_changes(work) || !decide(work))
        return false;
    for (size_t c = 0; c < out->channels; c++) {
        write_down(&work->part[c]);
        if (!lds_limits_judge(work, &work->part[c]) || !lds_hints_find(&work->part[c]))
            return false;
        out->worse = out->worse || channel_is_worse(&out->channel[c]);
    }
    name_pairs(out);
    return lds_notes_find(work, before, after);
}

static void free_work(struct lds_work *work)
{
    for (size_t c = 0; work->part && c < work->out->channels; c++) {
        lds_view_free(&work->part[c].view);
        free(work->part[c].change);
        free(work->part[c].line);
    }
    free(work->part);
    for (size_t p = 0; p < work->pairs; p++)
        lds_view_free(&work->pair[p].view);
    free(work->pair);
    free((void *)work->captures.list);
}

enum lds_status lds_compare(struct lds_side before, struct lds_side after, const struct lds_compare_options *options,
                            struct lds_comparison *comparison, struct lds_error *error)
{
    *comparison = (struct lds_comparison){0};
    struct lds_work work = {.options = options, .out = comparison};
    enum lds_status status = LDS_OK;
    if (!take_captures((const struct lds_side[2]){before, after}, &work.captures))
        status = lds_fail_memory(error, "the captures");
    if (status == LDS_OK)
        status = refuse_empty(&work, error);
    if (status == LDS_OK) {
        work.repeats = work.captures.count[0] >= LDS_REPEATS && work.captures.count[1] >= LDS_REPEATS;
        lds_scatter_find(options, &work.captures, work.repeats, &work.scatter);
        bool ok = name_files(before, &comparison->before_file, &comparison->before_files) &&
                  name_files(after, &comparison->after_file, &comparison->after_files) && make_parts(&work) &&
                  run(&work, before, after);
        status = ok ? refuse_unusable(&work, error) : lds_fail_memory(error, "the comparison");
    }
    free_work(&work);
    return status;
}
