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

char *lds_ledger_unit_words(const struct lds_ledger_unit *unit)
{
    const char *make = unit->make ? unit->make : "", *type = unit->type ? unit->type : "";
    return lds_made("%s%s%s%s%s", make[0] || type[0] ? make : "make and type not stated", make[0] && type[0] ? " " : "",
                    type, unit->serial ? ", serial number " : ", no serial number", unit->serial ? unit->serial : "");
}

struct lds_label lds_series_condition(const struct lds_ledger_series *series)
{
    char power[48] = "", load[48] = "";
    const struct lds_role *role = series->role;
    const bool tone = role->tone && isfinite(series->tone_hz), rate = isfinite(series->rate_hz);
    if (role->power && isfinite(series->power_w))
        snprintf(power, sizeof power, ", %.4g W", series->power_w);
    else if (role->power)
        snprintf(power, sizeof power, ", power not stated");
    if (role->power && isfinite(series->load_ohm))
        snprintf(load, sizeof load, "%s %.4g ohm", isfinite(series->power_w) ? " into" : ",", series->load_ohm);
    else if (role->power)
        snprintf(load, sizeof load, ", load not stated");
    return lds_label("%c%s%s%s%s%s%s%s", toupper((unsigned char)role->name[0]), role->name + 1, tone ? ", " : "",
                     tone ? lds_hz(series->tone_hz).text : "", power, load, rate ? ", sampled at " : "",
                     rate ? lds_hz(series->rate_hz).text : "");
}

/* Of at most that many bytes. */
static struct lds_sentence escaped(const char *plain, int most)
{
    char *safe = lds_words_escape(plain);
    const struct lds_sentence words = lds_sentence("%.*s", most, safe ? safe : "");
    free(safe);
    return words;
}

struct lds_sentence lds_series_channel(const struct lds_ledger_series *series)
{
    const struct lds_label words = series->other > 0
                                       ? lds_pair_words((const char *const[]){series->channel_name, series->other_name},
                                                        (const int[]){series->channel, series->other})
                                       : lds_channel_words(series->channel_name, series->channel);
    return escaped(words.text, 159);
}

struct lds_sentence lds_series_label(const struct lds_ledger_series *series)
{
    const struct lds_figure figure = {.key = series->key,
                                      .band_hz = {series->band_hz[0], series->band_hz[1]},
                                      .orders = {series->orders[0], series->orders[1]}};
    const char *const names[2] = {series->channel_name, series->other_name};
    return escaped(lds_named_label(series->key, &figure, names).text, 199); /* an unknown key is shown as in the file */
}

struct lds_sentence lds_series_key(const struct lds_ledger_series *series)
{
    return escaped(series->key, 199);
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

struct lds_sentence lds_ledger_day(const char *date)
{
    return escaped(date && date[0] ? date : "no date", 10);
}
