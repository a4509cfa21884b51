#include "report/ledger_parts.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "job/tone.h"
#include "report/reading.h"
#include "report/text.h"
#include "safe_text.h"
#include "scarce.h"

char *lds_ledger_unit_words(const struct lds_ledger_unit *unit)
{
    char *words = NULL;
    const char *make = unit->make ? unit->make : "", *type = unit->type ? unit->type : "";
    if (asprintf(&words, "%s%s%s%s%s", make[0] || type[0] ? make : "make and type not stated",
                 make[0] && type[0] ? " " : "", type, unit->serial ? ", serial number " : ", no serial number",
                 unit->serial ? unit->serial : "") >= 0)
        return words;
    lds_scarce_note();
    return NULL;
}

void lds_series_condition(const struct lds_ledger_series *series, char *text, size_t size)
{
    char tone[48] = "", power[48] = "", load[48] = "", rate[48] = "", hz[32];
    const struct lds_role *role = series->role;
    if (role->tone && isfinite(series->tone_hz)) {
        lds_reading_hz(series->tone_hz, hz, sizeof hz);
        snprintf(tone, sizeof tone, ", %s", hz);
    }
    if (role->power && isfinite(series->power_w))
        snprintf(power, sizeof power, ", %.4g W", series->power_w);
    else if (role->power)
        snprintf(power, sizeof power, ", power not stated");
    if (role->power && isfinite(series->load_ohm))
        snprintf(load, sizeof load, "%s %.4g ohm", isfinite(series->power_w) ? " into" : ",", series->load_ohm);
    else if (role->power)
        snprintf(load, sizeof load, ", load not stated");
    if (isfinite(series->rate_hz)) {
        lds_reading_hz(series->rate_hz, hz, sizeof hz);
        snprintf(rate, sizeof rate, ", sampled at %s", hz);
    }
    snprintf(text, size, "%c%s%s%s%s%s", toupper((unsigned char)role->name[0]), role->name + 1, tone, power, load,
             rate);
}

static void escape(const char *plain, char *text, size_t size)
{
    char *safe = lds_words_escape(plain);
    snprintf(text, size, "%s", safe ? safe : "");
    free(safe);
}

void lds_series_channel(const struct lds_ledger_series *series, char *text, size_t size)
{
    char words[LDS_SERIES_CHANNEL];
    if (series->other > 0)
        lds_pair_words((const char *const[]){series->channel_name, series->other_name},
                       (const int[]){series->channel, series->other}, words, sizeof words);
    else
        lds_channel_words(series->channel_name, series->channel, words, sizeof words);
    escape(words, text, size);
}

void lds_series_label(const struct lds_ledger_series *series, char *label, size_t size)
{
    const struct lds_figure figure = {.key = series->key,
                                      .band_hz = {series->band_hz[0], series->band_hz[1]},
                                      .orders = {series->orders[0], series->orders[1]}};
    char plain[160];
    lds_text_label(series->key, &figure, plain, sizeof plain);
    escape(plain, label, size); /* an unknown key is shown as in the file */
}

void lds_series_key(const struct lds_ledger_series *series, char *key, size_t size)
{
    escape(series->key, key, size);
}

static bool same(double one, double other)
{
    return isnan(one) ? isnan(other) : one == other;
}

bool lds_series_same_condition(const struct lds_ledger_series *one, const struct lds_ledger_series *other)
{
    return one->role == other->role && same(one->power_w, other->power_w) && same(one->load_ohm, other->load_ohm) &&
           lds_same_tone(one->tone_hz, other->tone_hz) && same(one->rate_hz, other->rate_hz);
}

void lds_ledger_day(const char *date, char day[16])
{
    char *safe = lds_words_escape(date ? date : "");
    snprintf(day, 16, "%.10s", safe && safe[0] ? safe : "no date");
    free(safe);
}
