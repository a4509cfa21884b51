/* The answer in a sentence or two: what changed, what did not, what is uncertain. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/regions.h"
#include "compare/summary.h"
#include "compare/work.h"
#include "record/record.h"
#include "scrap.h"

enum { NAMED = 4 }; /* at most this many changes are named; the rest are counted */

void lds_name_words(const struct lds_figure_name *name, char *words, size_t size)
{
    char detail[96];
    lds_figure_detail(name, detail, sizeof detail);
    snprintf(words, size, "%s%s%s", name->row->label, detail[0] ? ", " : "", detail);
}

static bool is_moved(const struct lds_change *change)
{
    return change->judged && (change->word == LDS_LOWER || change->word == LDS_HIGHER);
}

/* For a change with an open end, the known end. */
static double size_of(const struct lds_change *change)
{
    if (change->at_least)
        return fabs(change->word == LDS_LOWER ? change->high : change->low);
    return fabs(change->change);
}

static double weight_of(const struct lds_change *change)
{
    return size_of(change) / change->matters;
}

/* Is a listed before b: leading figures first, then what is worse, then the larger. */
static bool comes_first(const struct lds_change *a, const struct lds_change *b)
{
    bool first = lds_figure_listed(&a->name, LDS_LIST_FIRST);
    if (first != lds_figure_listed(&b->name, LDS_LIST_FIRST))
        return first;
    if (a->worse != b->worse)
        return a->worse;
    return weight_of(a) > weight_of(b);
}

struct told {
    const struct lds_change *change;
    int channel;
};

static size_t choose(const struct lds_comparison *comparison, struct told told[NAMED], size_t *moved)
{
    size_t count = 0;
    *moved = 0;
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].changes; i++) {
            const struct lds_change *change = &comparison->channel[c].change[i];
            if (!is_moved(change) || change->name.row->restates)
                continue;
            (*moved)++;
            size_t at = count < NAMED ? count++ : NAMED;
            while (at > 0 && comes_first(change, told[at - 1].change)) {
                if (at < NAMED)
                    told[at] = told[at - 1];
                at--;
            }
            if (at < NAMED)
                told[at] = (struct told){change, comparison->channel[c].channel};
        }
    return count;
}

static void put_change(FILE *out, const struct lds_comparison *comparison, const struct told *told)
{
    const struct lds_change *change = told->change;
    char words[96];
    lds_name_words(&change->name, words, sizeof words);
    if (comparison->channels > 1)
        fprintf(out, "channel %d ", told->channel);
    fprintf(out, "%s %s by %s%.2g %s%s", words, lds_word_name(change->word), change->at_least ? "at least " : "",
            size_of(change), change->unit, change->worse ? " (worse)" : "");
}

static bool put_counts(FILE *out, const char *one, const char *many, struct lds_moved counts, enum lds_worse worse,
                       bool any)
{
    if (counts.rose + counts.fell == 0)
        return any;
    fprintf(out, "%s%s:", any ? "; " : "", counts.rose + counts.fell == 1 ? one : many);
    if (counts.rose > 0)
        fprintf(out, " %zu higher%s", counts.rose, worse == LDS_WORSE_UP ? " (worse)" : "");
    if (counts.fell > 0)
        fprintf(out, "%s %zu lower%s", counts.rose > 0 ? "," : "", counts.fell,
                worse == LDS_WORSE_DOWN ? " (worse)" : "");
    return true;
}

/* "part of the noise along the frequency axis: 1 higher (worse)", for each kind of series. */
static void put_regions(FILE *out, const struct lds_comparison *comparison, bool any)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        char one[96], many[96];
        snprintf(one, sizeof one, "part of the %s", kind[k].part ? kind[k].part : "");
        snprintf(many, sizeof many, "parts of the %s", kind[k].part ? kind[k].part : "");
        any = put_counts(out, one, many, lds_regions_moved(comparison, &kind[k]), kind[k].worse, any);
    }
}

static bool is_slight(enum lds_word word)
{
    return word == LDS_SLIGHTLY_LOWER || word == LDS_SLIGHTLY_HIGHER;
}

static bool any_slight(const struct lds_comparison *comparison)
{
    bool any = false;
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_compared_channel *channel = &comparison->channel[c];
        any = any || channel->words[LDS_SLIGHTLY_LOWER] + channel->words[LDS_SLIGHTLY_HIGHER] > 0;
        for (size_t i = 0; i < channel->lines; i++)
            any = any || is_slight(channel->line[i].word);
        for (size_t i = 0; i < channel->axes; i++)
            for (size_t k = 0; k < channel->axis[i].regions; k++)
                any = any || is_slight(channel->axis[i].region[k].word);
    }
    return any;
}

static void put_changed(FILE *out, const struct lds_comparison *comparison)
{
    struct told told[NAMED];
    struct lds_moved lines = lds_lines_moved(comparison), regions = lds_regions_moved(comparison, NULL);
    size_t moved, count = choose(comparison, told, &moved);
    bool any = count > 0;
    if (!any && lines.rose + lines.fell == 0 && regions.rose + regions.fell == 0) {
        fputs(any_slight(comparison) ? "Nothing changed by more than matters." : "No change is shown.", out);
        return;
    }
    fprintf(out, "Changed: ");
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "%s", i == 0 ? "" : "; ");
        put_change(out, comparison, &told[i]);
    }
    if (moved > count)
        fprintf(out, "; %zu more figures", moved - count);
    any = put_counts(out, "single line", "single lines", lines, LDS_WORSE_UP, any);
    put_regions(out, comparison, any);
    fprintf(out, ".");
}

/* Names the first limit exceeded, counts the rest. */
static void put_limits(FILE *out, const struct lds_comparison *comparison)
{
    const struct lds_limit_result *first = NULL;
    int channel = 0;
    size_t count[LDS_LIMIT_RESULTS];
    lds_comparison_limits(comparison, count);
    const size_t over = count[LDS_OVER], open = count[LDS_NOT_SHOWN];
    for (size_t c = 0; c < comparison->channels && !first; c++)
        for (size_t i = 0; i < comparison->channel[c].limits && !first; i++)
            if (comparison->channel[c].limit[i].result == LDS_OVER) {
                first = &comparison->channel[c].limit[i];
                channel = comparison->channel[c].channel;
            }
    if (first) {
        char words[96], where[32] = "", more[48] = "";
        lds_name_words(&first->name, words, sizeof words);
        if (comparison->channels > 1)
            snprintf(where, sizeof where, "channel %d ", channel);
        if (over > 1)
            snprintf(more, sizeof more, " and %zu more", over - 1);
        fprintf(out, " %zu limit%s exceeded: %s%s%s.", over, over > 1 ? "s are" : " is", where, words, more);
    }
    if (open > 0)
        fprintf(out, " %zu limit%s not shown either way.", open, open > 1 ? "s are" : " is");
}

static void put_rest(FILE *out, const struct lds_comparison *comparison)
{
    int words[LDS_WORDS] = {0};
    size_t not_compared = 0;
    for (size_t c = 0; c < comparison->channels; c++) {
        for (int w = 0; w < LDS_WORDS; w++)
            words[w] += comparison->channel[c].words[w];
        not_compared += comparison->channel[c].not_compared;
    }
    int judged = 0;
    for (int w = 0; w < LDS_WORDS; w++)
        judged += words[w];
    int slight = words[LDS_SLIGHTLY_LOWER] + words[LDS_SLIGHTLY_HIGHER];
    fprintf(out, " %d of %d figures judged are the same within what matters", words[LDS_SAME], judged);
    if (slight > 0)
        fprintf(out, ", %d changed by less than matters", slight);
    if (words[LDS_UNRESOLVED] > 0)
        fprintf(out, ", %d cannot be told", words[LDS_UNRESOLVED]);
    if (words[LDS_HIDDEN_BY_CHAIN] > 0)
        fprintf(out, ", %d are hidden by the capture chain", words[LDS_HIDDEN_BY_CHAIN]);
    fprintf(out, ".");
    if (not_compared > 0)
        fprintf(out, " %zu figure%s not compared.", not_compared, not_compared > 1 ? "s are" : " is");
}

bool lds_summary_write(struct lds_comparison *comparison)
{
    struct lds_scrap scrap;
    free(comparison->summary);
    comparison->summary = NULL;
    if (!lds_scrap_open(&scrap))
        return false;
    FILE *out = scrap.out;
    put_changed(out, comparison);
    put_rest(out, comparison);
    put_limits(out, comparison);
    if (!lds_scrap_close(&scrap))
        return false;
    comparison->summary = scrap.text;
    return true;
}
