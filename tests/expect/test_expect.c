/* What component values imply, against closed forms with their sources, and the E24 series. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "expect/kinds.h"
#include "loadside/expect.h"

static void near(double value, double wanted, double relative)
{
    if (!(fabs(value - wanted) <= relative * fabs(wanted)))
        fail_msg("%.12g instead of %.12g", value, wanted);
}

static struct lds_expect_spec spec_of(enum lds_expect_kind kind)
{
    struct lds_expect_spec spec;
    lds_expect_spec_init(&spec, kind);
    return spec;
}

static void give(struct lds_expect_spec *spec, enum lds_expect_value value, double number)
{
    struct lds_error error = {0};
    if (lds_expect_give(spec, value, number, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

static struct lds_expectation of(const struct lds_expect_spec *spec)
{
    struct lds_expectation expectation;
    struct lds_error error = {0};
    if (lds_expect(spec, &expectation, &error) != LDS_OK)
        fail_msg("%s", error.message);
    return expectation;
}

static const struct lds_expected *figure(const struct lds_expectation *expectation, const char *key)
{
    for (size_t i = 0; i < expectation->figures; i++)
        if (strcmp(expectation->figure[i].row->key, key) == 0)
            return &expectation->figure[i];
    fail_msg("no %s", key);
    return NULL;
}

static double value(const struct lds_expectation *expectation, const char *key)
{
    return figure(expectation, key)->value;
}

/* 47 kohm and 2.2 uF: 1/(2 pi R C) is 1.5392161 Hz (Python). */
static void coupling(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_COUPLING);
    give(&spec, LDS_EXPECT_R, 47e3);
    give(&spec, LDS_EXPECT_C, 2.2e-6);
    struct lds_expectation e = of(&spec);
    const double corner_hz = 1.0 / (2.0 * M_PI * 47e3 * 2.2e-6);
    near(value(&e, "corner"), 1.5392161, 1e-7);
    near(value(&e, "droop.20"), -10.0 * log10(1.0 + pow(corner_hz / 20.0, 2.0)), 1e-9);
    near(value(&e, "phase.20"), atan2(corner_hz, 20.0) * 180.0 / M_PI, 1e-9);
    near(value(&e, "phase.20k"), atan2(corner_hz, 20e3) * 180.0 / M_PI, 1e-9);
    assert_true(isnan(figure(&e, "corner")->low) && isnan(figure(&e, "corner")->high));
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 1.0, NULL), LDS_OK);
    assert_int_equal(lds_expect_give_tolerance(&spec, "c", 10.0, NULL), LDS_OK);
    e = of(&spec);
    near(value(&e, "corner"), corner_hz, 1e-12);
    near(figure(&e, "corner")->low, corner_hz / (1.01 * 1.1), 1e-12);
    near(figure(&e, "corner")->high, corner_hz / (0.99 * 0.9), 1e-12);
    near(figure(&e, "droop.20")->low, -10.0 * log10(1.0 + pow(figure(&e, "corner")->high / 20.0, 2.0)), 1e-9);
    near(figure(&e, "phase.20")->high, atan(figure(&e, "corner")->high / 20.0) * 180.0 / M_PI, 1e-9);
}

/* Equal stages: corner of one over sqrt(2^(1/n) - 1). Others: the complex product, evaluated. */
static void cascade(void **state)
{
    (void)state;
    for (int stages = 2; stages <= LDS_EXPECT_STAGES_MAX; stages++) {
        struct lds_expect_spec spec = spec_of(LDS_EXPECT_COUPLING);
        for (int i = 0; i < stages; i++) {
            give(&spec, LDS_EXPECT_R, 10e3);
            give(&spec, LDS_EXPECT_C, 10e-6);
        }
        struct lds_expectation e = of(&spec);
        near(value(&e, "corner"), 1.0 / (2.0 * M_PI * 0.1) / sqrt(pow(2.0, 1.0 / stages) - 1.0), 1e-12);
    }
    const double r[3] = {47e3, 10e3, 1e6}, c[3] = {2.2e-6, 10e-6, 4.7e-9};
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_COUPLING);
    for (int i = 0; i < 3; i++) {
        give(&spec, LDS_EXPECT_R, r[i]);
        give(&spec, LDS_EXPECT_C, c[i]);
    }
    struct lds_expectation e = of(&spec);
    const double at[2] = {20.0, value(&e, "corner")};
    for (int k = 0; k < 2; k++) {
        double complex h = 1.0;
        for (int i = 0; i < 3; i++) {
            const double complex s = I * 2.0 * M_PI * at[k] * r[i] * c[i];
            h *= s / (1.0 + s);
        }
        if (k == 0) {
            near(value(&e, "droop.20"), 20.0 * log10(cabs(h)), 1e-9);
            near(value(&e, "phase.20"), carg(h) * 180.0 / M_PI, 1e-9); /* below 180 degrees here */
        } else {
            near(cabs(h), sqrt(0.5), 1e-12);
        }
    }
    spec.count[LDS_EXPECT_C] = 2;
    assert_int_equal(lds_expect(&spec, &e, NULL), LDS_BAD_USE);
}

/* Each part of each stage is off by itself: with six stages of one tolerance that is 4096 combinations. */
static void cascade_with_tolerances(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_COUPLING);
    for (int i = 0; i < LDS_EXPECT_STAGES_MAX; i++) {
        give(&spec, LDS_EXPECT_R, 10e3 * (i + 1));
        give(&spec, LDS_EXPECT_C, 10e-6);
    }
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 5.0, NULL), LDS_OK);
    assert_int_equal(lds_expect_give_tolerance(&spec, "c", 20.0, NULL), LDS_OK);
    struct lds_expectation e = of(&spec);
    const struct lds_expected *corner = figure(&e, "corner");
    near(corner->high, corner->value / (0.95 * 0.8), 1e-9); /* all in one direction scales the whole */
    near(corner->low, corner->value / (1.05 * 1.2), 1e-9);
}

/* s/(s + g w0): an integrator of time constant 1/w0 whose output arrives with gain g. */
static void servo(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_SERVO);
    give(&spec, LDS_EXPECT_R, 1e6);
    give(&spec, LDS_EXPECT_C, 1e-6);
    struct lds_expectation e = of(&spec);
    near(value(&e, "corner"), 0.159154943, 1e-8);
    give(&spec, LDS_EXPECT_GAIN, -20.0);
    e = of(&spec);
    near(value(&e, "corner"), 0.0159154943, 1e-8);
    near(value(&e, "phase.20"), atan(0.0159154943 / 20.0) * 180.0 / M_PI, 1e-7);
}

/* Nyquist, Physical Review 32 (1928) 110: sqrt(4kTRB). For 10 kohm, 298.15 K and 19980 Hz: 1.8137891 uV (Python). */
static void resistor(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_RESISTOR);
    give(&spec, LDS_EXPECT_R, 10e3);
    struct lds_expectation e = of(&spec);
    near(value(&e, "noise"), 1.8137891e-6, 1e-7);
    near(value(&e, "noise.density"), 1.2831843e-8, 1e-7);
    give(&spec, LDS_EXPECT_GAIN, 26.0);
    give(&spec, LDS_EXPECT_TEMPERATURE, 298.15 / 4.0);
    spec.low_hz = 1e3;
    spec.high_hz = 1e3 + 16.0 * 19980.0;
    e = of(&spec);
    near(value(&e, "noise"), 2.0 * 1.8137891e-6 * pow(10.0, 1.3), 1e-7);
    near(value(&e, "noise.input"), 2.0 * 1.8137891e-6, 1e-7);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 21.0, NULL), LDS_OK);
    e = of(&spec);
    near(figure(&e, "noise")->high / value(&e, "noise"), 1.1, 1e-12); /* the root of 1.21 */
    assert_int_equal(lds_expect_give_tolerance(&spec, "temperature", 5.0, NULL), LDS_BAD_USE);
}

/* 20 nA through 1 Mohm: 20 mV. */
static void offset(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_OFFSET);
    give(&spec, LDS_EXPECT_R, 1e6);
    give(&spec, LDS_EXPECT_CURRENT, 20e-9);
    struct lds_expectation e = of(&spec);
    near(value(&e, "offset"), 20e-3, 1e-12);
    give(&spec, LDS_EXPECT_GAIN, 20.0);
    assert_int_equal(lds_expect_give_tolerance(&spec, "current", 50.0, NULL), LDS_OK);
    e = of(&spec);
    near(value(&e, "offset"), 0.2, 1e-12);
    near(figure(&e, "offset")->low, 0.1, 1e-12);
    near(figure(&e, "offset")->high, 0.3, 1e-12);
}

/* Ohm's law, and the impedance 1/(2 pi f C) in series with ESR. */
static void capacitors(void **state)
{
    (void)state;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_CAPACITOR_ESR);
    give(&spec, LDS_EXPECT_C, 10e-3);
    give(&spec, LDS_EXPECT_ESR, 20e-3);
    struct lds_expectation e = of(&spec);
    near(value(&e, "corner"), 795.774715, 1e-8);
    near(value(&e, "reactance"), 0.159154943, 1e-8);
    near(value(&e, "impedance"), sqrt(0.159154943 * 0.159154943 + 4e-4), 1e-8);
    assert_true(isnan(value(&e, "dissipation")));
    assert_string_equal(figure(&e, "dissipation")->without, "current is not stated");
    give(&spec, LDS_EXPECT_CURRENT, 3.0);
    give(&spec, LDS_EXPECT_MAINS, 60.0);
    e = of(&spec);
    near(value(&e, "dissipation"), 0.18, 1e-12);
    near(value(&e, "ripple"), 3.0 * hypot(0.02, 1.0 / (2.0 * M_PI * 120.0 * 0.01)), 1e-12);

    spec = spec_of(LDS_EXPECT_SUPPLY_RIPPLE);
    give(&spec, LDS_EXPECT_C, 10e-3);
    give(&spec, LDS_EXPECT_CURRENT, 2.0);
    e = of(&spec);
    near(value(&e, "ripple"), 2.0, 1e-12); /* Q = C V: 2 A for 10 ms from 10 mF */
    /* The rms of a sawtooth of 2 V p-p, from its mean square: the integral of x^2 from -1 to 1, halved. */
    near(value(&e, "ripple.rms"), sqrt(1.0 / 3.0), 1e-12);
    assert_true(isnan(value(&e, "ripple.output")));
    give(&spec, LDS_EXPECT_GAIN, -60.0);
    e = of(&spec);
    near(value(&e, "ripple.output"), sqrt(1.0 / 3.0) * 1e-3, 1e-12);
}

/* ---- the divider ---- */

/* IEC 60063, table of the E24 series. */
static void e24(void **state)
{
    (void)state;
    static const double wanted[] = {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                                    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};
    for (int i = 0; i < LDS_E24; i++)
        near(lds_e24[i] / 10.0, wanted[i], 1e-12);
}

static bool is_e24(double ohm)
{
    const double decade = pow(10.0, floor(log10(ohm) + 1e-9));
    for (int i = 0; i < LDS_E24; i++)
        if (fabs(ohm / decade - lds_e24[i] / 10.0) < 1e-9)
            return true;
    return false;
}

static struct lds_expect_spec divider_of(double power_w, double load_ohm, double input_v)
{
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_DIVIDER);
    give(&spec, LDS_EXPECT_POWER, power_w);
    give(&spec, LDS_EXPECT_LOAD, load_ohm);
    give(&spec, LDS_EXPECT_INPUT, input_v);
    return spec;
}

/* 100 W into 8 ohm: 40 V peak, which 2 V takes behind 20:1 or more. All figures from the chosen resistors by hand. */
static void divider(void **state)
{
    (void)state;
    struct lds_expect_spec spec = divider_of(100.0, 8.0, 2.0);
    give(&spec, LDS_EXPECT_CABLE, 100e-12);
    struct lds_expectation e = of(&spec);
    const double top = value(&e, "resistor.top"), bottom = value(&e, "resistor.bottom"), sum = top + bottom;
    const double both = top * bottom / sum;
    assert_true(e.chosen && is_e24(top) && is_e24(bottom) && e.remark[0] == '\0');
    near(value(&e, "load.peak"), 40.0, 1e-12);
    assert_true(sum / bottom >= 20.0 && sum / bottom < 20.6);
    near(value(&e, "attenuation"), 20.0 * log10(sum / bottom), 1e-12);
    near(value(&e, "attenuation.ratio"), sum / bottom, 1e-12);
    near(value(&e, "input.peak"), 40.0 * bottom / sum, 1e-12);
    near(value(&e, "dissipation"), 800.0 / (sum * sum) * top, 1e-12);
    near(value(&e, "dissipation.bottom"), 800.0 / (sum * sum) * bottom, 1e-12);
    assert_true(value(&e, "dissipation") <= 0.125);
    near(value(&e, "loading"), 800.0 / sum, 1e-12);
    assert_true(value(&e, "loading") <= 0.1);
    near(value(&e, "noise"), sqrt(4.0 * 1.380649e-23 * 298.15 * both * 19980.0) * sum / bottom, 1e-12);
    near(value(&e, "bandwidth"), 1.0 / (2.0 * M_PI * both * 100e-12), 1e-12);
}

/* Whatever the power, load, input and tolerances, the divider fits in the worst case, and attenuates by less than a
 * tenth more than needed. */
static void divider_fits(void **state)
{
    (void)state;
    static const double watts[] = {1.0, 10.0, 25.0, 61.3, 200.0, 1500.0}, inputs_v[] = {0.3, 1.0, 1.41421356, 2.0};
    for (size_t i = 0; i < sizeof watts / sizeof *watts; i++)
        for (size_t k = 0; k < sizeof inputs_v / sizeof *inputs_v; k++)
            for (int tolerant = 0; tolerant < 2; tolerant++) {
                struct lds_expect_spec spec = divider_of(watts[i], 4.0, inputs_v[k]);
                if (tolerant)
                    give(&spec, LDS_EXPECT_INPUT_RESISTANCE, 10e3);
                if (tolerant && (lds_expect_give_tolerance(&spec, "r", 1.0, NULL) ||
                                 lds_expect_give_tolerance(&spec, "load", 5.0, NULL) ||
                                 lds_expect_give_tolerance(&spec, "input-resistance", 20.0, NULL)))
                    fail_msg("a tolerance was refused");
                struct lds_expectation e = of(&spec);
                const struct lds_expected *peak = figure(&e, "input.peak");
                const double most = tolerant ? peak->high : peak->value;
                if (!(most <= inputs_v[k] * (1.0 + 1e-9)) || !(most > 0.9 * inputs_v[k]))
                    fail_msg("%g W, %g V, tolerant %d: a peak of %.6g V", watts[i], inputs_v[k], tolerant, most);
                assert_true(value(&e, "loading") <= 0.1 && value(&e, "dissipation") <= 0.125);
            }
}

static void divider_stated(void **state)
{
    (void)state;
    struct lds_expect_spec spec = divider_of(100.0, 8.0, 2.0);
    struct lds_expectation e;
    give(&spec, LDS_EXPECT_R, 10e3);
    assert_int_equal(lds_expect(&spec, &e, NULL), LDS_BAD_USE);
    give(&spec, LDS_EXPECT_R, 2e3);
    e = of(&spec);
    assert_false(e.chosen);
    near(value(&e, "input.peak"), 40.0 / 6.0, 1e-12);
    assert_non_null(strstr(e.remark, "NOT fit"));
    give(&spec, LDS_EXPECT_INPUT_RESISTANCE, 2e3); /* halves the lower one */
    e = of(&spec);
    near(value(&e, "attenuation.ratio"), 11.0, 1e-12);
    near(value(&e, "dissipation.bottom"), 800.0 / (11e3 * 11e3) * 500.0, 1e-12);
    spec = divider_of(0.1, 8.0, 2.0);
    assert_int_equal(lds_expect(&spec, &e, NULL), LDS_BAD_USE); /* 1.26 V need no divider */
}

/* ---- what is refused ---- */

static void refused(void **state)
{
    (void)state;
    struct lds_error error = {0};
    struct lds_expectation e;
    struct lds_expect_spec spec = spec_of(LDS_EXPECT_COUPLING);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_R, 0.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_R, -1.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_R, NAN, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_R, INFINITY, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_ESR, 1.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect(&spec, &e, &error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "r not found"));
    assert_int_equal(lds_expect_give_tolerance(&spec, "x", 1.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give_tolerance(&spec, "esr", 1.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 0.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 100.0, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", NAN, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 1.0, &error), LDS_OK);
    assert_int_equal(lds_expect_give_tolerance(&spec, "r", 1.0, &error), LDS_BAD_USE);
    for (int i = 0; i < LDS_EXPECT_STAGES_MAX; i++)
        give(&spec, LDS_EXPECT_R, 1e3);
    assert_int_equal(lds_expect_give(&spec, LDS_EXPECT_R, 1e3, &error), LDS_BAD_USE);
    spec = spec_of(LDS_EXPECT_RESISTOR);
    give(&spec, LDS_EXPECT_R, 1e3);
    spec.low_hz = spec.high_hz;
    assert_int_equal(lds_expect(&spec, &e, &error), LDS_BAD_USE);
    assert_int_equal(lds_expect_kind_find("couplin"), LDS_EXPECT_KINDS);
}

/* ---- the documents ---- */

static char *page(const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", getenv("DOCS"), name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    char *text = calloc(1, 1 << 20);
    assert_non_null(text);
    assert_true(fread(text, 1, (1 << 20) - 1, file) > 0);
    fclose(file);
    return text;
}

static void documented(void **state)
{
    (void)state;
    char *figures = page("figures.md"), *guide = page("guide.md");
    for (int kind = 0; kind < LDS_EXPECT_KINDS; kind++) {
        const struct lds_expect_kind_row *row = lds_expect_kind_row((enum lds_expect_kind)kind);
        char word[64];
        assert_int_equal(lds_expect_kind_find(row->name), kind);
        snprintf(word, sizeof word, "`%s`", row->name);
        if (!strstr(figures, word) || !strstr(guide, word))
            fail_msg("%s does not stand in docs/figures.md and docs/guide.md", word);
        for (size_t i = 0; i < row->figures; i++) {
            snprintf(word, sizeof word, "`expected.%s`", row->figure[i].key);
            if (!strstr(figures, word))
                fail_msg("%s does not stand in docs/figures.md", word);
        }
    }
    free(figures);
    free(guide);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coupling),
        cmocka_unit_test(cascade),
        cmocka_unit_test(cascade_with_tolerances),
        cmocka_unit_test(servo),
        cmocka_unit_test(resistor),
        cmocka_unit_test(offset),
        cmocka_unit_test(capacitors),
        cmocka_unit_test(e24),
        cmocka_unit_test(divider),
        cmocka_unit_test(divider_fits),
        cmocka_unit_test(divider_stated),
        cmocka_unit_test(refused),
        cmocka_unit_test(documented),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
