/* The answer in a sentence or two: what changed, what did not, what cannot be told. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"

enum { NAMED = 4 }; /* changes that are named; the rest are counted */

void lds_key_words(const char *key, char *words, size_t size)
{
    const struct lds_key *row = lds_key_find(key);
    if (!row) {
        snprintf(words, size, "%s", key);
        return;
    }
    size_t length = strlen(row->stem);
    if (key[length] == '.')
        snprintf(words, size, "%s, %s", row->label, key + length + 1);
    else
        snprintf(words, size, "%s", row->label);
}

static bool is_moved(const struct lds_change *change)
{
    return change->judged && (change->word == LDS_LOWER || change->word == LDS_HIGHER);
}

/* SINAD is THD+N with the other sign. */
static bool is_told_already(const struct lds_change *change)
{
    return strncmp(change->key, "sinad", 5) == 0;
}

static double weight_of(const struct lds_change *change)
{
    double size = isnan(change->change) ? fmax(fabs(fmax(change->low, -INFINITY)), fabs(fmax(change->high, -INFINITY)))
                                        : fabs(change->change);
    return isfinite(size) ? size / change->matters : 0.0;
}

struct told {
    const struct lds_change *change;
    int channel;
};

static size_t largest(const struct lds_comparison *comparison, struct told told[NAMED], size_t *moved)
{
    size_t count = 0;
    *moved = 0;
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].changes; i++) {
            const struct lds_change *change = &comparison->channel[c].change[i];
            if (!is_moved(change) || is_told_already(change))
                continue;
            (*moved)++;
            size_t at = count < NAMED ? count++ : NAMED;
            while (at > 0 && weight_of(change) > weight_of(told[at - 1].change)) {
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
    lds_key_words(change->key, words, sizeof words);
    if (comparison->channels > 1)
        fprintf(out, "channel %d ", told->channel);
    double size =
        change->at_least ? fabs(change->word == LDS_LOWER ? change->high : change->low) : fabs(change->change);
    fprintf(out, "%s %s by %s%.2g %s%s", words, lds_word_name(change->word), change->at_least ? "at least " : "", size,
            change->unit, change->worse ? " (worse)" : "");
}

static void put_changed(FILE *out, const struct lds_comparison *comparison)
{
    struct told told[NAMED];
    size_t moved, count = largest(comparison, told, &moved), lines = 0, regions = 0;
    for (size_t c = 0; c < comparison->channels; c++) {
        for (size_t i = 0; i < comparison->channel[c].lines; i++)
            lines +=
                comparison->channel[c].line[i].word == LDS_LOWER || comparison->channel[c].line[i].word == LDS_HIGHER;
        regions += comparison->channel[c].regions;
    }
    if (moved == 0 && lines == 0 && regions == 0) {
        fprintf(out, "No change is shown.");
        return;
    }
    fprintf(out, "Changed: ");
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "%s", i == 0 ? "" : "; ");
        put_change(out, comparison, &told[i]);
    }
    if (moved > count)
        fprintf(out, "; and %zu more", moved - count);
    if (moved == 0 && lines > 0)
        fprintf(out, "%zu single line%s", lines, lines > 1 ? "s" : "");
    if (moved == 0 && lines == 0)
        fprintf(out, "the noise density in %zu part%s of the frequency axis", regions, regions > 1 ? "s" : "");
    fprintf(out, ".");
}

static void put_rest(FILE *out, const struct lds_comparison *comparison)
{
    int words[LDS_WORDS] = {0};
    size_t over = 0, open = 0;
    for (size_t c = 0; c < comparison->channels; c++) {
        for (int w = 0; w < LDS_WORDS; w++)
            words[w] += comparison->channel[c].words[w];
        for (size_t i = 0; i < comparison->channel[c].limits; i++) {
            over += comparison->channel[c].limit[i].result == LDS_OVER;
            open += comparison->channel[c].limit[i].result == LDS_NOT_SHOWN;
        }
    }
    int judged = 0;
    for (int w = 0; w < LDS_WORDS; w++)
        judged += words[w];
    fprintf(out, " %d of %d figures judged are the same within what matters", words[LDS_SAME], judged);
    if (words[LDS_UNRESOLVED] > 0)
        fprintf(out, ", %d cannot be told", words[LDS_UNRESOLVED]);
    if (words[LDS_HIDDEN_BY_CHAIN] > 0)
        fprintf(out, ", %d are hidden by the capture chain", words[LDS_HIDDEN_BY_CHAIN]);
    fprintf(out, ".");
    if (over > 0)
        fprintf(out, " %zu limit%s exceeded.", over, over > 1 ? "s are" : " is");
    if (open > 0)
        fprintf(out, " %zu limit%s not shown either way.", open, open > 1 ? "s are" : " is");
}

bool lds_summary_write(struct lds_comparison *comparison)
{
    size_t size;
    FILE *out = open_memstream(&comparison->summary, &size);
    if (!out)
        return false;
    put_changed(out, comparison);
    put_rest(out, comparison);
    return fclose(out) == 0;
}
