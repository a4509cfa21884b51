/* What is said about a recording is true: each sentence under its conditions, and no others. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "record/record.h"
#include "report/text.h"

static const char NOTHING[] = "Capture sound: no clipping, gaps or missing bits.";
static const char WARM_UP[] = "let the amplifier and the source warm up";
static const char NO_CHAIN[] = "The capture chain was not measured:";

static void hear(void *context, const char *sentence)
{
    char *heard = context;
    strcat(heard, sentence);
    strcat(heard, "\n");
}

/* A channel of four figures, checked and without fault. */
static struct lds_channel make(enum lds_signal_kind kind)
{
    struct lds_channel channel = {.channel = 1, .calibrated = true, .signal.kind = kind};
    static const char *const keys[] = {"capture.clipped", "tone.level", "thd", "noise.a"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        struct lds_figure *figure = lds_channel_add(&channel, keys[i]);
        assert_non_null(figure);
        figure->value = 0.0;
        figure->flags = 0;
    }
    return channel;
}

static void say(struct lds_channel *channel, char heard[2000])
{
    const struct lds_listener listener = {hear, heard};
    heard[0] = '\0';
    lds_trust_say(channel, &listener);
    struct lds_measurement owner = {.channels = 1, .channel = malloc(sizeof *channel)};
    assert_non_null(owner.channel);
    *owner.channel = *channel;
    lds_measurement_free(&owner);
}

static void expect(const char *heard, const char *words, bool there)
{
    if ((strstr(heard, words) != NULL) != there)
        fail_msg("'%s' %s in: %s", words, there ? "expected" : "not expected", heard);
}

static void add_problem(struct lds_channel *channel, const char *kind)
{
    channel->problem = calloc(1, sizeof *channel->problem);
    assert_non_null(channel->problem);
    snprintf(channel->problem->kind, sizeof channel->problem->kind, "%s", kind);
    channel->problems = 1;
}

static void nothing_speaks_against_it(void **state)
{
    (void)state;
    static const struct {
        enum lds_signal_kind kind;
        unsigned flags;
        const char *problem, *words;
        bool nothing;
    } row[] = {
        {LDS_SIGNAL_SINE, 0, NULL, "", true},
        {LDS_SIGNAL_SILENCE, 0, NULL, "", true},
        {LDS_SIGNAL_NONE, 0, NULL, "", true},
        {LDS_SIGNAL_TWO_TONE, 0, NULL, "two tones, 19 kHz and 20 kHz", true},
        {LDS_SIGNAL_SINE, LDS_FLAG_NEAR_LINE, NULL, "", true},
        {LDS_SIGNAL_SINE, 0, NULL, "one tone that is there for part of it", false},
        {LDS_SIGNAL_SILENCE, 0, NULL, "a tone of 50 Hz, or hum", false},
        {LDS_SIGNAL_PROGRAMME, 0, NULL, "music", false},
        {LDS_SIGNAL_SWEEP, 0, NULL, "", false},
        {LDS_SIGNAL_BURST, 0, NULL, "", false},
        {LDS_SIGNAL_POWER_ON, 0, NULL, "", false},
        {LDS_SIGNAL_SINE, LDS_FLAG_DRIFTING, NULL, "", false},
        {LDS_SIGNAL_SINE, LDS_FLAG_GAP, NULL, "", false},
        {LDS_SIGNAL_SINE, LDS_FLAG_CLIPPED, NULL, "", false},
        {LDS_SIGNAL_SINE, LDS_FLAG_FEW_BITS, NULL, "", false},
        {LDS_SIGNAL_SINE, 0, "clipped", "", false},
        {LDS_SIGNAL_SINE, 0, "gap", "", false},
        {LDS_SIGNAL_SINE, 0, LDS_PROBLEM_AMPLIFIER_CLIPS, "", false},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char heard[2000];
        struct lds_channel channel = make(row[i].kind);
        channel.figure[2].flags = row[i].flags;
        snprintf(channel.signal.words, sizeof channel.signal.words, "%s", row[i].words);
        if (row[i].problem)
            add_problem(&channel, row[i].problem);
        say(&channel, heard);
        expect(heard, NOTHING, row[i].nothing);
    }
}

static void warming_up_is_advised_where_it_helps(void **state)
{
    (void)state;
    for (int kind = LDS_SIGNAL_NONE; kind < LDS_SIGNALS; kind++)
        for (int gap = 0; gap < 2; gap++) {
            char heard[2000];
            struct lds_channel channel = make((enum lds_signal_kind)kind);
            channel.figure[1].flags = LDS_FLAG_DRIFTING | (gap ? LDS_FLAG_GAP : 0u);
            say(&channel, heard);
            expect(heard, WARM_UP, kind == LDS_SIGNAL_SINE && !gap);
            expect(heard, "The tone moves more than some figures allow for", true);
        }
}

static void a_fault_is_said_of_the_figures_that_it_touches(void **state)
{
    (void)state;
    for (int marked = 0; marked < 2; marked++) {
        char heard[2000];
        struct lds_channel channel = make(LDS_SIGNAL_SINE);
        channel.figure[0].value = 3.0; /* capture.clipped */
        channel.figure[2].flags = marked ? LDS_FLAG_CLIPPED : 0;
        say(&channel, heard);
        expect(heard, "The recording clips", true);
        expect(heard, "the figures marked so", marked);
        expect(heard, NOTHING, false);
    }
}

static void the_chain_is_missed_where_it_is_missing(void **state)
{
    (void)state;
    static const unsigned flags[] = {LDS_FLAG_CHAIN_NOT_MEASURED, LDS_FLAG_CHAIN_NOT_COMPARABLE};
    static const char *const all[] = {NO_CHAIN, "The recording of the capture chain is not comparable with this one"};
    static const char *const some[] = {"The capture chain was not measured for THD: how much",
                                       "The recording of the capture chain is not comparable in THD: how"};
    for (int f = 0; f < 2; f++)
        for (int marked = 0; marked < 3; marked++) {
            char heard[2000];
            struct lds_channel channel = make(LDS_SIGNAL_SINE);
            channel.figure[2].flags = marked > 0 ? flags[f] : 0;
            channel.figure[3].flags = marked > 1 ? flags[f] | LDS_FLAG_BELOW_FLOOR : 0;
            say(&channel, heard);
            expect(heard, all[f], marked == 2);
            expect(heard, some[f], marked == 1);
            expect(heard, NOTHING, true);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_speaks_against_it),
        cmocka_unit_test(warming_up_is_advised_where_it_helps),
        cmocka_unit_test(a_fault_is_said_of_the_figures_that_it_touches),
        cmocka_unit_test(the_chain_is_missed_where_it_is_missing),
    };
    return cmocka_run_group_tests_name("trust", tests, NULL, NULL);
}
