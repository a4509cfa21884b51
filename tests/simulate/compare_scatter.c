/* An unchanged amplifier with the scatter of re-cabling and warming up between captures: how many comparisons report
 * any change, with one capture a side and the default repeatability, and with repeats of unknown scatter. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/amplifier.h"

enum { MOST_REPEATS = 4 };

static const struct sim_amplifier kinds[] = {
    {.rate_hz = 48e3,
     .seconds = 1.0,
     .level = 0.4,
     .harmonic_db = {0, 0, -85.0, -92.0, -INFINITY, -112.0},
     .hum = {0, 2e-5, 1e-5, 6e-6, 0.0, 2e-6},
     .spur_hz = 15211.7,
     .spur = 4e-6,
     .density = 5e-8},
    {.rate_hz = 48e3, .seconds = 1.0, .hum = {0, 2e-5, 1e-5, 6e-6, 0.0, 4e-7}, .density = 5e-8},
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

struct tally {
    int tables, called, regions;
    long held, seen;
};

static void one_table(const struct sim_amplifier *amplifier, const struct sim_scatter *scatter, size_t repeats,
                      struct sim_random *random, struct tally *tally)
{
    struct lds_measurement capture[2][MOST_REPEATS];
    struct lds_comparison comparison;
    struct lds_compare_options options;
    struct sim_calls calls;
    lds_compare_options_init(&options);
    for (int s = 0; s < 2; s++)
        for (size_t i = 0; i < repeats; i++)
            sim_amplifier_measure(amplifier, scatter, random, &capture[s][i]);
    sim_compare((struct lds_side){capture[0], repeats}, (struct lds_side){capture[1], repeats}, &options, &comparison);
    sim_calls_count(&comparison, &calls);
    tally->tables++;
    tally->called += calls.changes + calls.lines > 0;
    tally->regions += calls.regions > 0;
    for (size_t i = 0; i < comparison.channel[0].changes; i++) {
        const struct lds_change *c = &comparison.channel[0].change[i];
        if (c->judged && !isnan(c->low) && !isnan(c->high)) {
            tally->seen++;
            tally->held += c->low <= 0.0 && 0.0 <= c->high;
        }
        if (c->judged && sim_is_called(c->word))
            printf("#   %s %s %.3g (%.3g .. %.3g) p %.2g\n", c->key, lds_word_name(c->word), c->change, c->low, c->high,
                   c->p_adjusted);
    }
    for (size_t i = 0; i < comparison.channel[0].lines; i++) {
        const struct lds_line_change *l = &comparison.channel[0].line[i];
        if (sim_is_called(l->word))
            printf("#   line %d of %s at %.1f Hz %s %.3g\n", l->order, l->kind->key, l->frequency_hz,
                   lds_word_name(l->word), l->change_db);
    }
    for (size_t i = 0; i < lds_compared_axis(&comparison.channel[0], "floor")->regions; i++) {
        const struct lds_axis_span *r = &lds_compared_axis(&comparison.channel[0], "floor")->region[i];
        printf("#   %.1f to %.1f Hz %.3g (%.3g .. %.3g) p %.2g\n", r->from, r->to, r->change, r->low, r->high,
               r->p_adjusted);
    }
    lds_comparison_free(&comparison);
    for (int s = 0; s < 2; s++)
        for (size_t i = 0; i < repeats; i++)
            lds_measurement_free(&capture[s][i]);
}

static void rows(struct sim_run *run, const char *name, const struct tally *tally, bool cover)
{
    char what[96];
    const double most = run->full ? 1.0 : 100.0 / tally->tables + 1e-9;
    snprintf(what, sizeof what, "%s: any lower or higher", name);
    sim_row(run, what, 100.0 * tally->called / tally->tables, -INFINITY, most, "%");
    snprintf(what, sizeof what, "%s: any part of the axis", name);
    sim_row(run, what, 100.0 * tally->regions / tally->tables, -INFINITY, most, "%");
    if (!cover)
        return;
    /* The figures of a table change together, so the share in the reduced form scatters by several percent. */
    snprintf(what, sizeof what, "%s: interval holds none", name);
    sim_row(run, what, 100.0 * (double)tally->held / (double)tally->seen, run->full ? 94.0 : 86.0,
            run->full ? 97.0 : 100.0, "%");
}

int main(int argc, char **argv)
{
    /* As the defaults declare it; and three times that, which only repeats can show. */
    static const struct sim_scatter declared = {0.03, 0.1, 0.2, 1.0}, unknown = {0.09, 0.3, 0.6, 3.0};
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "an unchanged amplifier, re-cabled between captures");
    sim_random_seed(&random, run.seed);
    struct tally single = {0}, repeated = {0}, steady = {0};
    const int pairs = run.full ? 2000 : 60, tables = run.full ? 2000 : 16;
    for (int i = 0; i < pairs; i++)
        one_table(&kinds[i % KINDS], &declared, 1, &random, &single);
    for (int i = 0; i < tables; i++)
        one_table(&kinds[i % KINDS], &unknown, 4, &random, &repeated);
    for (int i = 0; i < tables / 4; i++)
        one_table(&kinds[i % KINDS], NULL, 4, &random, &steady);
    rows(&run, "declared scatter", &single, true);
    rows(&run, "4 + 4 repeats", &repeated, true);
    rows(&run, "4 + 4 repeats, steady", &steady, false);
    return sim_run_end(&run);
}
