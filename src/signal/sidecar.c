/* The keys of a sidecar: one table for reading, writing and the documentation. */
#include "signal/sidecar.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "ini_file.h"
#include "loadside/capture.h"
#include "loadside/loadside.h"

#define AT(member) offsetof(struct lds_signal_spec, member)
#define OF(kind) (1u << LDS_SIGNAL_##kind)
#define EACH (OF(SILENCE) | OF(NOISE) | WITH_TONE)
#define WITH_TONE (OF(SINE) | OF(TWO_TONE) | OF(SWEEP) | OF(STAIRCASE) | OF(BURST))

/* Kinds that are not made have no word. */
static const char *kind_word(int i)
{
    const enum lds_signal_kind kind = (enum lds_signal_kind)i;
    if (i >= LDS_SIGNALS)
        return NULL;
    return lds_signal_stated(kind) == LDS_STATED_BY_FILE ? lds_signal_name(kind) : "";
}

/* clang-format off */
static const struct lds_sidecar_key keys[] = {
    {{"kind", LDS_INI_WORD, "", AT(kind), 0, 0, false, "must be stated", "what is played", kind_word, NULL}, EACH},
    {{"rate", LDS_INI_WHOLE, "Hz", AT(rate_hz), 8000, 768000, false, "48000", "the player's sampling rate", NULL, NULL}, EACH},
    {{"bits", LDS_INI_WHOLE, "", AT(bits), 16, 32, false, "24", "16 or 24, with triangular dither of 2 LSB from peak to peak; 32: float", NULL, NULL}, EACH},
    {{"channels", LDS_INI_WHOLE, "", AT(channels), 1, LDS_CHANNELS_MAX, false, "1", "channels of the file", NULL, NULL}, EACH},
    {{"channel", LDS_INI_WHOLE, "", AT(channel), 0, LDS_CHANNELS_MAX, false, "0", "the driven channel; 0: all", NULL, NULL}, EACH},
    {{"lead", LDS_INI_QUANTITY, "s", AT(lead_s), 0, 86400, false, "0.5 s", "silence before the signal", NULL, NULL}, EACH},
    {{"seconds", LDS_INI_QUANTITY, "s", AT(seconds), 0, 86400, true, "10 s", "length of the signal; of a sweep, of one of its repeats", NULL, NULL}, EACH},
    {{"tail", LDS_INI_QUANTITY, "s", AT(tail_s), 0, 86400, false, "0.5 s", "silence after it", NULL, NULL}, EACH},
    {{"level_dbfs", LDS_INI_QUANTITY, "dBFS", AT(level_dbfs), -200, 0, false, "-3 dBFS", "AES17: a sine of 0 dBFS has a peak of full scale; of two tones, the sine whose peak their sum reaches; of noise, its peak; of a staircase, its first step", NULL, NULL}, EACH & ~OF(SILENCE)},
    {{"to_dbfs", LDS_INI_QUANTITY, "dBFS", AT(to_dbfs), -200, 0, false, "must be stated", "level of the last step", NULL, NULL}, OF(STAIRCASE)},
    {{"step_db", LDS_INI_QUANTITY, "dB", AT(step_db), 0, 200, true, "must be stated", "from one step to the next", NULL, NULL}, OF(STAIRCASE)},
    {{"hold", LDS_INI_QUANTITY, "s", AT(hold_s), 0, 86400, true, "must be stated", "length of a step", NULL, NULL}, OF(STAIRCASE)},
    {{"and_back", LDS_INI_YES_NO, "", AT(and_back), 0, 0, false, "no", "the steps once more in reverse, the last level once", NULL, NULL}, OF(STAIRCASE)},
    {{"frequency", LDS_INI_RAILS, "Hz", AT(frequency_hz), 0, 384000, true, "must be stated", "of the tone; two, separated by a comma, of two tones and of a sweep: where it begins and ends", NULL, NULL}, WITH_TONE},
    {{"ratio", LDS_INI_QUANTITY, "", AT(ratio), 0.01, 100, false, "1", "amplitude of the first tone over that of the second", NULL, NULL}, OF(TWO_TONE)},
    {{"repeats", LDS_INI_WHOLE, "", AT(repeats), 1, 10000, false, "1", "times that the sweep is played, without a gap", NULL, NULL}, OF(SWEEP)},
    {{"on", LDS_INI_QUANTITY, "s", AT(on_s), 0, 86400, true, "must be stated", "length of a burst", NULL, NULL}, OF(BURST)},
    {{"off", LDS_INI_QUANTITY, "s", AT(off_s), 0, 86400, true, "must be stated", "silence after each", NULL, NULL}, OF(BURST)},
    {{"pink", LDS_INI_YES_NO, "", AT(pink), 0, 0, false, "no", "its power falls by 3 dB an octave; else it is white", NULL, NULL}, OF(NOISE)},
    {{"period", LDS_INI_WHOLE, "", AT(period), 256, 1 << 20, false, "must be stated", "samples after which the noise repeats, a power of two", NULL, NULL}, OF(NOISE)},
    {{"fade_in", LDS_INI_QUANTITY, "s", AT(fade_in_s), 0, 86400, false, "chosen", "raised cosine at the beginning, and of each burst or step", NULL, NULL}, EACH & ~OF(SILENCE)},
    {{"fade_out", LDS_INI_QUANTITY, "s", AT(fade_out_s), 0, 86400, false, "chosen", "the same at the end", NULL, NULL}, EACH & ~OF(SILENCE)},
    {{"seed", LDS_INI_WHOLE, "", AT(seed), 0, 2147483647, false, "1", "of the phases of noise, and of dither", NULL, NULL}, EACH},
    {{"version", LDS_INI_OWN, "", 0, 0, 0, false, "not stated", "version of loadside that made the file; reading does not depend on it", NULL, NULL}, EACH},
};
/* clang-format on */
enum { KEYS = sizeof keys / sizeof *keys };

const struct lds_sidecar_key *lds_sidecar_keys(size_t *count)
{
    *count = KEYS;
    return keys;
}

/* ---- reading ---- */

struct reading {
    struct lds_signal_spec spec;
    bool seen[KEYS];
};

static enum lds_status take_key(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                                struct lds_error *error)
{
    struct reading *reading = context;
    enum lds_status status = lds_ini_under(at, "signal", name, error);
    size_t i = 0;
    if (status)
        return status;
    while (i < KEYS && strcmp(keys[i].is.name, name) != 0)
        i++;
    if (i == KEYS) {
        const char *names[KEYS];
        for (size_t k = 0; k < KEYS; k++)
            names[k] = keys[k].is.name;
        return lds_ini_unknown("unknown key", name, names, KEYS, "the keys are in docs/signal-file.md", error);
    }
    if (reading->seen[i])
        return lds_fail(error, LDS_BAD_USE, "%s is stated twice; leave one out", name);
    reading->seen[i] = true;
    return keys[i].is.kind == LDS_INI_OWN ? LDS_OK : lds_ini_set(&keys[i].is, &reading->spec, value, error);
}

/* Refuses a sidecar that does not state everything that its kind of signal needs. */
static enum lds_status check_whole(const struct reading *reading, const char *path, struct lds_error *error)
{
    const unsigned kind = 1u << reading->spec.kind;
    if (reading->spec.kind == LDS_SIGNAL_NONE)
        return lds_fail(error, LDS_BAD_USE, "%s: states no kind of signal; kind = sweep or another expected", path);
    for (size_t i = 0; i < KEYS; i++)
        if ((keys[i].of & kind) && !reading->seen[i] && strcmp(keys[i].is.fallback, "must be stated") == 0)
            return lds_fail(error, LDS_BAD_USE, "%s: states no %s; %s has one: add it, or make the signal again", path,
                            keys[i].is.name, lds_signal_phrase(reading->spec.kind));
    return LDS_OK;
}

enum lds_status lds_signal_spec_load(struct lds_signal_spec *spec, const char *path, struct lds_error *error)
{
    static const struct lds_ini_format format = {.what = "the signal's file",
                                                 .name_one = "name the .ini that loadside signal wrote beside the WAV",
                                                 .form = "'key = value'; see docs/signal-file.md",
                                                 .shorten = "shorten it",
                                                 .key = take_key};
    struct reading reading = {0};
    struct lds_error why = {0};
    lds_signal_spec_init(&reading.spec, LDS_SIGNAL_NONE);
    enum lds_status status = lds_ini_read(path, &format, &reading, error);
    if (!status)
        status = check_whole(&reading, path, error);
    if (!status && (status = lds_signal_spec_check(&reading.spec, &why)) != LDS_OK)
        return lds_fail(error, status, "%s: %s", path, why.message);
    if (!status)
        *spec = reading.spec;
    return status;
}

/* ---- writing ---- */

/* The shortest form that reads back as the same number. */
static void write_number(FILE *out, double value)
{
    char text[40];
    for (int digits = 6; digits <= 17; digits++) {
        snprintf(text, sizeof text, "%.*g", digits, value);
        if (strtod(text, NULL) == value)
            break;
    }
    fputs(text, out);
}

static void write_value(FILE *out, const struct lds_ini_key *key, const struct lds_signal_spec *spec)
{
    const char *base = (const char *)spec + key->offset;
    const double *number = (const double *)(const void *)base;
    switch (key->kind) {
    case LDS_INI_QUANTITY:
        write_number(out, *number);
        break;
    case LDS_INI_RAILS:
        write_number(out, number[0]);
        if (!isnan(number[1])) {
            fputs(", ", out);
            write_number(out, number[1]);
        }
        break;
    case LDS_INI_YES_NO:
        fputs(*(const bool *)base ? "yes" : "no", out);
        break;
    case LDS_INI_WORD:
        fputs(lds_signal_name(spec->kind), out);
        break;
    case LDS_INI_OWN:
        fputs(lds_version(), out);
        break;
    default:
        fprintf(out, "%d", *(const int *)(const void *)base);
    }
}

void lds_sidecar_write(FILE *out, const struct lds_signal_spec *spec)
{
    fputs(
        "; What loadside signal wrote into the WAV file of the same name. Measure its captures with --signal and this\n"
        "; file. Keys: docs/signal-file.md.\n[signal]\n",
        out);
    for (size_t i = 0; i < KEYS; i++) {
        if (!(keys[i].of & (1u << spec->kind)))
            continue;
        fprintf(out, "%s = ", keys[i].is.name);
        write_value(out, &keys[i].is, spec);
        fputc('\n', out);
    }
}
