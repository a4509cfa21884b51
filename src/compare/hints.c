/* The usual cause of a pattern of changes. Hints, not findings: each is common practice without a source and says that
 * it is a hint. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"

static const double COUPLING_HZ = 100.0;  /* below: determined by coupling and servo */
static const double SUPERSONIC_HZ = 20e3; /* an amplifier should have no lines above this */
static const double GAIN_SPREAD_DB = 0.3; /* changes that differ by less count as the same */

static bool add_hint(struct lds_compared_channel *out, const char *text)
{
    return lds_say(&out->hint, &out->hints, "hint (common practice): %s", text);
}

static const struct lds_change *change_of(const struct lds_compared_channel *out, enum lds_figure_id id)
{
    for (size_t i = 0; i < out->changes; i++)
        if (lds_figure_is(&out->change[i].name, id))
            return &out->change[i];
    return NULL;
}

static bool is_moved(enum lds_word word)
{
    return word == LDS_LOWER || word == LDS_HIGHER || word == LDS_SLIGHTLY_LOWER || word == LDS_SLIGHTLY_HIGHER;
}

/* Did any judged figure outside a section change? */
static bool moves_outside(const struct lds_compared_channel *out, enum lds_section section)
{
    for (size_t i = 0; i < out->changes; i++) {
        const struct lds_key *row = out->change[i].name.row;
        bool holds_hum = row->section == LDS_LEVEL || row->holds != LDS_HOLDS_FAMILY;
        if (out->change[i].judged && is_moved(out->change[i].word) && row->section != section && !holds_hum)
            return true;
    }
    return lds_compared_axis(out, lds_series_kind_of(LDS_SERIES_FLOOR)->key)->regions > 0;
}

/* Did at least `least` orders of a family rise, and only of one parity? */
static bool only_rise(const struct lds_compared_channel *out, enum lds_family family, int parity, int least)
{
    int rises = 0;
    for (size_t i = 0; i < out->lines; i++) {
        const struct lds_line_change *line = &out->line[i];
        if (line->kind->match != LDS_MATCH_ORDER || line->kind->family != family)
            continue;
        if (line->order % 2 != parity && (line->word == LDS_HIGHER || line->word == LDS_SLIGHTLY_HIGHER))
            return false;
        rises += line->order % 2 == parity && line->word == LDS_HIGHER;
    }
    return rises >= least;
}

static bool hint_mains(struct lds_compared_channel *out)
{
    if (only_rise(out, LDS_FAMILY_MAINS, 1, 1) && !moves_outside(out, LDS_MAINS))
        return add_hint(out,
                        "only odd mains orders rose, which is more often lead dress or earthing of the measurement "
                        "than the amplifier: look there first, and record again");
    if (only_rise(out, LDS_FAMILY_MAINS, 0, 1))
        return add_hint(out, "only even mains orders rose, which points to ripple of a full-wave supply rather than to "
                             "pickup: look at reservoir capacitors, rectifier and regulators");
    return true;
}

static bool hint_distortion(struct lds_compared_channel *out)
{
    if (only_rise(out, LDS_FAMILY_DISTORTION, 1, 2))
        return add_hint(out, "only odd harmonics rose, as they do when a push-pull stage runs leaner: check its bias");
    return true;
}

static bool hint_spurs(struct lds_compared_channel *out)
{
    bool oscillation = false, raster = false;
    for (size_t i = 0; i < out->lines; i++) {
        const struct lds_line_change *line = &out->line[i];
        bool rose = line->kind->match == LDS_MATCH_NEAREST && (line->appeared || line->word == LDS_HIGHER);
        oscillation = oscillation ||
                      (rose && line->frequency_hz > SUPERSONIC_HZ && strncmp(line->origin, "unexplained", 11) == 0);
        raster = raster || (rose && strstr(line->origin, "raster") != NULL);
    }
    if (oscillation && !add_hint(out, "a new line above 20 kHz has no explanation: check for oscillation with an "
                                      "oscilloscope, at no load and at full load"))
        return false;
    return !raster ||
           add_hint(out, "a new line lies on a 1 kHz or 8 kHz raster, as the USB frames of a sound card do: it "
                         "is more likely of the capture chain than of the amplifier");
}

/* Noise that changed only at the lowest frequencies. No figure measures the low corner itself: a capture of an idle
 * output, or of one tone, shows no response. */
static bool hint_coupling(struct lds_compared_channel *out)
{
    const struct lds_axis_change *noise = lds_compared_axis(out, lds_series_kind_of(LDS_SERIES_FLOOR)->key);
    if (noise->regions == 0)
        return true;
    for (size_t i = 0; i < noise->regions; i++)
        if (noise->region[i].to > COUPLING_HZ)
            return true;
    for (size_t i = 0; i < out->changes; i++)
        if (out->change[i].judged && is_moved(out->change[i].word))
            return true;
    return add_hint(out,
                    "the noise changed below 100 Hz and nothing else did: usually only the coupling or the servo, not "
                    "the amplifying stages. The noise alone tells this: a tone at some 10 Hz, captured on both sides, "
                    "shows by its level whether the low corner moved");
}

/* Noise and hum changed by the same amount, and the SNR did not: the gain changed, not the noise or the hum. */
static bool hint_gain(struct lds_compared_channel *out)
{
    const struct lds_change *noise = change_of(out, LDS_FIGURE_NOISE), *mains = change_of(out, LDS_FIGURE_MAINS_TOTAL);
    const struct lds_change *snr = change_of(out, LDS_FIGURE_SNR);
    bool both = noise && mains && is_moved(noise->word) && is_moved(mains->word);
    if (!both || !(fabs(noise->change - mains->change) < GAIN_SPREAD_DB) || (snr && snr->judged && is_moved(snr->word)))
        return true;
    return add_hint(out,
                    "noise and hum moved by the same amount: first see whether gain, divider or calibration differ");
}

bool lds_hints_find(struct lds_part *part)
{
    struct lds_compared_channel *out = part->out;
    return hint_mains(out) && hint_distortion(out) && hint_spurs(out) && hint_coupling(out) && hint_gain(out);
}
