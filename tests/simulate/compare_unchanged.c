/* An unchanged amplifier recorded twice, with nothing touched in between: how many comparisons report any change, how
 * often the interval of a change holds the truth, what share of the figures is called the same, and how often the noise
 * is reported to have changed anywhere along the frequency axis. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/amplifier.h"

static const struct sim_amplifier kinds[] = {
    {.rate_hz = 48e3,
     .seconds = 2.0,
     .level = 0.4,
     .harmonic_db = {0, 0, -85.0, -92.0, -INFINITY, -112.0},
     .hum = {0, 8e-6, 5e-6, 3e-6, 0.0, 1e-6},
     .spur_hz = 15211.7,
     .spur = 4e-6,
     .density = 5e-8},
    {.rate_hz = 48e3,
     .seconds = 2.0,
     .hum = {0, 8e-6, 5e-6, 3e-6, 0.0, 2.4e-7}, /* order 5 only just stands out */
     .spur_hz = 15211.7,
     .spur = 5e-7,
     .density = 5e-8},
    {.rate_hz = 48e3,
     .seconds = 2.0,
     .level = 0.4,
     .harmonic_db = {0, 0, -133.0, -137.0, -136.0, -INFINITY}, /* harmonics that come and go */
     .hum = {0, 1.5e-7, 1e-7, 1e-7, 0.0, 1e-7},
     .density = 5e-8},
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

struct tally {
    int tables, called, called_lines, regions;
    long held, seen, judged, same;
};

static void count_limits(const struct lds_comparison *comparison, struct tally *tally)
{
    for (size_t i = 0; i < comparison->channel[0].changes; i++) {
        const struct lds_change *change = &comparison->channel[0].change[i];
        if (!change->judged || isnan(change->low) || isnan(change->high))
            continue;
        tally->seen++;
        tally->held += change->low <= 0.0 && 0.0 <= change->high;
    }
}

static void report_call(const struct lds_comparison *comparison, int kind, int pair)
{
    for (size_t i = 0; i < comparison->channel[0].changes; i++) {
        const struct lds_change *c = &comparison->channel[0].change[i];
        if (c->judged && sim_is_called(c->word))
            printf("#   kind %d pair %d: %s %s %.3g (%.3g .. %.3g) p %.2g\n", kind, pair, c->key,
                   lds_word_name(c->word), c->change, c->low, c->high, c->p_adjusted);
    }
    for (size_t i = 0; i < comparison->channel[0].lines; i++) {
        const struct lds_line_change *l = &comparison->channel[0].line[i];
        if (sim_is_called(l->word))
            printf("#   kind %d pair %d: line %d of %s at %.1f Hz %s %.3g (%.3g .. %.3g)\n", kind, pair, l->order,
                   l->kind->key, l->frequency_hz, lds_word_name(l->word), l->change_db, l->low_db, l->high_db);
    }
    for (size_t i = 0; i < lds_compared_axis(&comparison->channel[0], "floor")->regions; i++) {
        const struct lds_axis_span *r = &lds_compared_axis(&comparison->channel[0], "floor")->region[i];
        printf("#   kind %d pair %d: %.1f to %.1f Hz %.3g (%.3g .. %.3g) p %.2g\n", kind, pair, r->from, r->to,
               r->change, r->low, r->high, r->p_adjusted);
    }
}

/* after_seconds: length of the second capture. */
static void one_pair(const struct sim_amplifier *amplifier, int kind, int pair, double after_seconds, bool repeat_none,
                     struct sim_random *random, struct tally *tally)
{
    struct sim_amplifier again = *amplifier;
    again.seconds = after_seconds;
    struct lds_measurement before, after;
    struct lds_comparison comparison;
    struct lds_compare_options options;
    struct sim_calls calls;
    lds_compare_options_init(&options);
    options.repeat_none = repeat_none;
    sim_amplifier_measure(amplifier, NULL, random, &before);
    sim_amplifier_measure(&again, NULL, random, &after);
    sim_compare((struct lds_side){&before, 1}, (struct lds_side){&after, 1}, &options, &comparison);
    sim_calls_count(&comparison, &calls);
    tally->tables++;
    tally->called += calls.changes + calls.lines > 0;
    tally->called_lines += calls.lines > 0;
    tally->regions += calls.regions > 0;
    tally->judged += calls.judged;
    tally->same += calls.same;
    count_limits(&comparison, tally);
    if (calls.changes + calls.lines + calls.regions > 0)
        report_call(&comparison, kind, pair);
    lds_comparison_free(&comparison);
    lds_measurement_free(&before);
    lds_measurement_free(&after);
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "an unchanged amplifier, nothing touched in between");
    sim_random_seed(&random, run.seed);
    struct tally bare = {0}, same = {0}, uneven = {0};
    const int pairs = run.full ? 2001 : 90, longer = run.full ? 60 : 6;
    for (int i = 0; i < pairs; i++)
        one_pair(&kinds[i % KINDS], i % KINDS, i, kinds[i % KINDS].seconds, true, &random, &bare);
    for (int i = 0; i < longer; i++) {
        struct sim_amplifier amplifier = kinds[i % 2];
        amplifier.seconds = 10.0;
        one_pair(&amplifier, i % 2, i, 10.0, false, &random, &same);
    }
    for (int i = 0; i < longer * 5; i++)
        one_pair(&kinds[i % 2], i % 2, i, 5.0, true, &random, &uneven);
    /* The reduced form allows one chance report. */
    const double most = run.full ? 1.0 : 100.0 / bare.tables + 1e-9;
    sim_row(&run, "tables with any lower or higher, no repeatability", 100.0 * bare.called / bare.tables, -INFINITY,
            most, "%");
    sim_row(&run, "tables with any part of the frequency axis called", 100.0 * bare.regions / bare.tables, -INFINITY,
            most, "%");
    sim_row(&run, "2 s before, 5 s after: tables with any call or part of the axis",
            100.0 * (uneven.called + uneven.regions) / uneven.tables, -INFINITY,
            run.full ? 2.0 : 200.0 / uneven.tables + 1e-9, "%"); /* two tests at 1 % each */
    sim_row(&run, "interval of the change holds none", 100.0 * (double)bare.held / (double)bare.seen,
            run.full ? 94.0 : 92.5, run.full ? 97.0 : 98.0, "%");
    sim_row(&run, "10 s, default repeatability: figures called same", 100.0 * (double)same.same / (double)same.judged,
            80.0, 100.0, "%");
    sim_row(&run, "10 s, default repeatability: tables with any call", 100.0 * same.called / same.tables, -INFINITY,
            0.0, "%");
    return sim_run_end(&run);
}
