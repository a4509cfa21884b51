/* loadside expect: what component values with tolerances imply. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "common.h"
#include "output.h"
#include "say.h"

struct settings {
    struct quantity_list many[LDS_EXPECT_VALUES]; /* for values that may be stated for each stage */
    double one[LDS_EXPECT_VALUES];                /* of the others; NAN: not stated */
    struct tolerance_list tolerances;
    struct band_list bands;
    const char *json;
    bool quiet;
};

#define PLACE(member) offsetof(struct settings, member)
#define MANY(id, name, takes, unit, least, most, sample, text)                                                         \
    {QUANTITIES_OPTION(name, takes, PLACE(many[LDS_EXPECT_##id]), unit, least, most, sample, text)},
#define ONE(id, name, takes, unit, least, most, sample, text)                                                          \
    {QUANTITY_OPTION(name, takes, PLACE(one[LDS_EXPECT_##id]), unit, least, most, sample, text)},

static const struct option_row value_options[] = {LDS_EXPECT_VALUE_LIST(MANY, ONE){0}};

static const struct option_row tolerance_options[] = {
    {.group = "The values",
     OPTION_FIELDS("tolerance", "NAME=PERCENT", OPTION_TOLERANCES, PLACE(tolerances),
                   "how far a value may be off, +-; without any there are no limits"),
     OPTION_RANGE(0, 100),
     .example = "r=1%"},
    {0},
};

static const struct option_row own_options[] = {
    {BAND_OPTION("band", PLACE(bands), "20-20k", "of the noise; 20-20k when not given")},
    {.group = "Results; a table on standard output unless --json is -",
     FILE_OPTION("json", "FILE", PLACE(json), "expected.json",
                 "write JSON too; alone on standard output when FILE is -")},
    {SWITCH_OPTION("quiet", PLACE(quiet), "no table")},
    {HELP_OPTION},
    {0},
};

static const struct option_row *const options[] = {tolerance_options, value_options, own_options, NULL};

static const char *const text[] = {
    "Says what component values imply, before anything is measured. KIND is coupling, servo, resistor, divider, "
    "offset, capacitor-esr or supply-ripple.",
    "coupling: corner, response and phase of a capacitor into a resistance; several stages in cascade with --r and --c "
    "for each. servo: the corner that a DC servo makes. resistor: thermal noise. divider: two resistors of the E24 "
    "series (IEC 60063), chosen so that the peak of --power fits --input; or state both, --r TOP --r BOTTOM. offset: a "
    "bias current through a resistance. capacitor-esr: impedance, heating and ripple of a capacitor. supply-ripple: of "
    "a reservoir behind a full-wave rectifier.",
    "With --tolerance the limits are the worst case, with every stated tolerance at one of its ends. A value without "
    "one counts as exact.",
    NULL,
};

static const struct example examples[] = {
    {"loadside expect coupling --r 47k --c 2.2u --tolerance r=1% --tolerance c=10%", "an input coupling capacitor"},
    {"loadside expect resistor --r 10k --gain 26 --band 20-20k", "noise of an input resistor, at the output"},
    {"loadside expect divider --power 100 --load 8 --input 2 --cable 100p", "a divider for a sound card"},
    {"loadside expect offset --current 20n --r 1M", "a bias current through a servo's resistor"},
    {0},
};

static enum lds_expect_kind kind_of(const char *name)
{
    const enum lds_expect_kind kind = lds_expect_kind_find(name);
    const char *names[LDS_EXPECT_KINDS];
    for (int i = 0; i < LDS_EXPECT_KINDS; i++)
        names[i] = lds_expect_kind_row((enum lds_expect_kind)i)->name;
    const char *near = kind == LDS_EXPECT_KINDS ? lds_nearest(name, names, LDS_EXPECT_KINDS) : NULL;
    if (near)
        say("expect", "'%s' is no kind of part; the nearest is %s", name, near);
    else if (kind == LDS_EXPECT_KINDS)
        say("expect",
            "'%s' is no kind of part; coupling, servo, resistor, divider, offset, capacitor-esr or supply-ripple "
            "expected",
            name);
    return kind;
}

static bool give(struct lds_expect_spec *spec, int value, double number)
{
    struct lds_error error = {0};
    return lds_expect_give(spec, (enum lds_expect_value)value, number, &error) == LDS_OK ||
           say("expect", "%s", error.message);
}

static bool make_spec(const struct settings *s, enum lds_expect_kind kind, struct lds_expect_spec *spec)
{
    struct lds_error error = {0};
    bool good = true;
    lds_expect_spec_init(spec, kind);
    for (int i = 0; i < LDS_EXPECT_VALUES && good; i++) {
        for (size_t k = 0; k < s->many[i].count && good; k++)
            good = give(spec, i, s->many[i].value[k]);
        if (!lds_expect_value_row((enum lds_expect_value)i)->many && !isnan(s->one[i]))
            good = good && give(spec, i, s->one[i]);
    }
    for (size_t i = 0; i < s->tolerances.count && good; i++)
        good =
            say_unless(lds_expect_give_tolerance(spec, s->tolerances.of[i].name, s->tolerances.of[i].percent, &error),
                       "--tolerance", &error);
    if (good && s->bands.count > 0 && !lds_expect_kind_row(kind)->band)
        return say("--band", "found for %s, which has none; leave it out, or name another kind",
                   lds_expect_kind_row(kind)->name);
    if (good && s->bands.count > 1)
        return say("--band", "found %zu times; one expected; leave the others out", s->bands.count);
    if (s->bands.count > 0) {
        spec->low_hz = s->bands.band[0].low_hz;
        spec->high_hz = s->bands.band[0].high_hz;
    }
    return good;
}

static enum exit_status write_results(const struct settings *s, const struct lds_expectation *expectation)
{
    struct lds_error error = {0};
    if (s->json && !say_unless(lds_expectation_json(expectation, s->json, &error), "--json", &error))
        return EXIT_TROUBLE;
    if (s->quiet || is_standard(s->json))
        return EXIT_DONE;
    if (lds_expectation_text(expectation, stdout, &error) != LDS_OK)
        return output_failed("table", error.message);
    for (size_t i = 0; expectation->kind->connects && common_caution[i]; i++) {
        putchar('\n');
        describe_paragraph(common_caution[i], stdout);
    }
    return EXIT_DONE;
}

static enum exit_status run_expect(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    struct lds_expect_spec spec;
    struct lds_expectation expectation;
    struct lds_error error = {0};
    if (operands != 1) {
        say("expect", "%d operands found; a kind of part expected, as in 'loadside expect coupling --r 47k --c 2.2u'",
            operands);
        return EXIT_TROUBLE;
    }
    const enum lds_expect_kind kind = kind_of(operand[0]);
    if (kind == LDS_EXPECT_KINDS || !make_spec(settings, kind, &spec) ||
        (settings->json && !output_check_file("--json", settings->json)))
        return EXIT_TROUBLE;
    if (lds_expect(&spec, &expectation, &error) != LDS_OK) {
        say("expect", "%s", error.message);
        return EXIT_TROUBLE;
    }
    return write_results(settings, &expectation);
}

const struct command expect_command = {
    .name = "expect",
    .operands = "KIND",
    .summary = "what component values with tolerances imply",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_expect,
};
