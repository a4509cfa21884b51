/* Powers and roles of a sheet before anything is measured: compared with the inputs and with the captures. */
#include <math.h>
#include <stdio.h>

#include "job/check_parts.h"
#include "job/look.h"
#include "job/power.h"
#include "job/remarks.h"
#include "job/tone.h"

static const double LITTLE_ROOM = 0.794; /* 1 dB */

/* Whether a sine of that power fits the input: its peak is sqrt(2 P R). */
static bool of_power(const struct check *check, const char *whose, double power_w, const struct lds_bench *bench)
{
    double highest_w = lds_bench_largest_sine_w(bench), peak_v = sqrt(2.0 * power_w * bench->load_ohm);
    if (isnan(power_w) || isnan(highest_w))
        return true;
    bool fits = power_w <= highest_w * (1.0 + 1e-9), closely = power_w > highest_w * LITTLE_ROOM;
    const char *answer = !fits ? "it does NOT fit" : closely ? "it fits, with less than 1 dB to spare" : "it fits";
    char remedy[80] = "";
    if (!fits)
        snprintf(remedy, sizeof remedy, " With attenuation = %.3g it would fit.", lds_attenuation_for(bench, peak_v));
    bool enough = lds_remark(
        check->fits,
        "%s: %.4g W into %.4g Ω swings to %.3g V peak, and the input takes %.3g V at the load: %s. The highest sine "
        "power that fits is %.3g W.%s",
        whose, power_w, bench->load_ohm, peak_v, lds_bench_volts_per_unit(bench), answer, highest_w, remedy);
    return enough && (fits || lds_remark(check->missing, "%s", check->fits->line[check->fits->count - 1]));
}

static bool same_question(const struct lds_sheet_capture *a, const struct lds_sheet_capture *b)
{
    const struct lds_bench *one = lds_power_bench(a), *other = lds_power_bench(b);
    return a->power_w == b->power_w && one->load_ohm == other->load_ohm &&
           lds_bench_volts_per_unit(one) == lds_bench_volts_per_unit(other);
}

/* Whether a sine of stated power was, or is to be, recorded through this input. */
static bool takes_power(const struct check *check, size_t i)
{
    return !isnan(check->sheet->capture[i].power_w) && !check->look[i].info.in_volts;
}

/* The power of the unit is compared with every range used by a capture of stated power; an input used only for idle
 * captures need not take it. */
static bool of_the_rated_power(const struct check *check)
{
    const struct lds_sheet *sheet = check->sheet;
    bool enough = true;
    for (size_t i = 0; enough && i < sheet->captures; i++) {
        const struct lds_bench *bench = lds_power_bench(&sheet->capture[i]);
        bool told = !takes_power(check, i);
        for (size_t k = 0; k < i; k++)
            told = told || (takes_power(check, k) && lds_bench_volts_per_unit(lds_power_bench(&sheet->capture[k])) ==
                                                         lds_bench_volts_per_unit(bench));
        char whose[240];
        struct lds_bench rated = *bench; /* owns nothing */
        rated.load_ohm = sheet->rating.load_ohm;
        snprintf(whose, sizeof whose, "the stated power, recorded as %.200s is", sheet->capture[i].name);
        if (!told)
            enough = of_power(check, whose, sheet->rating.power_w, &rated);
    }
    return enough;
}

/* Once for each power into each range; samples in volts have no range. */
bool lds_check_inputs(const struct check *check)
{
    const struct lds_sheet *sheet = check->sheet;
    const struct lds_sheet_capture *all = sheet->capture;
    bool enough = of_the_rated_power(check);
    for (size_t i = 0; enough && i < sheet->captures; i++) {
        bool told = check->look[i].info.in_volts;
        for (size_t k = 0; k < i; k++)
            told = told || (!check->look[k].info.in_volts && same_question(&all[k], &all[i]));
        if (!told)
            enough = of_power(check, all[i].name, all[i].power_w, lds_power_bench(&all[i]));
    }
    return enough;
}

/* The driven channel whose power is farthest from the stated one; if none is stated, the one with the highest. NAN: no
 * watts. */
static double farthest_w(const struct check *check, size_t i)
{
    const struct lds_sheet_capture *capture = &check->sheet->capture[i];
    const struct lds_look *look = &check->look[i];
    double stated_w = isnan(capture->power_w) ? 0.0 : capture->power_w, farthest_w = NAN;
    if (!capture->role->tone || !look->good || !lds_look_calibrated(look, &capture->bench))
        return NAN;
    for (size_t c = 0; c < look->tones; c++) {
        if (look->tone[c].tones > 1) /* the power of one of several tones is not that of a sine */
            return NAN;
        double watts =
            look->tone[c].level * look->tone[c].level / lds_bench_of(&capture->bench, look->tone[c].channel)->load_ohm;
        if (lds_tone_is_driven(look->tone, look->tones, c) &&
            (isnan(farthest_w) || fabs(watts - stated_w) > fabs(farthest_w - stated_w)))
            farthest_w = watts;
    }
    return farthest_w;
}

bool lds_check_powers(const struct check *check)
{
    const struct lds_sheet *sheet = check->sheet;
    bool enough = true;
    for (size_t i = 0; enough && i < sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &sheet->capture[i];
        double watts = farthest_w(check, i);
        char rated[80] = "";
        if (lds_rating_is_exceeded(&sheet->rating, lds_power_bench(capture)->load_ohm, watts))
            snprintf(rated, sizeof rated, ", more than the %.4g W that the unit is rated for", sheet->rating.power_w);
        if (!lds_power_is_stated(sheet, capture, watts, watts))
            enough = lds_remark(check->missing, "%s: the sheet says %.4g W; this capture holds %.3g W%s.",
                                capture->name, capture->power_w, watts, rated);
        else if (rated[0])
            enough = lds_remark(check->missing, "%s: this capture holds %.3g W%s.", capture->name, watts, rated);
    }
    return enough;
}

bool lds_check_roles(const struct check *check)
{
    const struct lds_sheet *sheet = check->sheet;
    bool enough = true;
    for (size_t i = 0; enough && i < sheet->captures; i++) {
        char words[200];
        lds_role_by_look(&sheet->capture[i], &check->look[i], words, sizeof words);
        enough = !words[0] || lds_remark(check->missing, "%s: %s.", sheet->capture[i].name, words);
    }
    return enough;
}
