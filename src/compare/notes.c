/* What the reader must know before any figure: which captures the sides consist of, and what they cannot show. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"
#include "fail.h"
#include "scrap.h"

static const char *const side_name[2] = {"before", "after"};

static const char *file_of(const struct lds_measurement *capture)
{
    return capture->file ? capture->file : "a capture without a name";
}

static bool same_figures(const struct lds_channel *a, const struct lds_channel *b)
{
    if (a->figures != b->figures || a->figures == 0)
        return false;
    for (size_t i = 0; i < a->figures; i++) {
        double x = a->figure[i].value, y = b->figure[i].value;
        if (strcmp(a->figure[i].key, b->figure[i].key) != 0 || !(x == y || (isnan(x) && isnan(y))))
            return false;
    }
    return true;
}

/* Equal figures are no proof of a copy when there is no noise in which captures could differ. */
static bool holds_noise(const struct lds_channel *channel)
{
    for (size_t i = 0; i < channel->figures; i++)
        if (channel->figure[i].name.row->id == LDS_FIGURE_NOISE && !isnan(channel->figure[i].value))
            return true;
    return false;
}

bool lds_same_capture(const struct lds_measurement *a, const struct lds_measurement *b)
{
    bool named = a->file && b->file && strcmp(a->file, "-") != 0 && strcmp(a->file, "memory") != 0;
    if (named && strcmp(a->file, b->file) == 0 && a->frames == b->frames)
        return true;
    if (a->frames != b->frames || a->rate_hz != b->rate_hz || a->channels != b->channels || a->channels == 0)
        return false;
    for (size_t c = 0; c < a->channels; c++)
        if (!same_figures(&a->channel[c], &b->channel[c]) || !holds_noise(&a->channel[c]))
            return false;
    return true;
}

static bool note_twice(struct lds_work *work, const struct lds_side side[2])
{
    for (int s = 0; s < 2; s++)
        for (size_t i = 0; i < side[s].captures; i++)
            for (size_t j = 0; j < i; j++)
                if (lds_same_capture(&side[s].measurement[i], &side[s].measurement[j])) {
                    if (!lds_note(work->out, "%s: the same recording as %s; it is counted once",
                                  file_of(&side[s].measurement[i]), file_of(&side[s].measurement[j])))
                        return false;
                    break;
                }
    for (int b = 0; b < work->captures.count[0]; b++)
        for (int a = work->captures.count[0]; a < work->captures.all; a++) {
            const struct lds_measurement *before = work->captures.list[b], *after = work->captures.list[a];
            if (lds_same_capture(before, after) &&
                !lds_note(work->out, "%s stands before and after: the same recording cannot show a change",
                          file_of(after)))
                return false;
        }
    return true;
}

/* "defaults (common practice, no source): level 0.03, mains 1 dB; from what was stated: noise 0.2 dB": for the families
 * without repeats or, with `all`, for every family. */
static void put_declared(FILE *out, const struct lds_scatter *scatter, bool all)
{
    static const struct {
        enum lds_repeatability by;
        const char *words;
    } source[] = {{LDS_REPEAT_STATED, "what was stated"},
                  {LDS_REPEAT_BENCH, "the bench file"},
                  {LDS_REPEAT_DEFAULT, "defaults (common practice, no source)"}};
    static const char *const family[LDS_FAMILIES] = {"", "level", "noise", "distortion", "mains", "dc"};
    bool any = false;
    for (size_t s = 0; s < sizeof source / sizeof source[0]; s++) {
        const char *between = NULL;
        for (int f = LDS_FAMILY_NONE + 1; f < LDS_FAMILIES; f++) {
            if (scatter->declared_by[f] != source[s].by || (!all && isnan(scatter->family_db[f])))
                continue;
            if (!between)
                fprintf(out, "%s%s: ", any ? "; from " : "", source[s].words);
            fprintf(out, "%s%s %.2g", between ? between : "", family[f], scatter->declared_db[f]);
            between = ", ";
            any = true;
        }
        fputs(between ? " dB" : "", out);
    }
}

/* Counts judged figures decided by repeats, and those that are not because fewer than three captures of a side have
 * them. */
static void count_repeated(const struct lds_work *work, size_t count[2])
{
    count[0] = count[1] = 0;
    for (size_t c = 0; c < work->out->channels; c++)
        for (size_t i = 0; i < work->out->channel[c].changes; i++)
            if (work->out->channel[c].change[i].judged)
                count[work->out->channel[c].change[i].repeated]++;
}

static void put_repeats(FILE *out, const struct lds_work *work)
{
    size_t count[2];
    bool declared = false;
    count_repeated(work, count);
    for (int f = LDS_FAMILY_NONE + 1; f < LDS_FAMILIES; f++)
        declared = declared || !isnan(work->scatter.family_db[f]);
    fprintf(out, "what re-cabling and warming up do is taken from the repeats, %d before and %d after",
            work->captures.count[0], work->captures.count[1]);
    if (declared) {
        fputs("; but from ", out);
        put_declared(out, &work->scatter, false);
    }
    if (count[0] > 0) {
        fprintf(out, "; for %zu figure%s that fewer than three captures of a side hold, from ", count[0],
                count[0] > 1 ? "s" : "");
        put_declared(out, &work->scatter, true);
    }
}

static bool note_repeatability(struct lds_work *work)
{
    if (work->scatter.source == LDS_REPEAT_NONE)
        return lds_note(work->out,
                        "intervals are from within the captures alone: what re-cabling and warming up do shows "
                        "as a change");
    size_t count[2];
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return false;
    FILE *out = scrap.out;
    count_repeated(work, count);
    bool single = work->captures.all == 2;
    if (work->repeats && count[1] > 0) {
        put_repeats(out, work);
    } else {
        fprintf(out, "%s what re-cabling and warming up do. It is taken from ",
                single          ? "one capture a side cannot show"
                : work->repeats ? "fewer than three captures of a side hold the same figures, which does not show"
                                : "fewer than three captures on a side do not show");
        put_declared(out, &work->scatter, true);
        fputs(". Three captures a side would show it", out);
    }
    bool ok = lds_scrap_close(&scrap) && lds_note(work->out, "%s", scrap.text);
    free(scrap.text);
    if (ok)
        work->out->scatter_note = work->out->note[work->out->notes - 1];
    return ok;
}

static bool note_channels(struct lds_work *work)
{
    const struct lds_captures *captures = &work->captures;
    for (int s = 0; s < 2; s++) {
        const struct lds_measurement *first = captures->list[s ? captures->count[0] : 0];
        for (size_t c = 0; c < first->channels; c++) {
            bool compared = false;
            for (size_t k = 0; k < work->out->channels; k++)
                compared = compared || work->out->channel[k].channel == first->channel[c].channel;
            const char *name = first->channel[c].name;
            if (!compared &&
                !lds_note(work->out, "channel %d%s%s%s is on the side %s only: not compared", first->channel[c].channel,
                          name ? " (" : "", name ? name : "", name ? ")" : "", side_name[s]))
                return false;
        }
    }
    return true;
}

static bool any_load(const struct lds_work *work, int side, bool stated)
{
    for (int i = 0; i < work->captures.all; i++)
        if ((i >= work->captures.count[0]) == side && !isnan(work->captures.list[i]->bench.load_ohm) == stated)
            return true;
    return false;
}

static bool note_load(struct lds_work *work)
{
    for (int s = 0; s < 2; s++)
        if (any_load(work, s, true) && any_load(work, !s, false))
            return lds_note(work->out, "the load is stated %s and not %s: figures are compared as if it were the same",
                            side_name[s], side_name[!s]);
    return true;
}

static bool note_axis(struct lds_work *work)
{
    for (size_t c = 0; c < work->out->channels; c++) {
        const struct lds_view *view = &work->part[c].view;
        bool floors = lds_seen_series(&view->seen[0], lds_series_kind_of(LDS_SERIES_FLOOR))->rows > 0 &&
                      lds_seen_series(&view->seen[view->count[0]], lds_series_kind_of(LDS_SERIES_FLOOR))->rows > 0;
        if (floors && lds_compared_axis(&work->out->channel[c], lds_series_kind_of(LDS_SERIES_FLOOR)->key)->points == 0)
            return lds_note(work->out,
                            "channel %d: the noise density is not compared along the frequency axis, because "
                            "the sides have no part of it in common",
                            work->out->channel[c].channel);
    }
    return true;
}

bool lds_notes_find(struct lds_work *work, struct lds_side before, struct lds_side after)
{
    const struct lds_side side[2] = {before, after};
    return note_twice(work, side) && note_repeatability(work) && lds_odd_repeats_find(work) && note_channels(work) &&
           note_load(work) && note_axis(work);
}

enum lds_status lds_comparison_note_end(struct lds_comparison *comparison, double end_hz, struct lds_error *error)
{
    if (lds_note(comparison, "The captures reach to different frequencies: all were measured up to %.0f Hz alone.",
                 end_hz))
        return LDS_OK;
    return lds_fail_memory(error, "the comparison");
}
