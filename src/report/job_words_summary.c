/* The answer of a job in plain words: what was done, what changed, what did not, what is uncertain, the power. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/regions.h"
#include "report/comparison_cells.h"
#include "report/figures.h"
#include "report/job_words.h"
#include "report/reading.h"
#include "report/text.h"

enum answer {
    CHANGED = LDS_CHANGES_CHANGED,
    SLIGHTLY = LDS_CHANGES_SLIGHT,
    NOT_CHANGED = LDS_CHANGES_SAME,
    UNTOLD,
    ANSWERS
};
static const char *const ANSWER_NAMES[ANSWERS] = {"Changed", "Changed slightly", "Not changed", "Cannot be told"};

static enum answer answer_of(const struct lds_change *change)
{
    enum lds_change_group group = lds_change_group_of(change);
    return group < LDS_CHANGES_LONGER ? (enum answer)group : UNTOLD;
}

/* Of the figures that people do not ask for first, only what became worse is named. */
static bool is_named(const struct lds_change *change)
{
    return change->worse || lds_figure_listed(&change->name, LDS_LIST_ANSWER);
}

/* "lower by 12 dB", "higher by at least 3.1 dB, worse". */
static void put_size(FILE *out, const struct lds_change *change)
{
    double size = fabs(change->at_least ? (change->word == LDS_LOWER ? change->high : change->low) : change->change);
    if (change->word == LDS_HIDDEN_BY_CHAIN)
        fputs("hidden by the capture chain", out);
    else if (change->word == LDS_UNRESOLVED)
        fputs(isfinite(change->resolve_seconds) ? "a longer capture would tell"
              : change->repeated                ? "the repeats scatter too much"
                                                : "no length of capture would tell",
              out);
    else if (change->word != LDS_SAME && isfinite(size))
        fprintf(out, "%s by %s%.2g %s%s", lds_word_name(change->word), change->at_least ? "at least " : "", size,
                change->unit, change->worse ? ", worse" : "");
    else if (change->word != LDS_SAME)
        fprintf(out, "%s%s", lds_word_name(change->word), change->worse ? ", worse" : "");
}

/* The change of that key in the channel with that answer, or NULL. */
static const struct lds_change *find(const struct lds_compared_channel *channel, const char *key, enum answer answer)
{
    for (size_t i = 0; i < channel->changes; i++)
        if (channel->change[i].judged && answer_of(&channel->change[i]) == answer &&
            strcmp(channel->change[i].key, key) == 0)
            return &channel->change[i];
    return NULL;
}

/* "THD re fundamental (channel 1: lower by 12 dB; channel 2: lower by 13 dB)". */
static void put_key(FILE *out, const struct lds_comparison *comparison, const char *key, enum answer answer)
{
    char label[160];
    bool any = false;
    lds_text_label(key, NULL, label, sizeof label);
    fputs(label, out);
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_change *change = find(&comparison->channel[c], key, answer);
        if (!change)
            continue;
        fprintf(out, "%schannel %d", any ? "; " : " (", comparison->channel[c].channel);
        if (answer != NOT_CHANGED) {
            fputs(": ", out);
            put_size(out, change);
        }
        any = true;
    }
    if (any)
        fputc(')', out);
}

/* Whether an earlier channel has named the key already. */
static bool named_before(const struct lds_comparison *comparison, size_t channel, const char *key, enum answer answer)
{
    for (size_t c = 0; c < channel; c++)
        if (find(&comparison->channel[c], key, answer))
            return true;
    return false;
}

/* Writes the named keys with that answer (all of them where it cannot be told), then how many more there are; returns
 * how many there are in all. */
static size_t put_answer(FILE *out, const struct lds_comparison *comparison, enum answer answer)
{
    size_t named = 0, others = 0;
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_compared_channel *channel = &comparison->channel[c];
        const struct lds_change **change = lds_changes_sorted(channel->change, channel->changes);
        for (size_t i = 0; change && i < channel->changes; i++) {
            if (!change[i]->judged || answer_of(change[i]) != answer)
                continue;
            if (answer != UNTOLD && !is_named(change[i])) {
                others++;
            } else if (!named_before(comparison, c, change[i]->key, answer)) {
                fputs(named ? "; " : "", out);
                put_key(out, comparison, change[i]->key, answer);
                named++;
            }
        }
        free(change);
    }
    if (others > 0)
        fprintf(out, "%s%zu %sfigure%s", named ? "; and " : "", others, named ? "more " : "other ",
                others == 1 ? "" : "s");
    return named + others;
}

static void put_lines(FILE *out, const struct lds_comparison *comparison)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    struct lds_moved lines = lds_lines_moved(comparison);
    if (lines.rose + lines.fell > 0)
        fprintf(out, "; single lines: %zu higher, %zu lower", lines.rose, lines.fell);
    for (size_t k = 0; k < kinds; k++) {
        struct lds_moved counts = lds_regions_moved(comparison, &kind[k]);
        if (counts.rose + counts.fell > 0)
            fprintf(out, "; parts of the %s: %zu higher, %zu lower", kind[k].part, counts.rose, counts.fell);
    }
}

static void put_group(struct lds_rows_of_words *rows, const struct lds_job_group *group, enum answer answer)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    size_t count = put_answer(scrap.out, &group->comparison, answer);
    if (count == 0 && answer == CHANGED)
        fputs("no figure by more than matters", scrap.out);
    if (answer == CHANGED)
        put_lines(scrap.out, &group->comparison);
    if (lds_scrap_close(&scrap) && scrap.text[0])
        lds_row_of_words(rows, ANSWER_NAMES[answer], "%s: %s.", group->title, scrap.text);
    free(scrap.text);
}

static void put_groups(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    size_t compared = 0;
    for (int answer = 0; answer < ANSWERS; answer++)
        for (size_t i = 0; i < job->groups; i++) {
            if (job->group[i].compared)
                put_group(rows, &job->group[i], (enum answer)answer);
            else if (answer == UNTOLD && job->group[i].before + job->group[i].after > 0)
                lds_row_of_words(rows, ANSWER_NAMES[UNTOLD],
                                 "%s: there are captures from %s the work alone, so nothing can be compared.",
                                 job->group[i].title, job->group[i].before > 0 ? "before" : "after");
            compared += job->group[i].compared;
        }
    if (compared == 0)
        lds_row_of_words(rows, "Compared", "Nothing: no captures of one kind from before and after the work.");
}

/* Each limit of a group that is exceeded. */
static void put_exceeded(FILE *out, const struct lds_job_group *group, size_t *over)
{
    for (size_t c = 0; c < group->comparison.channels; c++) {
        const struct lds_compared_channel *channel = &group->comparison.channel[c];
        for (size_t i = 0; i < channel->limits; i++) {
            char label[160];
            if (channel->limit[i].result != LDS_OVER)
                continue;
            lds_text_label(channel->limit[i].key, NULL, label, sizeof label);
            fprintf(out, "%s%s, %s, channel %d", (*over)++ > 0 ? "; " : " Over: ", group->title, label,
                    channel->channel);
        }
    }
}

static void put_limits(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    size_t count[LDS_LIMIT_RESULTS] = {0}, over = 0;
    struct lds_scrap scrap;
    if (job->sheet->limits == 0 || !lds_scrap_open(&scrap))
        return;
    for (size_t g = 0; g < job->groups; g++) {
        size_t of_group[LDS_LIMIT_RESULTS];
        lds_comparison_limits(&job->group[g].comparison, of_group);
        for (int i = 0; i < LDS_LIMIT_RESULTS; i++)
            count[i] += of_group[i];
    }
    if (count[LDS_WITHIN] + count[LDS_OVER] + count[LDS_NOT_SHOWN] == 0)
        fprintf(scrap.out, "%zu, not judged: no captures of one kind from before and after the work.",
                job->sheet->limits);
    else
        fprintf(scrap.out, "%zu kept, %zu exceeded, %zu not shown either way.", count[LDS_WITHIN], count[LDS_OVER],
                count[LDS_NOT_SHOWN]);
    for (size_t g = 0; g < job->groups; g++)
        put_exceeded(scrap.out, &job->group[g], &over);
    lds_row_of_scrap(rows, "Limits", &scrap, over > 0 ? "." : "");
}

static void put_done(struct lds_rows_of_words *rows, const struct lds_job_words *words)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    for (size_t i = 0; i < words->work.count; i++)
        fprintf(scrap.out, "%s%s", i ? " " : "", words->work.line[i]);
    for (size_t i = 0; i < words->parts.count; i++)
        fprintf(scrap.out, "%s%s: %s", i ? "; " : " Parts: ", words->parts.row[i].name, words->parts.row[i].text);
    lds_row_of_scrap(rows, "Done", &scrap, words->parts.count > 0 ? "." : "");
}

/* The rating in one sentence, as far as it is known. */
static void put_power(struct lds_rows_of_words *rows, const struct lds_rows_of_words *rating)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    for (size_t i = 0; i < rating->count; i++)
        fprintf(scrap.out, "%s%s: %s", i ? "; " : "", rating->row[i].name, rating->row[i].text);
    lds_row_of_scrap(rows, "Power as stated", &scrap, ".");
}

void lds_job_words_summary(struct lds_job_words *words, const struct lds_job *job)
{
    struct lds_rows_of_words *rows = &words->summary;
    put_done(rows, words);
    lds_job_words_beware(rows, job);
    put_groups(rows, job);
    put_limits(rows, job);
    put_power(rows, &words->rating);
    for (size_t i = 0; i < words->powers.count; i++)
        lds_row_of_words(rows, "Tested at", "%s: %s", words->powers.row[i].name, words->powers.row[i].text);
}
