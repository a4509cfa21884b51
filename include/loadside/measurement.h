/* The record in the middle: what a measurement found. Measurements append to it, reports and comparisons walk it.
 * Unknown numbers are NAN (null in JSON), never 0. */
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
    LDS_FLAG_BAND_CUT = 1u << 1,            /* "band cut": band_hz is less than the band asked for */
    LDS_FLAG_UNSTEADY = 1u << 2,            /* "unsteady": scatter over 8 blocks exceeds that of steady noise */
    LDS_FLAG_CLIPPED = 1u << 3,             /* "clipped" */
    LDS_FLAG_GAP = 1u << 4,                 /* "gap" */
    LDS_FLAG_BANDWIDTH = 1u << 5,           /* "bandwidth": reaches past the edge where the capture's floor falls off */
    LDS_FLAG_FEW_BITS = 1u << 6,            /* "few bits" */
    LDS_FLAG_IDENTICAL = 1u << 7,           /* "identical": the channel equals another, inverts it, or is dead */
    LDS_FLAG_DRIFTING = 1u << 8,            /* "drifting": the tone moves more than the figure allows for */
    LDS_FLAG_NEAR_LINE = 1u << 9,           /* "near line": tone, harmonic or sideband too close to a mains order */
    LDS_FLAG_FLAT = 1u << 10,               /* "flat": a slope wholly inside +-1 dB/decade */
    LDS_FLAG_CHAIN_NOT_MEASURED = 1u << 11, /* "chain not measured" */
    LDS_FLAG_CHAIN_NOT_COMPARABLE = 1u << 12,
    LDS_FLAG_NEAR_CHAIN = 1u << 13,
    LDS_FLAG_CHAIN_LIMITED = 1u << 14,
};
enum { LDS_FLAGS = 15 };
const char *lds_flag_name(enum lds_flag flag);

struct lds_figure {
    char *key;         /* "thd", "noise.band.20-20k", ... */
    char unit[16];     /* "V", "dB", "Hz", "V/√Hz", "dBFS", ...: the unit of value, low, high, u_a and u_b */
    double value;      /* V are linear rms volts; NAN when below the floor */
    double low, high;  /* 95 % interval */
    double u_a, u_b;   /* standard uncertainties from the data and from the bench */
    double dof;        /* degrees of freedom of u_a; INFINITY when known, not estimated */
    double band_hz[2]; /* what was covered; NAN when the figure has no band */
    int orders[2];     /* first and last harmonic; 0 when the figure has none */
    double removed_hz; /* width of lines taken out of the band; NAN when it does not apply */
    unsigned flags;    /* enum lds_flag bits */
};

/* The kind of a problem that is the amplifier's and not the recording's: it limits the tone's peaks. */
#define LDS_PROBLEM_AMPLIFIER_CLIPS "amplifier clips"

struct lds_problem {
    char kind[24];  /* "clipped", "gap", "repeat", "amplifier clips", ... */
    double at_s;    /* seconds from the start */
    double samples; /* how many; NAN unknown */
    double ceiling; /* "amplifier clips": the peak it is limited to, linear unit; else NAN or 0 */
};

struct lds_absent {
    char *key;
    char *reason;
};

struct lds_series; /* loadside/series.h */

/* What was played, or what the capture shows of it. lds_signal_name gives the word used in JSON. */
enum lds_signal_kind {
    LDS_SIGNAL_NONE,      /* not known: a result of an earlier version */
    LDS_SIGNAL_SILENCE,   /* "silence": idle, nothing was played */
    LDS_SIGNAL_SINE,      /* "sine": one tone */
    LDS_SIGNAL_TWO_TONE,  /* "two-tone" */
    LDS_SIGNAL_SWEEP,     /* "sweep": a tone that moves through the band */
    LDS_SIGNAL_STAIRCASE, /* "staircase": one tone that steps in level */
    LDS_SIGNAL_BURST,     /* "burst": one tone, on and off or loud and soft in turn */
    LDS_SIGNAL_NOISE,     /* "noise": steady and broad */
    LDS_SIGNAL_PROGRAMME, /* "programme": music, speech, or anything else that is loud and none of these */
    LDS_SIGNAL_POWER_ON,  /* "power-on": the amplifier is switched on */
};
enum { LDS_SIGNALS = LDS_SIGNAL_POWER_ON + 1 };
const char *lds_signal_name(enum lds_signal_kind kind); /* NONE: "" */

struct lds_signal {
    enum lds_signal_kind kind;
    bool stated;            /* by the user; else recognised */
    double delay_s;         /* capture time at which it begins; NAN: not known */
    double clock_ppm;       /* clock of the recorder re that of the player; NAN: not known */
    int inverted;           /* 0, 1; -1: not known */
    double frequency_hz[2]; /* of the tone; of two tones, the stronger first; of a sweep, from and to; else NAN */
    char words[128];        /* "two tones, 19 kHz and 20 kHz"; "" where there is no more to say than its kind */
};

/* Whether level, lines and noise of such a signal are the same throughout: else its noise is not that of the amplifier.
 */
bool lds_signal_is_steady(enum lds_signal_kind kind);

struct lds_channel {
    int channel;     /* from 1 */
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
    struct lds_bench bench;   /* a copy of its own */
    double window_s;          /* length of the analysis frame about the tone, s */
    int averages;             /* how many such frames */
    struct lds_signal signal; /* of the channel with the highest level */
    size_t channels;
    struct lds_channel *channel;
    size_t pairs;
    struct lds_pair *pair;
};

void lds_measurement_free(struct lds_measurement *measurement);

/* The figure of that key, or NULL. */
const struct lds_figure *lds_channel_figure(const struct lds_channel *channel, const char *key);
const struct lds_figure *lds_pair_figure(const struct lds_pair *pair, const char *key);
/* The first problem of that kind, or NULL. */
const struct lds_problem *lds_channel_problem(const struct lds_channel *channel, const char *kind);
/* Why the key is absent, or NULL when it is present or was never asked for. */
const char *lds_channel_absent(const struct lds_channel *channel, const char *key);

/* ---- the table of keys ---- */

enum lds_section { LDS_TRUST, LDS_LEVEL, LDS_TONE, LDS_NOISE, LDS_MAINS, LDS_SPURS, LDS_PAIR };
enum lds_family { LDS_FAMILY_NONE, LDS_FAMILY_LEVEL, LDS_FAMILY_NOISE, LDS_FAMILY_DISTORTION, LDS_FAMILY_MAINS };
enum lds_worse { LDS_WORSE_NONE, LDS_WORSE_UP, LDS_WORSE_DOWN };
enum lds_print {                    /* how people read the figure */
                 LDS_PRINT_VOLTS,   /* V with a prefix, and dBV */
                 LDS_PRINT_DENSITY, /* V/√Hz with a prefix */
                 LDS_PRINT_RATIO,   /* dB and % */
                 LDS_PRINT_DB,      /* dB */
                 LDS_PRINT_HZ,
                 LDS_PRINT_WATTS,
                 LDS_PRINT_PLAIN, /* value and unit as they are */
};

enum lds_chain_rule {                     /* what the capture chain does to the figure */
                      LDS_CHAIN_NONE,     /* nothing that counts */
                      LDS_CHAIN_POWER,    /* its power adds, as that of noise */
                      LDS_CHAIN_COHERENT, /* it may add or cancel: harmonics and what is made of them, and hum */
};

struct lds_key {
    const char *stem;  /* "noise.band": the key, or the key before its .LO-HI or .F */
    const char *label; /* "noise, lines out" */
    const char *unit;  /* unit when calibrated */
    enum lds_section section;
    enum lds_family family;
    enum lds_worse worse;
    enum lds_print print;
    enum lds_chain_rule chain;
    bool directed; /* of a pair: the key says from which channel to which, "crosstalk.1-2" */
};

/* The row of a key (longest stem that equals the key or ends at a dot in it), or NULL. */
const struct lds_key *lds_key_find(const char *key);
/* All rows, in the order in which they are printed. */
const struct lds_key *lds_keys(size_t *count);

/* "20-20k", "400-30k", "100k-500k": the band as keys write it. */
void lds_band_name(double low_hz, double high_hz, char *name, size_t size);

#ifdef __cplusplus
}
#endif
#endif
