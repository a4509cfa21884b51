/* Words at their limits. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "compare/fact.h"
#include "simulate/check.h"

static struct lds_fact fact_of(double change, double half, double p_adjusted)
{
    return (struct lds_fact){.delta = {.change = change,
                                       .low = change - half,
                                       .high = change + half,
                                       .u = half / 1.96,
                                       .u_data = half / 1.96,
                                       .dof = INFINITY,
                                       .p = p_adjusted / 20.0},
                             .matters = 1.0,
                             .seconds = 10.0,
                             .p_adjusted = p_adjusted};
}

static enum lds_word word_of(struct lds_fact fact)
{
    lds_fact_decide(&fact, 0.01, 20);
    return fact.word;
}

static void test_borders(void **state)
{
    (void)state;
    assert_int_equal(word_of(fact_of(1.001, 0.3, 0.0099)), LDS_HIGHER);
    assert_int_equal(word_of(fact_of(-1.001, 0.3, 0.0099)), LDS_LOWER);
    assert_int_equal(word_of(fact_of(1.001, 0.3, 0.01)), LDS_UNRESOLVED);     /* not below 1 % */
    assert_int_equal(word_of(fact_of(1.0, 0.3, 1e-9)), LDS_SLIGHTLY_HIGHER);  /* not over what matters */
    assert_int_equal(word_of(fact_of(-1.0, 0.3, 1e-9)), LDS_SLIGHTLY_LOWER);  /* whatever its interval includes */
    assert_int_equal(word_of(fact_of(0.69, 0.3, 1e-9)), LDS_SLIGHTLY_HIGHER); /* certain, and certainly small */
    assert_int_equal(word_of(fact_of(0.69, 0.3, 0.01)), LDS_SAME);
    assert_int_equal(word_of(fact_of(0.71, 0.3, 0.01)), LDS_UNRESOLVED); /* its interval exceeds what matters */
    assert_int_equal(word_of(fact_of(0.0, 0.999, 1.0)), LDS_SAME);
    assert_int_equal(word_of(fact_of(0.0, 1.001, 1.0)), LDS_UNRESOLVED);
}

static void test_open_ends(void **state)
{
    (void)state;
    struct lds_fact fact = fact_of(NAN, 0.0, 1e-6);
    fact.below[1] = true;
    fact.delta.low = NAN;
    fact.delta.high = -1.2;
    lds_fact_decide(&fact, 0.01, 20);
    assert_int_equal(fact.word, LDS_LOWER);
    assert_true(fact.at_least);
    fact.delta.high = -0.9; /* fell below the floor, by no more than matters as far as known */
    lds_fact_decide(&fact, 0.01, 20);
    assert_int_equal(fact.word, LDS_UNRESOLVED);
    assert_false(fact.at_least);
}

static void test_hidden_by_chain(void **state)
{
    (void)state;
    struct lds_fact fact = fact_of(-3.0, 0.5, 1e-6);
    fact.hidden[1] = true;
    fact.delta.low = NAN;
    lds_fact_decide(&fact, 0.01, 20);
    assert_int_equal(fact.word, LDS_LOWER);
    assert_true(fact.at_least);
    fact = fact_of(-1.2, 0.5, 1e-6); /* the known end does not exceed what matters */
    fact.hidden[1] = true;
    fact.delta.low = NAN;
    assert_int_equal(word_of(fact), LDS_HIDDEN_BY_CHAIN);
    fact = fact_of(3.0, 0.5, 1.0); /* rose into the chain, which hides how much the amplifier's part rose */
    fact.hidden[1] = true;
    fact.delta.low = NAN;
    assert_int_equal(word_of(fact), LDS_HIDDEN_BY_CHAIN);
    fact = fact_of(3.0, 0.5, 1e-6);
    fact.hidden[0] = true;
    fact.delta.high = NAN;
    lds_fact_decide(&fact, 0.01, 20);
    assert_int_equal(fact.word, LDS_HIGHER);
    assert_true(fact.at_least);
    fact = fact_of(0.0, 0.1, 1.0); /* both hidden: not the same, but unknown */
    fact.hidden[0] = fact.hidden[1] = true;
    fact.delta.low = fact.delta.high = NAN;
    assert_int_equal(word_of(fact), LDS_HIDDEN_BY_CHAIN);
}

static void test_length_that_settles(void **state)
{
    (void)state;
    struct lds_fact fact = fact_of(0.2, 1.6, 1.0); /* twice the precision makes it the same: four times the length */
    lds_fact_decide(&fact, 0.01, 20);
    assert_int_equal(fact.word, LDS_UNRESOLVED);
    check_close(fact.resolve_seconds, 40.0, 0.1);
    fact.delta.u_fixed = 0.5; /* re-cabling alone exceeds what matters */
    lds_fact_decide(&fact, 0.01, 20);
    assert_true(isnan(fact.resolve_seconds));
    fact = fact_of(1.2, 1.0, 1.0); /* beyond what matters: a length that makes it sure, 1.2/3.48 of sigma */
    lds_fact_decide(&fact, 0.01, 20);
    check_close(fact.resolve_seconds, 10.0 * pow(1.0 / 1.96 / (1.2 / 3.4808), 2.0), 0.1);
    fact = fact_of(0.0, 0.5, 1.0);
    lds_fact_decide(&fact, 0.01, 20);
    assert_true(isnan(fact.resolve_seconds)); /* nothing to decide */
    fact = fact_of(0.2, 1.6, 1.0);
    fact.from_repeats = true; /* more repeats would decide it, a longer capture would not */
    lds_fact_decide(&fact, 0.01, 20);
    assert_true(isnan(fact.resolve_seconds));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_borders), cmocka_unit_test(test_open_ends),
                                       cmocka_unit_test(test_hidden_by_chain),
                                       cmocka_unit_test(test_length_that_settles)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
