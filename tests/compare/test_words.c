/* The words of a thousand random comparisons against their definition, written out again as simply as possible. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "compare/made.h"
#include "simulate/check.h"
#include "simulate/random.h"

enum { COMPARISONS = 1000, MOST = 4 };
static const uint64_t SEED = 20260901;

/* sign: +1 if more is worse, -1 if less is. size_db: of the changes made. */
static const struct {
    const char *key;
    int sign;
    double value, size_db;
    bool volts;
} figure[] = {
    {"tone.level", 0, 8.0, 0.4, true},
    {"thd", 1, -90.0, 3.0, false},
    {"thd_n", 1, -85.0, 3.0, false},
    {"sinad", -1, 85.0, 3.0, false},
    {"snr", -1, 100.0, 1.0, false},
    {"noise.a", 1, 1e-4, 1.0, true},
    {"noise.band.20-20k", 1, 1e-4, 1.0, true},
    {"mains.total", 1, 5e-5, 8.0, true},
    {"mains.buzz", 1, 1e-6, 8.0, true},
    {"mains.modulation", 1, -100.0, 8.0, false},
};
enum { FIGURES = sizeof figure / sizeof figure[0] };

struct sides {
    struct lds_measurement before[MOST], after[MOST];
    size_t befores, afters;
};

static void put(struct lds_measurement *m, size_t channel, int which, double db, struct sim_random *rng)
{
    double u_db = 0.02 * pow(10.0, sim_random_uniform(rng) * 2.0), value = figure[which].value;
    struct lds_figure *made;
    if (figure[which].volts) {
        value *= pow(10.0, db / 20.0);
        made = made_in(m, channel, figure[which].key, value, value * u_db / 8.686);
    } else {
        made = made_in(m, channel, figure[which].key, value + db, u_db);
    }
    double chance = sim_random_uniform(rng);
    bool level = strcmp(figure[which].key, "tone.level") == 0;
    if (!level && chance < 0.12) {
        made->flags |= LDS_FLAG_CHAIN_LIMITED;
    } else if (!level && chance < 0.2) {
        made->value = made->low = made->u_a = NAN;
        made->flags |= LDS_FLAG_BELOW_FLOOR;
    }
}

static void make_side(struct lds_measurement *m, size_t count, size_t channels, const double db[][FIGURES],
                      struct sim_random *rng)
{
    for (size_t i = 0; i < count; i++) {
        made_capture(&m[i], "made.wav", channels);
        m[i].file[0] = (char)('a' + i);
        m[i].frames += (int64_t)(sim_random_uniform(rng) * 1e6); /* no two are the same recording */
        for (size_t c = 0; c < channels; c++) {
            made_in(&m[i], c + 1, "tone.frequency", 1000.0, 1e-6);
            for (int f = 0; f < FIGURES; f++)
                put(&m[i], c + 1, f, db[c][f] + 0.05 * sim_random_gaussian(rng), rng);
        }
    }
}

static void make(struct sides *s, struct sim_random *rng)
{
    size_t channels = 1 + (sim_random_uniform(rng) < 0.5);
    double none[2][FIGURES] = {{0.0}}, db[2][FIGURES], size = sim_random_uniform(rng) < 0.5 ? 1.0 : 0.2;
    s->befores = 1 + (size_t)(sim_random_uniform(rng) * MOST);
    s->afters = 1 + (size_t)(sim_random_uniform(rng) * MOST);
    for (int c = 0; c < 2; c++)
        for (int f = 0; f < FIGURES; f++)
            db[c][f] = sim_random_uniform(rng) < 0.3 ? 0.0 : size * figure[f].size_db * sim_random_gaussian(rng);
    make_side(s->before, s->befores, channels, none, rng);
    make_side(s->after, s->afters, channels, db, rng);
}

/* ---- the definition again ---- */

/* Holm by its definition: the k-th smallest of n times n - k + 1, no smaller than that of any smaller p. */
static double holm(const struct lds_comparison *c, double p)
{
    double most = 0.0;
    size_t all = 0;
    for (size_t i = 0; i < c->channels; i++)
        for (size_t j = 0; j < c->channel[i].changes; j++)
            all += c->channel[i].change[j].judged;
    for (size_t i = 0; i < c->channels; i++)
        for (size_t j = 0; j < c->channel[i].changes; j++) {
            const struct lds_change *other = &c->channel[i].change[j];
            if (!other->judged || other->p > p)
                continue;
            size_t smaller = 0;
            for (size_t k = 0; k < c->channels; k++)
                for (size_t l = 0; l < c->channel[k].changes; l++)
                    smaller += c->channel[k].change[l].judged && c->channel[k].change[l].p < other->p;
            most = fmax(most, other->p * (double)(all - smaller));
        }
    return fmin(most, 1.0);
}

static const char *defined(const struct lds_comparison *c, const struct lds_change *change)
{
    bool significant = holm(c, change->p) < 0.01, hidden = change->flags & LDS_FLAG_CHAIN_LIMITED;
    bool sized = isfinite(change->change) && !hidden;
    if (significant && sized && change->change > change->matters)
        return "higher";
    if (significant && sized && change->change < -change->matters)
        return "lower";
    if (significant && sized)
        return change->change > 0.0 ? "slightly higher" : "slightly lower";
    if (significant && isfinite(change->low) && change->low > change->matters)
        return "higher"; /* at least */
    if (significant && isfinite(change->high) && change->high < -change->matters)
        return "lower";
    if (hidden)
        return "chain-limited";
    if (isfinite(change->low) && isfinite(change->high) && change->low > -change->matters &&
        change->high < change->matters)
        return "same";
    return "unresolved";
}

/* All known ends are beyond what matters in the worse direction, or the size itself is. */
static bool is_beyond(const struct lds_change *change, int sign)
{
    double size = sign > 0 ? change->change : -change->change, known = sign > 0 ? change->low : -change->high;
    return sign != 0 && (change->at_least ? known : size) > change->matters;
}

/* One capture a side and both sides known: u^2 = u_a^2 + u_b^2 + 2 u_rep^2, and p of the normal distribution. */
static void check_p(const struct sides *s, const struct lds_change *change, double u_rep)
{
    const struct lds_figure *b = lds_channel_figure(&s->before[0].channel[0], "thd"),
                            *a = lds_channel_figure(&s->after[0].channel[0], "thd");
    if (s->befores > 1 || s->afters > 1 || b->flags || a->flags)
        return;
    double u = sqrt(b->u_a * b->u_a + a->u_a * a->u_a + 2.0 * u_rep * u_rep), d = a->value - b->value;
    check_close(change->change, d, 1e-9);
    check_close(change->low, d - 1.959964 * u, 1e-4);
    check_close(change->high, d + 1.959964 * u, 1e-4);
    check_close(change->p / (2.0 * gsl_cdf_ugaussian_Q(fabs(d) / u)), 1.0, 1e-6);
}

static int sign_of(const char *key)
{
    for (int f = 0; f < FIGURES; f++)
        if (strcmp(figure[f].key, key) == 0)
            return figure[f].sign;
    return 0;
}

static void check_channel(const struct lds_comparison *c, const struct lds_compared_channel *channel,
                          int seen[LDS_WORDS], bool *worse)
{
    int counted[LDS_WORDS] = {0};
    for (size_t i = 0; i < channel->changes; i++) {
        const struct lds_change *change = &channel->change[i];
        if (!change->judged)
            continue;
        const char *word = defined(c, change);
        if (strcmp(word, lds_word_name(change->word)) != 0)
            fail_msg("%s: \"%s\", by its definition \"%s\": %g [%g, %g], p %g, matters %g", change->key,
                     lds_word_name(change->word), word, change->change, change->low, change->high, change->p,
                     change->matters);
        check_close(change->p_adjusted, holm(c, change->p), 1e-12);
        bool moved = change->word == LDS_LOWER || change->word == LDS_HIGHER;
        if (change->worse != (moved && is_beyond(change, sign_of(change->key))))
            fail_msg("%s: worse %d", change->key, change->worse);
        if (change->word != LDS_UNRESOLVED)
            assert_true(isnan(change->resolve_seconds));
        counted[change->word]++;
        seen[change->word]++;
        *worse = *worse || change->worse;
    }
    assert_memory_equal(counted, channel->words, sizeof counted);
}

static void test_words(void **state)
{
    (void)state;
    print_message("seed %llu\n", (unsigned long long)SEED);
    struct sim_random rng;
    sim_random_seed(&rng, SEED);
    int seen[LDS_WORDS] = {0};
    for (int n = 0; n < COMPARISONS; n++) {
        struct sides s;
        struct lds_compare_options options;
        struct lds_comparison c;
        struct lds_error error = {0};
        make(&s, &rng);
        lds_compare_options_init(&options);
        options.matters_db[LDS_FAMILY_DISTORTION] = 0.3 + 2.0 * sim_random_uniform(&rng);
        options.repeat_none = sim_random_uniform(&rng) < 0.5;
        if (lds_compare((struct lds_side){s.before, s.befores}, (struct lds_side){s.after, s.afters}, &options, &c,
                        &error) != LDS_OK)
            fail_msg("comparison %d: %s", n, error.message);
        bool worse = false;
        for (size_t i = 0; i < c.channels; i++)
            check_channel(&c, &c.channel[i], seen, &worse);
        assert_true(c.worse == worse);
        const struct lds_compared_channel *first = &c.channel[0];
        for (size_t i = 0; i < first->changes; i++)
            if (strcmp(first->change[i].key, "thd") == 0)
                check_p(&s, &first->change[i], options.repeat_none ? 0.0 : 0.2);
        lds_comparison_free(&c);
        for (size_t i = 0; i < s.befores; i++)
            lds_measurement_free(&s.before[i]);
        for (size_t i = 0; i < s.afters; i++)
            lds_measurement_free(&s.after[i]);
    }
    for (int w = 0; w < LDS_WORDS; w++) {
        print_message("%s: %d\n", lds_word_name((enum lds_word)w), seen[w]);
        assert_true(seen[w] > 50); /* each of the words occurred */
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_words)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
