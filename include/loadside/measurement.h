/* The record: what a measurement found. Measurements add to it, reports and comparisons go through it. Unknown numbers
 * are NAN (null in JSON), never 0. */
#ifndef LOADSIDE_MEASUREMENT_H
#define LOADSIDE_MEASUREMENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/bench.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Flags of a figure or line: a set of bits. lds_flag_name gives the words used in every output. */
enum lds_flag {
    LDS_FLAG_BELOW_FLOOR = 1u << 0,         /* "below floor": not significantly above noise, high is an upper limit */
    LDS_FLAG_BAND_CUT = 1u << 1,            /* "band cut": band_hz is less than the band requested */
    LDS_FLAG_UNSTEADY = 1u << 2,            /* "unsteady": the scatter over 8 blocks exceeds that of steady noise */
    LDS_FLAG_CLIPPED = 1u << 3,             /* "clipped" */
    LDS_FLAG_GAP = 1u << 4,                 /* "gap" */
    LDS_FLAG_BANDWIDTH = 1u << 5,           /* "bandwidth": reaches beyond the edge where the capture's floor drops */
    LDS_FLAG_FEW_BITS = 1u << 6,            /* "few bits" */
    LDS_FLAG_IDENTICAL = 1u << 7,           /* "identical": the channel equals another, is its inverse, or is dead */
    LDS_FLAG_DRIFTING = 1u << 8,            /* "drifting": the tone moves more than the figure allows for */
    LDS_FLAG_NEAR_LINE = 1u << 9,           /* "near line": tone, harmonic or sideband too close to a mains order */
    LDS_FLAG_FLAT = 1u << 10,               /* "flat": a slope entirely within +-1 dB/decade */
    LDS_FLAG_CHAIN_NOT_MEASURED = 1u << 11, /* "chain not measured" */
    LDS_FLAG_CHAIN_NOT_COMPARABLE = 1u << 12,
    LDS_FLAG_NEAR_CHAIN = 1u << 13,
    LDS_FLAG_CHAIN_LIMITED = 1u << 14,
    LDS_FLAG_PHASE_NOT_KNOWN = 1u << 15, /* "phase not known": from levels alone, as if it were a resistance */
};
enum { LDS_FLAGS = 16 };
const char *lds_flag_name(enum lds_flag flag);

/* The parts of a key. */
struct lds_figure_name {
    const struct lds_key *row; /* of the table of keys; never NULL: unknown keys share a row of their own */
    double asked_hz[2];        /* band of "noise.band.20-20k"; for "noise.density.1k" twice 1 kHz; NAN: none */
    int channels[2];           /* of "crosstalk.1-2"; 0: none */
};

struct lds_figure {
    char *key; /* "thd", "noise.band.20-20k", ... */
    struct lds_figure_name name;
    char unit[16];        /* "V", "dB", "Hz", "V/√Hz", "dBFS", ...: unit of value, low, high, u_a and u_b */
    double value;         /* V is linear rms volts; NAN when below the floor */
    double low, high;     /* 95 % interval */
    double u_a, u_b;      /* standard uncertainties from the data and from the bench */
    double dof;           /* degrees of freedom of u_a; INFINITY when known, not estimated */
    double band_hz[2];    /* the range covered; NAN when the figure has no band */
    int orders[2];        /* first and last harmonic; 0 when the figure has none */
    double removed_hz;    /* width of the lines removed from the band; NAN when it does not apply */
    unsigned flags;       /* enum lds_flag bits */
    char conditions[192]; /* what it holds for, "into 8 Ω, ..."; "": its key says it all */
    /* A figure made from several captures stands in the first of them. `other` says where the others are in the list of
     * captures, counted from that one: 1 is the next. NULL: made from its own capture alone. */
    size_t others;
    int *other;
};

/* The kind of a problem with the amplifier, not the recording: it limits the tone's peaks. */
#define LDS_PROBLEM_AMPLIFIER_CLIPS "amplifier clips"

/* The kind of a problem with what was played or recorded: part of the stated signal is missing. */
#define LDS_PROBLEM_BREAKS_OFF "signal breaks off"

struct lds_problem {
    char kind[24];  /* "clipped", "gap", "repeat", "amplifier clips", ... */
    double at_s;    /* seconds from the start */
    double samples; /* how many; NAN unknown */
    double ceiling; /* "amplifier clips": the peak at which it limits, linear unit; else NAN or 0 */
};

struct lds_absent {
    char *key;
    char *reason;
    struct lds_figure_name name; /* for a series: a row that is not in the table */
    const char *channel_name[2]; /* of a pair in a comparison, not owned; NULL: none */
};

struct lds_series; /* loadside/series.h */

/* What rules ask of a kind of signal. STILL includes STEADY, ONE includes STILL. */
enum lds_signal_trait {
    LDS_PLAYS_STEADY = 1u << 0, /* level, lines and noise stay the same throughout; else its noise is not the
                                 * amplifier's */
    LDS_PLAYS_STILL = 1u << 1 | LDS_PLAYS_STEADY, /* tones that stay the same, or none: a short look tells it, and
                                                   * besides the tones there is only what the amplifier adds */
    LDS_PLAYS_ONE = 1u << 2 | LDS_PLAYS_STILL,    /* at most one such tone */
    LDS_PLAYS_TONE = 1u << 3,                     /* tones of fixed frequency, at times or throughout */
    LDS_PLAYS_BROAD = 1u << 4,                    /* all over the band: it tells a response, and nobody misses a tone */
    LDS_PLAYS_DC = 1u << 5,                       /* it shows in the output's DC */
};

/* How a user states a kind of signal. */
enum lds_signal_stated {
    LDS_STATED_NEVER,     /* it is only recognised */
    LDS_STATED_BY_FILE,   /* `loadside signal` makes it, and its sidecar states it */
    LDS_STATED_BY_OPTION, /* the command has an option of its name; in a job the role that holds it states it */
};

/* What was played, or what the capture shows of it: the word used in JSON, what it is called in a sentence, its traits,
 * how it is stated (NEVER, BY_FILE, BY_OPTION), and for BY_OPTION what the help of the option says. NONE stands first,
 * so that it is 0; nothing else depends on the order. NONE is not known, as in a result of an earlier version; a
 * programme is anything loud that is none of the others. */
#define LDS_SIGNAL_LIST(KIND)                                                                                          \
    KIND(NONE, "", "", LDS_PLAYS_ONE, NEVER, "")                                                                       \
    KIND(SILENCE, "silence", "silence", LDS_PLAYS_ONE, BY_FILE, "")                                                    \
    KIND(SINE, "sine", "a tone", LDS_PLAYS_ONE | LDS_PLAYS_TONE, BY_FILE, "")                                          \
    KIND(TWO_TONE, "two-tone", "two tones", LDS_PLAYS_STILL | LDS_PLAYS_TONE, BY_FILE, "")                             \
    KIND(SWEEP, "sweep", "a sweep", LDS_PLAYS_BROAD, BY_FILE, "")                                                      \
    KIND(STAIRCASE, "staircase", "a tone that steps in level", LDS_PLAYS_TONE, BY_FILE, "")                            \
    KIND(BURST, "burst", "a tone in bursts", LDS_PLAYS_TONE, BY_FILE, "")                                              \
    KIND(NOISE, "noise", "noise", LDS_PLAYS_STEADY | LDS_PLAYS_BROAD, BY_FILE, "")                                     \
    KIND(PROGRAMME, "programme", "music, speech or the like", LDS_PLAYS_BROAD, NEVER, "")                              \
    KIND(POWER_ON, "power-on", "the amplifier being switched on", LDS_PLAYS_DC, BY_OPTION,                             \
         "the amplifier is switched on in the captures; recognised when not given")
#define LDS_SIGNAL_ID(id, name, phrase, traits, stated, help) LDS_SIGNAL_##id,
enum lds_signal_kind { LDS_SIGNAL_LIST(LDS_SIGNAL_ID) LDS_SIGNALS };
#undef LDS_SIGNAL_ID
const char *lds_signal_name(enum lds_signal_kind kind);
const char *lds_signal_phrase(enum lds_signal_kind kind);
bool lds_signal_is_steady(enum lds_signal_kind kind);
/* Whether it has all of these traits, LDS_PLAYS_TONE | LDS_PLAYS_STILL. */
bool lds_signal_has(enum lds_signal_kind kind, unsigned traits);
enum lds_signal_stated lds_signal_stated(enum lds_signal_kind kind);
/* Whether it is one steady tone, or may be: NONE. */
bool lds_signal_may_be_one_tone(enum lds_signal_kind kind);

struct lds_signal {
    enum lds_signal_kind kind;
    bool stated;            /* by the user; else recognised */
    double delay_s;         /* time in the capture at which it begins; NAN: not known */
    double clock_ppm;       /* clock of the recorder relative to the player's; NAN: not known */
    int inverted;           /* 0, 1; -1: not known */
    double frequency_hz[2]; /* of the tone; of two tones, the stronger first; of a sweep, start and end; else NAN */
    char words[128];        /* "two tones, 19 kHz and 20 kHz"; "" if the kind says it all */
};

struct lds_flag_rules;

struct lds_channel {
    int channel;     /* from 1 */
    char *name;      /* "left", of the bench or the job sheet; NULL: none */
    bool calibrated; /* linear unit is V; else full-scale rms units, printed in dBFS (AES17) */
    struct lds_signal signal;
    size_t figures;
    struct lds_figure *figure;
    size_t absents;
    struct lds_absent *absent;
    size_t problems;
    struct lds_problem *problem;
    size_t series_count;
    struct lds_series *series;
    const struct lds_flag_rules *flag_rules; /* while it is measured: flags that its figures get; else NULL */
};

struct lds_pair {
    int channels[2]; /* from 1 */
    size_t figures;
    struct lds_figure *figure;
    size_t absents;
    struct lds_absent *absent;
    size_t series_count;
    struct lds_series *series;
};

struct lds_measurement { /* of one capture */
    char *file;
    double rate_hz;
    int64_t frames;
    double seconds;
    char format[48];
    char date[32];
    struct lds_bench bench;   /* the record's own copy */
    double window_s;          /* length of the analysis frame for the tone, s */
    int averages;             /* number of such frames */
    double settle_band_v;     /* V: within which the output counts as settled; NAN: not known */
    struct lds_signal signal; /* of the channel with the highest level */
    size_t channels;
    struct lds_channel *channel;
    size_t pairs;
    struct lds_pair *pair;
};

void lds_measurement_free(struct lds_measurement *measurement);

/* ---- the table of keys ---- */

enum lds_section { LDS_TRUST, LDS_LEVEL, LDS_TONE, LDS_NOISE, LDS_MAINS, LDS_SPURS, LDS_PAIR };
enum lds_family {
    LDS_FAMILY_NONE,
    LDS_FAMILY_LEVEL,
    LDS_FAMILY_NOISE,
    LDS_FAMILY_DISTORTION,
    LDS_FAMILY_MAINS,
    LDS_FAMILY_DC
};
enum lds_worse { LDS_WORSE_NONE, LDS_WORSE_UP, LDS_WORSE_DOWN };
enum lds_print {                    /* how the figure is printed for people */
                 LDS_PRINT_PLAIN,   /* value and unit unchanged */
                 LDS_PRINT_VOLTS,   /* V with a prefix, and dBV */
                 LDS_PRINT_DENSITY, /* V/√Hz with a prefix */
                 LDS_PRINT_RATIO,   /* dB and % */
                 LDS_PRINT_PERCENT, /* % and dB */
                 LDS_PRINT_DB,      /* dB */
                 LDS_PRINT_HZ,
                 LDS_PRINT_WATTS,
};

enum lds_chain_rule {                     /* effect of the capture chain on the figure */
                      LDS_CHAIN_NONE,     /* none that matters */
                      LDS_CHAIN_POWER,    /* its power adds, like that of noise */
                      LDS_CHAIN_COHERENT, /* it may add or cancel: harmonics and figures made from them, and hum */
};

/* Figures that code asks for by name. Most are not listed here: their row has everything that matters about them. */
enum lds_figure_id {
    LDS_FIGURE_OTHER,
    LDS_FIGURE_CLIPPED,
    LDS_FIGURE_GAPS,
    LDS_FIGURE_BITS,
    LDS_FIGURE_TONE_DRIFT,
    LDS_FIGURE_SIGNAL_CLOCK,
    LDS_FIGURE_RMS,
    LDS_FIGURE_DC,
    LDS_FIGURE_DC_FINAL,
    LDS_FIGURE_SETTLE,
    LDS_FIGURE_TONE_FREQUENCY,
    LDS_FIGURE_TONE_LEVEL,
    LDS_FIGURE_TONE_POWER,
    LDS_FIGURE_POWER_1PCT,
    LDS_FIGURE_CORNER_LOW,
    LDS_FIGURE_CORNER_HIGH,
    LDS_FIGURE_THD,
    LDS_FIGURE_THD_N,
    LDS_FIGURE_SNR,
    LDS_FIGURE_RESIDUAL_PEAK,
    LDS_FIGURE_NOISE, /* from 20 Hz to 20 kHz, without lines */
    LDS_FIGURE_MAINS_FREQUENCY,
    LDS_FIGURE_MAINS_TOTAL,
    LDS_FIGURE_MAINS_EVEN,
    LDS_FIGURE_BALANCE,
    LDS_FIGURE_IMPEDANCE,
};

/* Series that code asks for by name, as figures. */
enum lds_series_id {
    LDS_SERIES_OTHER,
    LDS_SERIES_HARMONICS,
    LDS_SERIES_PRODUCTS,
    LDS_SERIES_MAINS,
    LDS_SERIES_SPURS,
    LDS_SERIES_FLOOR,
    LDS_SERIES_SPECTRUM,
    LDS_SERIES_DENSITY,
    LDS_SERIES_RESIDUAL,
    LDS_SERIES_MAINS_WAVEFORM,
    LDS_SERIES_GAIN,
    LDS_SERIES_THD_N_BY_POWER,
    LDS_SERIES_THD_BY_POWER,
};

/* What a figure is of. The order is that of how much a moving tone affects it. */
enum lds_of {
    LDS_OF_RECORDING, /* the recording itself */
    LDS_OF_VOLTAGE,   /* the whole signal, which includes the tone's sidebands */
    LDS_OF_REST,      /* what there is besides tone and harmonics, which sidebands affect */
    LDS_OF_RESIDUAL,  /* what is given relative to the tone */
    LDS_OF_TONE,      /* the tone, or harmonics that are tracked with it */
};

/* Which tone two captures must share for the figure to be compared. */
enum lds_tone_rule { LDS_NO_TONE_RULE, LDS_SAME_FREQUENCY, LDS_SAME_TONE /* and the same level */ };

enum lds_compared {
    LDS_JUDGED,       /* if something matters in its family */
    LDS_SHOWN,        /* both values, but no judgement */
    LDS_NOT_COMPARED, /* it is a property of the recording, not of the amplifier */
};

/* Which kinds of power, each with its own scatter, a figure includes besides that of its family. */
enum lds_holds {
    LDS_HOLDS_FAMILY,    /* none */
    LDS_HOLDS_LINES,     /* noise with hum and spurs */
    LDS_HOLDS_HARMONICS, /* the same with harmonics: everything but the tone */
    LDS_HOLDS_ALL,       /* the tone too */
};

enum lds_weighting { LDS_UNWEIGHTED, LDS_WEIGHTED_A, LDS_WEIGHTED_ITU468 };

/* Whether a figure is among those that are read first. */
enum lds_glance {
    LDS_GLANCE_NO,
    LDS_GLANCE_YES,   /* if it is absent, the reason is printed instead */
    LDS_GLANCE_THERE, /* if it is absent, nothing is printed */
    LDS_GLANCE_FOUND, /* only when it is above 0 */
    LDS_GLANCE_ALONE, /* only when no other of its section is there */
};

struct lds_key {
    const char *stem;  /* "noise.band": the key, or its part before .LO-HI or .F */
    const char *label; /* "noise, lines out" */
    const char *unit;  /* unit when calibrated */
    enum lds_section section;
    enum lds_family family;
    enum lds_worse worse;
    enum lds_print print;
    enum lds_figure_id id;
    enum lds_of of;
    double usual_hz[2]; /* the band if none is named; the key then has no band. 0: there is none */
    bool directed;      /* of a pair: the key says from which channel to which, "crosstalk.1-2" */
    bool either_sign;   /* it may be below 0, in decibels or not; a change is then given in its unit */
    bool share;         /* at most 1 */
    bool as_ratio;      /* a frequency or a time whose change is judged as a ratio, in dB */

    enum lds_compared compared;
    enum lds_tone_rule tone;
    enum lds_holds holds;
    enum lds_weighting weighting;
    bool to_half_rate;           /* of an idle output it includes all noise up to half the rate */
    int spare_orders;            /* with this many orders more or less it is still the same figure */
    enum lds_chain_rule chain;   /* for a shape: no rule, but the flags of the figure for its size */
    enum lds_figure_id shape_of; /* for a shape: the figure that gives its size; LDS_FIGURE_OTHER: it is not a shape */

    enum lds_series_id waveform; /* in whose picture a change of it shows; LDS_SERIES_OTHER: in none of a waveform */
    enum lds_glance glance;
    int rank;               /* in the answer of a comparison, from 1, in its usual band; 0: it does not lead there */
    const char *noun;       /* what the sentences of the answer call it; NULL: it stands in the table alone */
    bool history;           /* in the tables of a unit's history, in its usual band */
    bool restates;          /* it says the same as another figure, in another way */
    const char *term;       /* the term that is defined; neighbours may share both. NULL: not in a job's report */
    const char *definition; /* a sentence; full sources: docs/figures.md */
};

/* The row of a key (the longest stem that equals the key or ends at a dot in it), or NULL. */
const struct lds_key *lds_key_find(const char *key);
/* All rows, in the order in which they are printed. */
const struct lds_key *lds_keys(size_t *count);
/* The row of a figure that has a name in code. */
const struct lds_key *lds_key_row(enum lds_figure_id id);

/* Reads a key; anything after the stem that is not a band, a frequency or channels is ignored. */
struct lds_figure_name lds_key_read(const char *key);
/* Whether it is of that figure, in its usual band if it has one. */
bool lds_figure_is(const struct lds_figure_name *name, enum lds_figure_id id);
/* Its rank in the answer of a comparison, from 1; 0: it does not lead there. */
int lds_figure_rank(const struct lds_figure_name *name);
/* Whether it is in the tables of a unit's history. */
bool lds_figure_in_history(const struct lds_figure_name *name);

/* The figure of that name, in its usual band if it has one, or NULL. */
const struct lds_figure *lds_channel_find(const struct lds_channel *channel, enum lds_figure_id id);
const struct lds_figure *lds_pair_find(const struct lds_pair *pair, enum lds_figure_id id);
/* The figure of that key, or NULL. */
const struct lds_figure *lds_channel_figure(const struct lds_channel *channel, const char *key);
const struct lds_figure *lds_pair_figure(const struct lds_pair *pair, const char *key);
/* The first problem of that kind, or NULL. */
const struct lds_problem *lds_channel_problem(const struct lds_channel *channel, const char *kind);
/* Why the key is absent, or NULL when it is present or was never requested. */
const char *lds_channel_absent(const struct lds_channel *channel, const char *key);

/* "20-20k", "400-30k", "100k-500k": the band as written in keys. */
void lds_band_name(double low_hz, double high_hz, char *name, size_t size);

#ifdef __cplusplus
}
#endif
#endif
