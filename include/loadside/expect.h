/* What component values with tolerances imply: the corner of a coupling capacitor, the noise of a resistor, a divider
 * for a sound card's input, and the like. Nothing here is measured; the results can be compared with measured figures.
 * Definitions and sources: docs/figures.md. */
#ifndef LOADSIDE_EXPECT_H
#define LOADSIDE_EXPECT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "loadside/error.h"

#ifdef __cplusplus
extern "C" {
#endif

enum lds_expect_kind {
    LDS_EXPECT_COUPLING,
    LDS_EXPECT_SERVO,
    LDS_EXPECT_RESISTOR,
    LDS_EXPECT_DIVIDER,
    LDS_EXPECT_OFFSET,
    LDS_EXPECT_CAPACITOR_ESR,
    LDS_EXPECT_SUPPLY_RIPPLE,
    LDS_EXPECT_KINDS
};

/* Every value that can be stated, in the order of listing. MANY(id, name, argument, unit, least, most, example,
 * meaning): the value may be given for each stage; ONE(id, ...): it is given once. A value without a default must be
 * stated where the kind needs it. */
#define LDS_EXPECT_VALUE_LIST(MANY, ONE)                                                                               \
    MANY(R, "r", "OHM", "ohm", 1e-3, 1e10, "47k",                                                                      \
         "resistance; coupling: one for each stage; divider: top, then bottom")                                        \
    MANY(C, "c", "F", "F", 1e-13, 1e2, "2.2u", "capacitance; coupling: one for each stage, in the order of --r")       \
    ONE(GAIN, "gain", "DB", "dB", -200.0, 200.0, "26",                                                                 \
        "from the part to the amplifier's output; 0 dB when not given, but of supply-ripple unknown")                  \
    ONE(POWER, "power", "W", "W", 1e-6, 1e6, "100", "divider: the most sine power at the load")                        \
    ONE(LOAD, "load", "OHM", "ohm", 1e-2, 1e6, "8", "divider: the load resistor")                                      \
    ONE(INPUT, "input", "V", "V", 1e-3, 1e3, "2", "divider: the peak voltage that the input takes")                    \
    ONE(CABLE, "cable", "F", "F", 1e-13, 1e-5, "100p", "divider: capacitance of the cable to the input")               \
    ONE(INPUT_RESISTANCE, "input-resistance", "OHM", "ohm", 1.0, 1e10, "10k",                                          \
        "divider: resistance of the input; far above the divider's when not given")                                    \
    ONE(DISSIPATION, "dissipation", "W", "W", 1e-3, 1e3, "0.125",                                                      \
        "divider: the most that a resistor may dissipate; 0.125 W when not given")                                     \
    ONE(CURRENT, "current", "A", "A", 1e-15, 1e4, "20n", "bias current, ripple current (rms) or load current")         \
    ONE(ESR, "esr", "OHM", "ohm", 1e-6, 1e6, "20m", "series resistance of the capacitor")                              \
    ONE(MAINS, "mains", "HZ", "Hz", 10.0, 1000.0, "50 Hz", "mains frequency; 50 Hz when not given")                    \
    ONE(TEMPERATURE, "temperature", "K", "K", 1.0, 1000.0, "298.15", "of the resistors; 298.15 K when not given")

#define LDS_EXPECT_ID(id, ...) LDS_EXPECT_##id,
enum lds_expect_value { LDS_EXPECT_VALUE_LIST(LDS_EXPECT_ID, LDS_EXPECT_ID) LDS_EXPECT_VALUES };
#undef LDS_EXPECT_ID

struct lds_expect_value_row {
    const char *name, *unit;
    double least, most;
    const char *example;
    bool many;
};
const struct lds_expect_value_row *lds_expect_value_row(enum lds_expect_value value);

enum { LDS_EXPECT_STAGES_MAX = 6, LDS_EXPECTED_MAX = 12 };

/* A figure that a kind gives. */
struct lds_expected_row {
    const char *key, *label;
    const char *unit;           /* "Hz", "dB", "degrees", "V", "V/√Hz", "ohm", "W", "%" or "" */
    enum lds_expect_value with; /* a value that need not be stated, without which the figure is absent; else
                                 * LDS_EXPECT_VALUES */
    bool nominal;               /* it has no limits: it is what was stated or chosen */
};

struct lds_expect_kind_row {
    const char *name;               /* "coupling" */
    const char *what;               /* a phrase */
    unsigned needs, may;            /* bits of enum lds_expect_value */
    bool band;                      /* it has a band */
    const char *const *assumptions; /* sentences, NULL at the end */
    bool connects;                  /* the parts get connected to an amplifier: the cautions are printed */
    size_t answers;                 /* the first figures are the answer */
    size_t figures;
    struct lds_expected_row figure[LDS_EXPECTED_MAX];
};
const struct lds_expect_kind_row *lds_expect_kind_row(enum lds_expect_kind kind);
/* LDS_EXPECT_KINDS: none has this name. */
enum lds_expect_kind lds_expect_kind_find(const char *name);

/* What is stated. */
struct lds_expect_spec {
    enum lds_expect_kind kind;
    size_t count[LDS_EXPECT_VALUES]; /* 0: not stated */
    double value[LDS_EXPECT_VALUES][LDS_EXPECT_STAGES_MAX];
    double tolerance_percent[LDS_EXPECT_VALUES]; /* +-; NAN: not stated */
    double low_hz, high_hz;                      /* of noise: 20 Hz to 20 kHz when not stated */
};
void lds_expect_spec_init(struct lds_expect_spec *spec, enum lds_expect_kind kind);

/* Adds a value, in its unit. LDS_BAD_USE: the kind has none, it is out of range, or there is one too many. */
enum lds_status lds_expect_give(struct lds_expect_spec *spec, enum lds_expect_value value, double number,
                                struct lds_error *error);
/* The tolerance of a value, named as in the list, above 0 and below 100. LDS_BAD_USE: no such value, none that has a
 * tolerance, out of range, or stated already. */
enum lds_status lds_expect_give_tolerance(struct lds_expect_spec *spec, const char *name, double percent,
                                          struct lds_error *error);

struct lds_expected {
    const struct lds_expected_row *row;
    double value;      /* NAN: absent */
    double low, high;  /* worst case, every stated tolerance at one of its ends; NAN: no stated tolerance affects it */
    char without[112]; /* why it is absent; else "" */
};

struct lds_expectation {
    struct lds_expect_spec spec; /* with defaults, and with the resistors that were chosen */
    const struct lds_expect_kind_row *kind;
    bool chosen;      /* the resistors are loadside's choice */
    char remark[200]; /* what the user should know about it: a sentence, or "" */
    size_t figures;
    struct lds_expected figure[LDS_EXPECTED_MAX];
};

/* LDS_BAD_USE: a value is missing, the stages do not match, or no divider of the E24 series fits. */
enum lds_status lds_expect(const struct lds_expect_spec *spec, struct lds_expectation *expectation,
                           struct lds_error *error);

/* For people, 80 columns, UTF-8; and the JSON contract "loadside-expectation" version 1. path "-": standard output.
 * Written completely or not at all. */
enum lds_status lds_expectation_text(const struct lds_expectation *expectation, FILE *out, struct lds_error *error);
enum lds_status lds_expectation_json(const struct lds_expectation *expectation, const char *path,
                                     struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
