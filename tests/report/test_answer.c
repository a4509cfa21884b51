/* The answer says what the figures say: random comparisons, each sentence checked against the changes that it names. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/answer.h"
#include "report/client.h"

enum { COMPARISONS = 1000, KEYS = 14, CHANNELS = 2 };

static const char *const keys[KEYS] = {"tone.level",
                                       "level.rms",
                                       "thd",
                                       "thd_n",
                                       "sinad",
                                       "snr",
                                       "noise.a",
                                       "level.dc",
                                       "noise.band.20-20k",
                                       "noise.band.20k-100k",
                                       "mains.total",
                                       "mains.odd",
                                       "mains.buzz",
                                       "balance.1-2"};
/* What the sentences call them; NULL: nothing. */
static const char *const nouns[KEYS] = {"level",     NULL,   "distortion", NULL,  NULL, NULL, NULL,
                                        "DC offset", "hiss", NULL,         "hum", NULL, NULL, "balance"};

static uint64_t state;

static unsigned dice(unsigned sides)
{
    state = state * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)(state >> 33) % sides;
}

static struct lds_change random_change(const char *key)
{
    const struct lds_key *row = lds_key_find(key);
    struct lds_change change = {.key = (char *)(uintptr_t)key, .judged = true, .matters = 0.5};
    bool volts = strcmp(key, "level.dc") == 0;
    change.word = (enum lds_word)dice(LDS_WORDS);
    double size = volts ? 1e-3 * (1 + dice(200)) : 0.1 * (6 + dice(300));
    bool down = change.word == LDS_LOWER || change.word == LDS_SLIGHTLY_LOWER;
    bool up = change.word == LDS_HIGHER || change.word == LDS_SLIGHTLY_HIGHER;
    snprintf(change.unit, sizeof change.unit, volts ? "V" : "dB");
    change.change = down ? -size : up ? size : 0.01;
    change.low = change.change - 0.1 * size;
    change.high = change.change + 0.1 * size;
    bool moved = change.word == LDS_LOWER || change.word == LDS_HIGHER;
    change.worse = moved && ((row->worse == LDS_WORSE_UP && up) || (row->worse == LDS_WORSE_DOWN && down));
    if (moved && dice(8) == 0) {
        change.at_least = true;
        change.change = NAN;
        *(down ? &change.low : &change.high) = NAN;
    }
    return change;
}

struct made {
    struct lds_comparison comparison;
    struct lds_compared_channel channel[CHANNELS];
    struct lds_change change[CHANNELS][KEYS];
};

static void make(struct made *made, size_t channels)
{
    *made = (struct made){.comparison = {.channels = channels, .channel = made->channel}};
    for (size_t c = 0; c < channels; c++) {
        made->channel[c] = (struct lds_compared_channel){.channel = (int)c + 1, .change = made->change[c]};
        for (size_t k = 0; k < KEYS; k++) {
            bool pair = strncmp(keys[k], "balance", 7) == 0;
            if (dice(4) > 0 && (!pair || c == 1))
                made->change[c][made->channel[c].changes++] = random_change(keys[k]);
        }
    }
}

static const struct lds_change *find(const struct lds_compared_channel *channel, const char *key)
{
    for (size_t i = 0; i < channel->changes; i++)
        if (strcmp(channel->change[i].key, key) == 0)
            return &channel->change[i];
    return NULL;
}

static bool in_table(const struct lds_answer *answer, const char *key, int channel)
{
    for (size_t i = 0; i < answer->figures; i++)
        for (size_t c = 0; c < answer->figure[i].channels; c++)
            if (strcmp(answer->figure[i].key, key) == 0 && answer->figure[i].channel[c] == channel)
                return true;
    return false;
}

/* The sentences of the verdict that hold the noun, in small letters. */
static void sentence_of(const char *verdict, const char *noun, char *sentence, size_t size)
{
    sentence[0] = '\0';
    for (const char *from = verdict; *from;) {
        const char *end = strstr(from, ". ");
        size_t length = end ? (size_t)(end - from) + 1 : strlen(from);
        char one[400];
        snprintf(one, sizeof one, "%.*s", (int)length, from);
        for (char *c = one; *c; c++)
            *c = (char)tolower((unsigned char)*c);
        char lower[64];
        snprintf(lower, sizeof lower, "%s", noun);
        for (char *c = lower; *c; c++)
            *c = (char)tolower((unsigned char)*c);
        const char *at = strstr(one, lower);
        if (at && (at == one || at[-1] == ' '))
            snprintf(sentence + strlen(sentence), size - strlen(sentence), "%s ", one);
        from += length;
        from += strspn(from, " ");
    }
}

/* What the sentence must hold of a change. */
static void expected(const struct lds_change *change, char *words, size_t size)
{
    bool down = change->word == LDS_LOWER || change->word == LDS_SLIGHTLY_LOWER;
    double amount = fabs(!change->at_least ? change->change : down ? change->high : change->low);
    const char *least = change->at_least ? "at least " : "", *way = down ? "lower" : "higher";
    if (change->word == LDS_SAME)
        snprintf(words, size, "did not change");
    else if (change->word == LDS_UNRESOLVED)
        snprintf(words, size, "cannot be told");
    else if (change->word == LDS_HIDDEN_BY_CHAIN)
        snprintf(words, size, "hidden by the capture chain");
    else if (change->word == LDS_SLIGHTLY_LOWER || change->word == LDS_SLIGHTLY_HIGHER)
        snprintf(words, size, "slightly %s", way);
    else if (strcmp(change->unit, "dB") == 0)
        snprintf(words, size, "%s%.*f db %s%s", least, amount < 9.95 ? 1 : 0, amount, way,
                 change->worse ? " (worse)" : "");
    else /* volts: the number is that of lds_reading, which is tested elsewhere */
        snprintf(words, size, "v %s%s", way, change->worse ? " (worse)" : "");
}

static void hold(const struct made *made, const struct lds_answer *answer, size_t c, int number)
{
    const struct lds_compared_channel *channel = &made->channel[c];
    const char *verdict = answer->channel_verdict[c];
    size_t worse = 0;
    bool moved = false;
    for (size_t k = 0; k < KEYS; k++) {
        const struct lds_change *change = find(channel, keys[k]);
        char sentence[512], words[96];
        if (!change)
            continue;
        worse += change->worse;
        moved = moved || change->word == LDS_LOWER || change->word == LDS_HIGHER;
        if (!nouns[k] || !in_table(answer, keys[k], channel->channel))
            continue;
        sentence_of(verdict, nouns[k], sentence, sizeof sentence);
        expected(change, words, sizeof words);
        if (!strstr(sentence, words))
            fail_msg("comparison %d: '%s' expected of %s in '%s'", number, words, keys[k], verdict);
    }
    bool nothing = strstr(verdict, "Nothing is worse.") != NULL;
    bool says_worse = strstr(verdict, "worse") != NULL && !nothing;
    if (says_worse != (worse > 0) || nothing != (moved && worse == 0))
        fail_msg("comparison %d: %zu are worse, and it says '%s'", number, worse, verdict);
}

static void sentences_agree_with_the_table(void **unused)
{
    (void)unused;
    state = 20260517;
    for (int i = 0; i < COMPARISONS; i++) {
        struct made made;
        struct lds_answer answer;
        struct lds_error error;
        make(&made, 1 + dice(CHANNELS));
        const struct lds_answer_group group = {.comparison = &made.comparison};
        assert_int_equal(lds_answer_make(&answer, &group, 1, &error), LDS_OK);
        assert_int_equal(answer.channels, made.comparison.channels);
        assert_true(answer.figures <= LDS_ANSWER_FIGURES);
        for (size_t c = 0; c < answer.channels; c++)
            hold(&made, &answer, c, i);
        lds_answer_free(&answer);
    }
}

/* Whether a ranked figure in the table says that the family of a key became worse. */
static bool is_spoken_for(const struct lds_answer *answer, const char *key)
{
    const struct lds_figure_name name = lds_key_read(key);
    for (size_t f = 0; f < answer->figures; f++)
        for (size_t c = 0; c < answer->figure[f].channels; c++)
            if (lds_figure_rank(&answer->figure[f].name) > 0 && answer->figure[f].change[c]->worse &&
                answer->figure[f].name.row->family == name.row->family)
                return true;
    return false;
}

/* What became worse, or else a ranked figure of its family, stands in the table before anything else; a ranked figure
 * that became worse always does. */
static void what_is_worse_is_in_the_table(void **unused)
{
    (void)unused;
    state = 1;
    size_t worse = 0, left_out = 0;
    for (int i = 0; i < COMPARISONS; i++) {
        struct made made;
        struct lds_answer answer;
        struct lds_error error;
        make(&made, CHANNELS);
        const struct lds_answer_group group = {.comparison = &made.comparison};
        assert_int_equal(lds_answer_make(&answer, &group, 1, &error), LDS_OK);
        for (size_t c = 0; c < CHANNELS; c++)
            for (size_t k = 0; k < made.channel[c].changes; k++) {
                const struct lds_change *change = &made.change[c][k];
                const struct lds_figure_name name = lds_key_read(change->key);
                if (!change->worse)
                    continue;
                bool missing = !in_table(&answer, change->key, (int)c + 1);
                worse++;
                left_out += missing;
                assert_false(missing && (lds_figure_rank(&name) > 0 || !is_spoken_for(&answer, change->key)));
            }
        lds_answer_free(&answer);
    }
    assert_true(worse > COMPARISONS && left_out > 0);
}

/* Groups of a job: hum is taken from the idle one, distortion from the tone, and names stand for channels. */
static void groups_and_names(void **unused)
{
    (void)unused;
    char left[] = "left", right_name[] = "right";
    struct lds_change idle[] = {{.key = "mains.total",

                                 .unit = "dB",
                                 .judged = true,
                                 .change = -19.2,
                                 .matters = 1,
                                 .word = LDS_LOWER},
                                {.key = "noise.band.20-20k",

                                 .unit = "dB",
                                 .judged = true,
                                 .change = 0,
                                 .matters = 1,
                                 .word = LDS_SAME}};
    struct lds_change right[] = {{.key = "mains.total",

                                  .unit = "dB",
                                  .judged = true,
                                  .change = -21.0,
                                  .matters = 1,
                                  .word = LDS_LOWER}};
    struct lds_change sine[] = {{.key = "mains.total",

                                 .unit = "dB",
                                 .judged = true,
                                 .change = -12,
                                 .matters = 1,
                                 .word = LDS_LOWER},
                                {.key = "thd",

                                 .unit = "dB",
                                 .judged = true,
                                 .change = -7.4,
                                 .matters = 1,
                                 .word = LDS_LOWER}};
    struct lds_compared_channel of_idle[] = {{.channel = 1, .name = left, .changes = 2, .change = idle},
                                             {.channel = 2, .name = right_name, .changes = 1, .change = right}};
    struct lds_compared_channel of_sine[] = {{.channel = 1, .name = left, .changes = 2, .change = sine}};
    struct lds_comparison one = {.channels = 1, .channel = of_sine}, other = {.channels = 2, .channel = of_idle};
    const struct lds_answer_group group[] = {{.comparison = &one, .title = "10 W"},
                                             {.comparison = &other, .idle = true}};
    struct lds_answer answer;
    struct lds_error error;
    assert_int_equal(lds_answer_make(&answer, group, 2, &error), LDS_OK);
    assert_string_equal(answer.verdict, "Hum is 19 dB lower on the left and 21 dB lower on the right. Distortion at "
                                        "10 W is 7.4 dB lower. Hiss did not change. Nothing is worse.");
    lds_answer_free(&answer);
}

/* The table has the distortion at each power, with the power in brackets if the tone is named too; what did not change
 * is said once. */
static void each_power_has_its_distortion(void **unused)
{
    (void)unused;
    struct lds_change low[] = {
        {.key = "thd", .unit = "dB", .judged = true, .change = -7.4, .matters = 1, .word = LDS_LOWER},
        {.key = "tone.level", .unit = "dB", .judged = true, .change = 0, .matters = 1, .word = LDS_SAME}};
    struct lds_change high[] = {
        {.key = "thd", .unit = "dB", .judged = true, .change = 3.2, .matters = 1, .word = LDS_HIGHER, .worse = true},
        {.key = "tone.level", .unit = "dB", .judged = true, .change = 0, .matters = 1, .word = LDS_SAME}};
    struct lds_compared_channel of_low = {.channel = 1, .changes = 2, .change = low},
                                of_high = {.channel = 1, .changes = 2, .change = high};
    struct lds_comparison one = {.channels = 1, .channel = &of_low}, other = {.channels = 1, .channel = &of_high};
    const struct lds_answer_group group[] = {{.comparison = &one, .title = "1 W"},
                                             {.comparison = &other, .title = "10 W, 6 kHz"}};
    struct lds_answer answer;
    struct lds_error error;
    assert_int_equal(lds_answer_make(&answer, group, 2, &error), LDS_OK);
    assert_string_equal(answer.verdict, "Distortion at 1 W is 7.4 dB lower. Distortion (10 W, 6 kHz) is 3.2 dB higher "
                                        "(worse). Level at 1 W did not change.");
    lds_answer_free(&answer);
}

/* ---- the same figure of several groups ---- */

/* Hum of a unit by channel and group: idle, at 10 W, idle before another input. */
enum { HUM_GROUPS = 3 };

static struct lds_change of_hum(double change_db)
{
    const bool up = change_db > 0.0;
    return (struct lds_change){.key = "mains.total",
                               .unit = "dB",
                               .judged = true,
                               .change = change_db,
                               .low = change_db - 2.0,
                               .high = change_db + 2.0,
                               .matters = 1.0,
                               .word = fabs(change_db) < 0.5 ? LDS_SAME
                                       : up                  ? LDS_HIGHER
                                                             : LDS_LOWER,
                               .worse = change_db >= 0.5};
}

/* What is said of those changes of the hum, and how often each name stands in the table. */
static void hold_hum(const double change_db[HUM_GROUPS][CHANNELS], const char *verdict, size_t rows)
{
    static char left[] = "left", right[] = "right";
    struct lds_change change[HUM_GROUPS][CHANNELS];
    struct lds_compared_channel channel[HUM_GROUPS][CHANNELS];
    struct lds_comparison comparison[HUM_GROUPS];
    for (size_t g = 0; g < HUM_GROUPS; g++) {
        comparison[g] = (struct lds_comparison){.channels = CHANNELS, .channel = channel[g]};
        for (size_t c = 0; c < CHANNELS; c++) {
            change[g][c] = of_hum(change_db[g][c]);
            channel[g][c] = (struct lds_compared_channel){
                .channel = (int)c + 1, .name = c ? right : left, .changes = 1, .change = &change[g][c]};
        }
    }
    const struct lds_answer_group group[] = {
        {.comparison = &comparison[0], .name = "idle, card", .idle = true},
        {.comparison = &comparison[1], .name = "sine, 10 W", .title = "10 W"},
        {.comparison = &comparison[2], .name = "idle, digitiser", .idle = true},
    };
    struct lds_answer answer;
    struct lds_error error;
    struct lds_client client = {0};
    assert_int_equal(lds_answer_make(&answer, group, HUM_GROUPS, &error), LDS_OK);
    assert_string_equal(answer.verdict, verdict);
    lds_client_rows(&client, &answer);
    assert_int_equal(client.rows, rows);
    for (size_t i = 0; i < client.rows; i++)
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(client.row[i].label.text, client.row[k].label.text);
    lds_answer_free(&answer);
}

/* Told once where all groups say the same, better or worse; what is worse elsewhere, or shown to be worse there by
 * more than matters, stands there too, each with the name of its group. */
static void one_figure_of_several_groups(void **unused)
{
    (void)unused;
    static const double better[][2] = {{-19, -21}, {-19, -21}, {-19, -21}}, worse[][2] = {{19, 21}, {19, 21}, {19, 21}},
                        by_side[][2] = {{19, 0}, {0, 0}, {0, 21}}, much[][2] = {{3, 0}, {9, 0}, {3.5, 0}},
                        about[][2] = {{3, 0}, {5, 0}, {3.5, 0}};
    hold_hum(better, "Hum is 19 dB lower on the left and 21 dB lower on the right. Nothing is worse.", 1);
    hold_hum(worse,
             "Hum is 19 dB higher (worse) on the left and 21 dB higher (worse) on the right. 4 more figures are worse.",
             1);
    hold_hum(
        by_side,
        "Hum (idle, card) is 19 dB higher (worse) on the left and unchanged on the right. Hum (idle, digitiser) is "
        "unchanged on the left and 21 dB higher (worse) on the right.",
        2);
    hold_hum(much,
             "Hum (idle, card) is 3.0 dB higher (worse) on the left and unchanged on the right. Hum at 10 W is 9.0 dB "
             "higher (worse) on the left and unchanged on the right. 1 more figure is worse.",
             2);
    hold_hum(about, "Hum is 3.0 dB higher (worse) on the left and unchanged on the right. 2 more figures are worse.",
             1);
}

/* Two orders of intermodulation have one noun; in a group that has both, their labels tell them apart. */
static void one_noun_of_two_figures(void **unused)
{
    (void)unused;
    struct lds_change change[] = {
        {.key = "imd.difference.2",
         .unit = "dB",
         .judged = true,
         .change = 4,
         .matters = 1,
         .word = LDS_HIGHER,
         .worse = true},
        {.key = "imd.difference.3", .unit = "dB", .judged = true, .change = -3, .matters = 1, .word = LDS_LOWER}};
    struct lds_compared_channel channel = {.channel = 1, .changes = 2, .change = change};
    struct lds_comparison comparison = {.channels = 1, .channel = &channel};
    const struct lds_answer_group group = {.comparison = &comparison};
    struct lds_answer answer;
    struct lds_error error;
    assert_int_equal(lds_answer_make(&answer, &group, 1, &error), LDS_OK);
    assert_string_equal(answer.verdict, "Difference product, 2nd order is 4.0 dB higher (worse). Difference products, "
                                        "3rd order is 3.0 dB lower.");
    lds_answer_free(&answer);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sentences_agree_with_the_table),
        cmocka_unit_test(what_is_worse_is_in_the_table),
        cmocka_unit_test(groups_and_names),
        cmocka_unit_test(each_power_has_its_distortion),
        cmocka_unit_test(one_figure_of_several_groups),
        cmocka_unit_test(one_noun_of_two_figures),
    };
    return cmocka_run_group_tests_name("answer", tests, NULL, NULL);
}
