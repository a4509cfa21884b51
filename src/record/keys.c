/* The table of keys: one row per figure, in the order of printing. A new figure needs a row here and the code that
 * measures it; no report and no comparison changes. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "loadside/measurement.h"
#include "record/record.h"

/* clang-format off */
static const struct lds_key keys[] = {
    /* stem, label, unit, section, family, worse, print, chain, directed */
    {"capture.clipped",   "clipped runs",              "count",     LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"capture.gaps",      "gaps",                      "count",     LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"capture.bits",      "bits really used",          "bit",       LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"capture.bandwidth", "bandwidth really held",     "Hz",        LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_HZ,      LDS_CHAIN_NONE, false},
    {"capture.identical", "identical channels",        "",          LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"tone.drift",        "drift of the tone's level", "dB",        LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_NONE, false},
    {"tone.wander",       "wander of its frequency",   "ppm",       LDS_TRUST, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},

    {"level.rms",         "rms",                       "V",         LDS_LEVEL, LDS_FAMILY_LEVEL,      LDS_WORSE_NONE, LDS_PRINT_VOLTS,   LDS_CHAIN_NONE, false},
    {"level.peak",        "peak",                      "V",         LDS_LEVEL, LDS_FAMILY_LEVEL,      LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"level.crest",       "crest",                     "dB",        LDS_LEVEL, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_NONE, false},
    {"level.headroom",    "headroom of the capture",   "dB",        LDS_LEVEL, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_NONE, false},
    {"level.dc",          "DC",                        "V",         LDS_LEVEL, LDS_FAMILY_LEVEL,      LDS_WORSE_UP,   LDS_PRINT_PLAIN,   LDS_CHAIN_NONE, false},
    {"tone.frequency",    "frequency of the tone",     "Hz",        LDS_LEVEL, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_HZ,      LDS_CHAIN_NONE, false},
    {"tone.level",        "level of the tone, rms",    "V",         LDS_LEVEL, LDS_FAMILY_LEVEL,      LDS_WORSE_NONE, LDS_PRINT_VOLTS,   LDS_CHAIN_NONE, false},
    {"tone.power",        "power of the tone",         "W",         LDS_LEVEL, LDS_FAMILY_LEVEL,      LDS_WORSE_NONE, LDS_PRINT_WATTS,   LDS_CHAIN_NONE, false},

    {"thd",               "THD re fundamental",        "dB",        LDS_TONE,  LDS_FAMILY_DISTORTION, LDS_WORSE_UP,   LDS_PRINT_RATIO,   LDS_CHAIN_COHERENT, false},
    {"thd_n",             "THD+N",                     "dB",        LDS_TONE,  LDS_FAMILY_DISTORTION, LDS_WORSE_UP,   LDS_PRINT_RATIO,   LDS_CHAIN_COHERENT, false},
    {"sinad",             "SINAD",                     "dB",        LDS_TONE,  LDS_FAMILY_DISTORTION, LDS_WORSE_DOWN, LDS_PRINT_DB,      LDS_CHAIN_COHERENT, false},
    {"snr",               "SNR",                       "dB",        LDS_TONE,  LDS_FAMILY_NOISE,      LDS_WORSE_DOWN, LDS_PRINT_DB,      LDS_CHAIN_POWER, false},
    {"residual.peak",     "residual, peak",            "V",         LDS_TONE,  LDS_FAMILY_DISTORTION, LDS_WORSE_UP,   LDS_PRINT_PLAIN,   LDS_CHAIN_COHERENT, false},
    {"residual.crest",    "residual, crest",           "dB",        LDS_TONE,  LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_COHERENT, false},
    {"residual.crossing", "residual at the crossings", "dB",        LDS_TONE,  LDS_FAMILY_DISTORTION, LDS_WORSE_UP,   LDS_PRINT_DB,      LDS_CHAIN_COHERENT, false},

    {"noise.band",        "noise, lines out",          "V",         LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_POWER, false},
    {"noise.total",       "noise, lines in",           "V",         LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_POWER, false},
    {"noise.a",           "noise, A-weighted",         "V",         LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_POWER, false},
    {"noise.itu468",      "noise, ITU-R 468 rms",      "V",         LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_POWER, false},
    {"noise.density",     "noise density",             "V/√Hz",     LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_DENSITY, LDS_CHAIN_POWER, false},
    {"noise.corner",      "1/f corner",                "Hz",        LDS_NOISE, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_HZ,      LDS_CHAIN_POWER, false},
    {"noise.slope",       "slope above 1 kHz",         "dB/decade", LDS_NOISE, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_POWER, false},
    {"noise.bursts",      "bursts",                    "per min",   LDS_NOISE, LDS_FAMILY_NONE,       LDS_WORSE_UP,   LDS_PRINT_PLAIN,   LDS_CHAIN_POWER, false},
    {"noise.kurtosis",    "kurtosis",                  "",          LDS_NOISE, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_POWER, false},
    {"noise.popcorn",     "two-level steps",           "V",         LDS_NOISE, LDS_FAMILY_NOISE,      LDS_WORSE_UP,   LDS_PRINT_PLAIN,   LDS_CHAIN_POWER, false},

    {"mains.frequency",   "mains frequency",           "Hz",        LDS_MAINS, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_HZ,      LDS_CHAIN_NONE, false},
    {"mains.total",       "mains, total",              "V",         LDS_MAINS, LDS_FAMILY_MAINS,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_COHERENT, false},
    {"mains.odd",         "mains, odd",                "V",         LDS_MAINS, LDS_FAMILY_MAINS,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_COHERENT, false},
    {"mains.even",        "mains, even",               "V",         LDS_MAINS, LDS_FAMILY_MAINS,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_COHERENT, false},
    {"mains.buzz",        "mains, buzz",               "V",         LDS_MAINS, LDS_FAMILY_MAINS,      LDS_WORSE_UP,   LDS_PRINT_VOLTS,   LDS_CHAIN_COHERENT, false},
    {"mains.wander",      "wander of the total, p-p",  "dB",        LDS_MAINS, LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_NONE, false},
    {"mains.modulation",  "mains sidebands re tone",   "dB",        LDS_MAINS, LDS_FAMILY_MAINS,      LDS_WORSE_UP,   LDS_PRINT_RATIO,   LDS_CHAIN_COHERENT, false},

    {"balance",           "balance",                   "dB",        LDS_PAIR,  LDS_FAMILY_LEVEL,      LDS_WORSE_NONE, LDS_PRINT_DB,      LDS_CHAIN_NONE, false},
    {"crosstalk",         "crosstalk",                 "dB",        LDS_PAIR,  LDS_FAMILY_DISTORTION, LDS_WORSE_UP,   LDS_PRINT_DB,      LDS_CHAIN_COHERENT, true},
    {"noise.coherence",   "coherence of the noise",    "",          LDS_PAIR,  LDS_FAMILY_NONE,       LDS_WORSE_NONE, LDS_PRINT_PLAIN,   LDS_CHAIN_POWER, false},
};
/* clang-format on */

const struct lds_key *lds_keys(size_t *count)
{
    *count = sizeof keys / sizeof keys[0];
    return keys;
}

const struct lds_key *lds_key_find(const char *key)
{
    const struct lds_key *found = NULL;
    size_t longest = 0;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        size_t length = strlen(keys[i].stem);
        bool fits = strncmp(keys[i].stem, key, length) == 0 && (key[length] == '\0' || key[length] == '.');
        if (fits && length > longest) {
            found = &keys[i];
            longest = length;
        }
    }
    return found;
}

/* DC and kurtosis may have either sign, and so may decibels; nothing else is below 0. */
void lds_key_range(const char *key, const char *unit, double *least, double *most)
{
    static const char *const sizes[] = {"V", "W", "V/√Hz", "Hz", "ppm", "count", "bit", "per min"};
    static const char *const shares[] = {"noise.coherence", "capture.identical"};
    const struct lds_key *row = lds_key_find(key);
    *least = -INFINITY;
    *most = INFINITY;
    if (!row || strcmp(row->stem, "level.dc") == 0)
        return;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        if (strcmp(unit, sizes[i]) == 0)
            *least = 0.0;
    for (size_t i = 0; i < sizeof shares / sizeof shares[0]; i++)
        if (strcmp(row->stem, shares[i]) == 0) {
            *least = 0.0;
            *most = 1.0;
        }
}

/* A switch without default, so that a new flag warns here. */
const char *lds_flag_name(enum lds_flag flag)
{
    switch (flag) {
    case LDS_FLAG_BELOW_FLOOR:
        return "below floor";
    case LDS_FLAG_BAND_CUT:
        return "band cut";
    case LDS_FLAG_UNSTEADY:
        return "unsteady";
    case LDS_FLAG_CLIPPED:
        return "clipped";
    case LDS_FLAG_GAP:
        return "gap";
    case LDS_FLAG_BANDWIDTH:
        return "bandwidth";
    case LDS_FLAG_FEW_BITS:
        return "few bits";
    case LDS_FLAG_IDENTICAL:
        return "identical";
    case LDS_FLAG_DRIFTING:
        return "drifting";
    case LDS_FLAG_NEAR_LINE:
        return "near line";
    case LDS_FLAG_FLAT:
        return "flat";
    case LDS_FLAG_CHAIN_NOT_MEASURED:
        return "chain not measured";
    case LDS_FLAG_CHAIN_NOT_COMPARABLE:
        return "chain not comparable";
    case LDS_FLAG_NEAR_CHAIN:
        return "near chain";
    case LDS_FLAG_CHAIN_LIMITED:
        return "chain-limited";
    }
    return "unknown flag";
}

/* Up to four decimals without trailing zeros. Only whole numbers go through printf, so the locale cannot change the
 * decimal point. */
static void write_edge(double hz, char *text, size_t size)
{
    const char *prefix = hz >= 1e6 ? "M" : hz >= 1e3 ? "k" : "";
    double unit_hz = hz >= 1e6 ? 1e6 : hz >= 1e3 ? 1e3 : 1.0;
    long long parts = llround(hz / unit_hz * 1e4);
    char digits[48];
    snprintf(digits, sizeof digits, "%lld.%04d", parts / 10000, (int)(parts % 10000));
    size_t length = strlen(digits);
    while (digits[length - 1] == '0')
        length--;
    if (digits[length - 1] == '.')
        length--;
    snprintf(text, size, "%.*s%s", (int)length, digits, prefix);
}

void lds_band_name(double low_hz, double high_hz, char *name, size_t size)
{
    char low[32], high[32];
    write_edge(low_hz, low, sizeof low);
    write_edge(high_hz, high, sizeof high);
    snprintf(name, size, "%s-%s", low, high);
}
