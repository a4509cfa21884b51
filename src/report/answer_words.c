/* The answer in sentences: "Hum is 19 dB lower in both channels. Hiss and level did not change." */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "report/answer_parts.h"
#include "report/reading.h"
#include "report/text.h"
#include "scarce.h"
#include "scrap.h"

struct telling {
    FILE *out;
    const struct lds_answer *answer;
    const struct lds_answer_group *group;
    size_t groups;
    int only; /* this channel; 0: all */
};

/* ---- what happened to a figure in a channel ---- */

enum outcome { MOVED, SLIGHT, SAME, UNTOLD, HIDDEN };

static enum outcome outcome_of(const struct lds_change *change)
{
    switch (change->word) {
    case LDS_LOWER:
    case LDS_HIGHER:
        return MOVED;
    case LDS_SLIGHTLY_LOWER:
    case LDS_SLIGHTLY_HIGHER:
        return SLIGHT;
    case LDS_SAME:
        return SAME;
    case LDS_HIDDEN_BY_CHAIN:
        return HIDDEN;
    case LDS_UNRESOLVED:
        return UNTOLD;
    }
    return UNTOLD;
}

/* "19 dB", "7.4 dB", "12 mV": to 0.1 dB at the finest. */
static struct lds_short size_words(const struct lds_change *change)
{
    bool down = change->word == LDS_LOWER || change->word == LDS_SLIGHTLY_LOWER;
    double amount = fabs(change->at_least ? (down ? change->high : change->low) : change->change);
    if (!isfinite(amount))
        return (struct lds_short){""};
    if (strcmp(change->unit, "dB") == 0)
        return lds_short("%s%.*f dB ", change->at_least ? "at least " : "", amount < 9.95, amount);
    const struct lds_reading reading = lds_reading(amount, NAN, NAN, change->unit, 0.0, false);
    return lds_short("%s%s %s ", change->at_least ? "at least " : "", reading.value, reading.unit);
}

/* "lower, 3.1 Hz → 0.34 Hz": decibels of a frequency or a time say little. */
static struct lds_label both_words(const struct lds_change *change, const char *word)
{
    const char *unit = change->value_unit;
    const double share = strcmp(unit, "s") == 0 ? (double)NAN : 0.02; /* seconds have no prefix */
    const struct lds_reading before = lds_reading(change->before, NAN, NAN, unit, share * change->before, false),
                             after = lds_reading(change->after, NAN, NAN, unit, share * change->after, false);
    return lds_label("%s, %s %s → %s %s", word, before.value, before.unit, after.value, after.unit);
}

/* "19 dB lower", "unchanged" */
static struct lds_label phrase_of(const struct lds_change *change)
{
    bool down = change->word == LDS_LOWER || change->word == LDS_SLIGHTLY_LOWER;
    switch (outcome_of(change)) {
    case MOVED:
        if (strcmp(change->value_unit, "Hz") == 0 || strcmp(change->value_unit, "s") == 0)
            return both_words(change, down ? "lower" : "higher");
        return lds_label("%s%s%s", size_words(change).text, down ? "lower" : "higher", change->worse ? " (worse)" : "");
    case SLIGHT:
        return lds_label("slightly %s", down ? "lower" : "higher");
    case SAME:
        return lds_label("unchanged");
    case UNTOLD:
        break;
    case HIDDEN:
        return lds_label("hidden by the capture chain");
    }
    return lds_label("not settled");
}

/* ---- names ---- */

static const char *noun_of(const struct lds_answer_figure *figure)
{
    const struct lds_figure_name *name = &figure->name;
    return lds_figure_rank(name) > 0 ? name->row->noun : NULL;
}

/* Whether figures of one name may come from two groups. */
static bool has_several_titles(const struct telling *telling)
{
    size_t titles = 0;
    for (size_t g = 0; g < telling->groups; g++)
        titles += telling->group[g].title != NULL;
    return titles > 1;
}

/* Whether another figure of the same group has its noun, as two orders of intermodulation have; then the label says
 * which. */
static bool shares_noun(const struct telling *telling, const struct lds_answer_figure *figure)
{
    const char *noun = noun_of(figure);
    for (size_t i = 0; noun && i < telling->answer->figures; i++) {
        const struct lds_answer_figure *other = &telling->answer->figure[i];
        if (other->group == figure->group && strcmp(other->key, figure->key) != 0 && noun_of(other) &&
            strcmp(noun_of(other), noun) == 0)
            return true;
    }
    return false;
}

static struct lds_sentence noun_words(const struct telling *telling, const struct lds_answer_figure *figure,
                                      bool titled)
{
    const char *noun = shares_noun(telling, figure) ? NULL : noun_of(figure);
    const struct lds_label label =
        noun ? lds_label("%s", noun) : lds_named_label(figure->key, NULL, figure->change[0]->channel_name);
    return lds_sentence("%s%s", label.text, titled || figure->named ? lds_answer_where(figure).text : "");
}

static const char *name_of(const struct telling *telling, int channel)
{
    for (size_t g = 0; g < telling->groups; g++)
        for (size_t c = 0; c < telling->group[g].comparison->channels; c++)
            if (telling->group[g].comparison->channel[c].channel == channel)
                return telling->group[g].comparison->channel[c].name;
    return NULL;
}

/* " on the left", " in channel 1" */
static struct lds_label place_words(const struct telling *telling, int channel)
{
    const char *name = name_of(telling, channel);
    if (!name)
        return lds_label(" in channel %d", channel);
    const bool side = strcmp(name, "left") == 0 || strcmp(name, "right") == 0;
    return lds_label(side ? " on the %s" : " in %.75s", name);
}

/* ---- lists ---- */

struct words {
    size_t count;
    char **word;
};

static void put(struct words *words, const char *text)
{
    char **word = lds_grow(&words->word, &words->count, sizeof *word);
    if (!word || !(*word = strdup(text)))
        lds_scarce_note();
}

static void print_list(FILE *out, const struct words *words)
{
    for (size_t i = 0; i < words->count; i++)
        fprintf(out, "%s%s",
                i == 0                  ? ""
                : i + 1 == words->count ? " and "
                                        : ", ",
                words->word[i] ? words->word[i] : "");
}

static void free_words(struct words *words)
{
    for (size_t i = 0; i < words->count; i++)
        free(words->word[i]);
    free(words->word);
    *words = (struct words){0};
}

/* A sentence made of a list: it begins with a capital and ends with a full stop and a blank. */
static void print_sentence(FILE *out, const char *before, struct words *words, const char *after)
{
    struct lds_scrap scrap;
    if (words->count > 0 && lds_scrap_open(&scrap)) {
        fputs(before, scrap.out);
        print_list(scrap.out, words);
        fputs(after, scrap.out);
        if (lds_scrap_close(&scrap))
            fprintf(out, "%c%s ", toupper((unsigned char)scrap.text[0]), scrap.text + 1);
        free(scrap.text);
    }
    free_words(words);
}

/* ---- sentences ---- */

static bool is_in(const struct telling *telling, const struct lds_answer_figure *figure, size_t place)
{
    return telling->only == 0 || telling->only == figure->channel[place];
}

static bool is_worse(const struct telling *telling, const struct lds_answer_figure *figure)
{
    for (size_t i = 0; i < figure->channels; i++)
        if (is_in(telling, figure, i) && figure->change[i]->worse)
            return true;
    return false;
}

/* Whether a figure with a noun already says that something is worse. */
static bool is_covered(const struct telling *telling)
{
    for (size_t i = 0; i < telling->answer->figures; i++)
        if (noun_of(&telling->answer->figure[i]) && is_worse(telling, &telling->answer->figure[i]))
            return true;
    return false;
}

/* Whether the sentences name the figure: it has a noun, or it became worse and no figure with a noun did. */
static bool is_said(const struct telling *telling, const struct lds_answer_figure *figure)
{
    bool here = false;
    for (size_t i = 0; i < figure->channels; i++)
        here = here || is_in(telling, figure, i);
    return here && (noun_of(figure) || (is_worse(telling, figure) && !is_covered(telling)));
}

/* Whether all channels, or the only one, say the same; then *phrase is what they say. */
static bool is_one_phrase(const struct telling *telling, const struct lds_answer_figure *figure,
                          struct lds_label *phrase, enum outcome *outcome)
{
    bool any = false;
    for (size_t i = 0; i < figure->channels; i++) {
        if (!is_in(telling, figure, i))
            continue;
        const struct lds_label other = phrase_of(figure->change[i]);
        if (any && strcmp(other.text, phrase->text) != 0)
            return false;
        *phrase = other;
        *outcome = outcome_of(figure->change[i]);
        any = true;
    }
    return any;
}

static void print_by_channel(const struct telling *telling, const struct lds_answer_figure *figure)
{
    struct words words = {0};
    for (size_t i = 0; i < figure->channels; i++)
        put(&words,
            lds_sentence("%s%s", phrase_of(figure->change[i]).text, place_words(telling, figure->channel[i]).text)
                .text);
    print_sentence(telling->out, lds_sentence("%s is ", noun_words(telling, figure, true).text).text, &words, ".");
}

static const char *where_words(const struct telling *telling, const struct lds_answer_figure *figure)
{
    bool pair = figure->name.row->section == LDS_PAIR;
    return telling->only || pair || figure->channels < 2 ? ""
           : figure->channels == 2                       ? " in both channels"
                                                         : " in all channels";
}

/* What is shown to have changed, with one sentence for each figure. */
static void print_changes(const struct telling *telling)
{
    for (size_t i = 0; i < telling->answer->figures; i++) {
        const struct lds_answer_figure *figure = &telling->answer->figure[i];
        struct lds_label phrase;
        enum outcome outcome = SAME;
        struct words words = {0};
        if (!is_said(telling, figure))
            continue;
        if (!is_one_phrase(telling, figure, &phrase, &outcome)) {
            print_by_channel(telling, figure);
        } else if (outcome == MOVED || outcome == SLIGHT) {
            put(&words, lds_sentence("%s is %s%s", noun_words(telling, figure, true).text, phrase.text,
                                     where_words(telling, figure))
                            .text);
            print_sentence(telling->out, "", &words, ".");
        }
    }
}

/* The figures of which all channels have that outcome, in one sentence. */
static void print_outcome(const struct telling *telling, enum outcome wanted, const char *before, const char *after)
{
    struct words words = {0};
    for (size_t i = 0; i < telling->answer->figures; i++) {
        const struct lds_answer_figure *figure = &telling->answer->figure[i];
        struct lds_label phrase;
        enum outcome outcome = SAME;
        if (is_said(telling, figure) && is_one_phrase(telling, figure, &phrase, &outcome) && outcome == wanted)
            put(&words, noun_words(telling, figure, has_several_titles(telling)).text);
    }
    print_sentence(telling->out, before, &words, after);
}

/* ---- what else rose ---- */

struct tally {
    size_t worse, lines;
    bool moved;
};

static void count_channel(const struct lds_compared_channel *channel, struct tally *tally)
{
    for (size_t i = 0; i < channel->changes; i++) {
        tally->worse += channel->change[i].judged && channel->change[i].worse;
        tally->moved = tally->moved || (channel->change[i].judged && outcome_of(&channel->change[i]) == MOVED);
    }
    for (size_t i = 0; i < channel->lines; i++)
        tally->lines += channel->line[i].word == LDS_HIGHER;
}

/* Worse figures that the sentences above name. */
static size_t count_said(const struct telling *telling)
{
    size_t said = 0;
    for (size_t i = 0; i < telling->answer->figures; i++)
        for (size_t c = 0; c < telling->answer->figure[i].channels; c++)
            if (is_said(telling, &telling->answer->figure[i]) && is_in(telling, &telling->answer->figure[i], c))
                said += telling->answer->figure[i].change[c]->worse;
    return said;
}

/* How many parts of the curves of a kind changed in that direction. */
static size_t count_regions(const struct telling *telling, const struct lds_series_kind *kind, enum lds_word word)
{
    size_t count = 0;
    for (size_t g = 0; g < telling->groups; g++)
        for (size_t c = 0; c < telling->group[g].comparison->channels; c++) {
            const struct lds_compared_channel *channel = &telling->group[g].comparison->channel[c];
            for (size_t a = 0; (telling->only == 0 || telling->only == channel->channel) && a < channel->axes; a++)
                for (size_t i = 0; i < channel->axis[a].regions; i++)
                    count += channel->axis[a].kind == kind && channel->axis[a].region[i].word == word;
        }
    return count;
}

static const struct way {
    enum lds_word word;
    const char *name;
    enum lds_worse worse;
} ways[] = {{LDS_LOWER, "lower", LDS_WORSE_DOWN}, {LDS_HIGHER, "higher", LDS_WORSE_UP}};
enum { WAYS = sizeof ways / sizeof ways[0] };

static bool way_is_worse(const struct lds_series_kind *kind, const struct way *way)
{
    return kind->worse == way->worse;
}

static const char *range_of(const struct lds_series_kind *kind)
{
    switch (kind->column[kind->axis].quantity) {
    case LDS_QUANTITY_POWER:
        return "over part of the power range";
    case LDS_QUANTITY_SECONDS:
        return "for part of the time";
    default:
        return "over part of the frequency range";
    }
}

/* "Noise is higher (worse) over part of the frequency range." */
static void print_region(const struct telling *telling, const struct lds_series_kind *kind, const struct way *way)
{
    const char *what = kind->part ? kind->part : kind->label;
    fprintf(telling->out, "%c%s is %s%s %s. ", toupper((unsigned char)what[0]), what + 1, way->name,
            way_is_worse(kind, way) ? " (worse)" : "", range_of(kind));
}

/* Whether the sum that a kind is a part of changed somewhere. */
static bool is_told_by_sum(const struct telling *telling, const struct lds_series_kind *kind)
{
    const struct lds_series_kind *sum = kind->part_of ? lds_series_kind_find(kind->part_of) : NULL;
    return sum && count_regions(telling, sum, LDS_LOWER) + count_regions(telling, sum, LDS_HIGHER) > 0;
}

/* Parts that became worse although their sum changed only in the other direction: "worse over a part of the range: 2nd
 * harmonic, 4th harmonic." */
static bool print_parts(const struct telling *telling, const struct lds_series_kind *kind, size_t kinds)
{
    struct words words = {0};
    bool any = false;
    for (size_t k = 0; k < kinds; k++)
        for (size_t w = 0; w < WAYS; w++)
            if (is_told_by_sum(telling, &kind[k]) && way_is_worse(&kind[k], &ways[w]) &&
                count_regions(telling, lds_series_kind_find(kind[k].part_of), ways[w].word) == 0 &&
                count_regions(telling, &kind[k], ways[w].word) > 0) {
                put(&words, kind[k].part);
                any = true;
            }
    print_sentence(telling->out, "worse over a part of the range: ", &words, ".");
    return any;
}

static bool has_region(const struct telling *telling, size_t group, const struct lds_series_kind *kind)
{
    const struct telling one = {.group = &telling->group[group], .groups = 1, .only = telling->only};
    return count_regions(&one, kind, LDS_LOWER) + count_regions(&one, kind, LDS_HIGHER) > 0;
}

/* Whether a figure of the answer already says it: a corner frequency stands for the gain curve, distortion at one
 * frequency or power for its curve. */
static bool is_told_by_figure(const struct telling *telling, const struct lds_series_kind *kind, const struct way *way)
{
    for (size_t i = 0; i < telling->answer->figures; i++) {
        const struct lds_answer_figure *figure = &telling->answer->figure[i];
        if (figure->name.row->family != kind->family || !is_said(telling, figure))
            continue;
        for (size_t c = 0; c < figure->channels; c++) {
            const struct lds_change *change = figure->change[c];
            if (is_in(telling, figure, c) && outcome_of(change) == MOVED &&
                (kind->family == LDS_FAMILY_LEVEL ? has_region(telling, figure->group, kind)
                                                  : change->word == way->word))
                return true;
        }
    }
    return false;
}

/* Returns whether one is worse. */
static bool print_regions(const struct telling *telling)
{
    size_t kinds;
    bool any = false;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++)
        for (size_t w = 0; w < WAYS; w++) {
            if (count_regions(telling, &kind[k], ways[w].word) == 0 || is_told_by_sum(telling, &kind[k]))
                continue;
            const bool worse = way_is_worse(&kind[k], &ways[w]);
            if (worse || !is_told_by_figure(telling, &kind[k], &ways[w]))
                print_region(telling, &kind[k], &ways[w]);
            any = any || worse;
        }
    return print_parts(telling, kind, kinds) || any;
}

static void print_rest(const struct telling *telling)
{
    struct tally tally = {0};
    for (size_t g = 0; g < telling->groups; g++)
        for (size_t c = 0; c < telling->group[g].comparison->channels; c++)
            if (telling->only == 0 || telling->only == telling->group[g].comparison->channel[c].channel)
                count_channel(&telling->group[g].comparison->channel[c], &tally);
    size_t more = tally.worse - count_said(telling);
    if (more > 0)
        fprintf(telling->out, "%zu more figure%s worse. ", more, more == 1 ? " is" : "s are");
    if (tally.lines == 1)
        fputs("A single line is higher (worse). ", telling->out);
    else if (tally.lines > 1)
        fprintf(telling->out, "%zu single lines are higher (worse). ", tally.lines);
    if (!print_regions(telling) && tally.worse + tally.lines == 0)
        fputs(tally.moved ? "Nothing is worse. " : "", telling->out);
}

/* "2 limits are exceeded: THD and 1 more." */
static void print_limits(const struct telling *telling)
{
    size_t over = 0;
    struct lds_label first = {""};
    for (size_t g = 0; g < telling->groups; g++)
        for (size_t c = 0; c < telling->group[g].comparison->channels; c++) {
            const struct lds_compared_channel *channel = &telling->group[g].comparison->channel[c];
            for (size_t i = 0; i < channel->limits && (telling->only == 0 || telling->only == channel->channel); i++)
                if (channel->limit[i].result == LDS_OVER && over++ == 0)
                    first = lds_text_label(channel->limit[i].key, NULL);
        }
    if (over == 1)
        fprintf(telling->out, "A limit is exceeded: %s. ", first.text);
    else if (over > 1)
        fprintf(telling->out, "%zu limits are exceeded: %s and %zu more. ", over, first.text, over - 1);
}

static char *tell(const struct telling *what)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return NULL;
    struct telling telling = *what;
    telling.out = scrap.out;
    print_changes(&telling);
    print_outcome(&telling, SAME, "", " did not change.");
    print_outcome(&telling, UNTOLD, "whether ", " changed cannot be told.");
    print_outcome(&telling, HIDDEN, "", ": any change is hidden by the capture chain.");
    print_rest(&telling);
    print_limits(&telling);
    if (!lds_scrap_close(&scrap))
        return NULL;
    if (scrap.size > 0) /* the last blank */
        scrap.text[scrap.size - 1] = '\0';
    return scrap.text;
}

bool lds_answer_say(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups)
{
    struct telling telling = {NULL, answer, group, groups, 0};
    answer->verdict = tell(&telling);
    if (!answer->verdict)
        return false;
    size_t channels = groups > 0 ? group[0].comparison->channels : 0;
    answer->channel_verdict = calloc(channels + 1, sizeof *answer->channel_verdict);
    for (size_t c = 0; answer->channel_verdict && c < channels; c++) {
        telling.only = group[0].comparison->channel[c].channel;
        answer->channel_verdict[answer->channels++] = tell(&telling);
        if (!answer->channel_verdict[c])
            return false;
    }
    return answer->channel_verdict != NULL;
}
