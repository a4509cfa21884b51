/* Which captures are made, and how to make those that are not. */
#include <math.h>
#include <stdio.h>

#include "hz_words.h"
#include "job/check_parts.h"
#include "job/remarks.h"

static bool is_made(const struct check *check, const struct lds_sheet_capture *capture,
                    const struct lds_capture_info *info)
{
    char rate[32];
    lds_hz_words(info->rate_hz, rate, sizeof rate);
    return lds_remark(check->captures, "%s: made (%s: %.3g s, %d channel%s, %s).", capture->name, capture->file,
                      (double)info->frames / info->rate_hz, info->channels, info->channels == 1 ? "" : "s", rate);
}

/* "with 8.94 V rms, 12.6 V peak, at the load (10 W into 8 Ω); the capture then peaks at 0.632 of full scale". */
static void write_level(const struct lds_sheet_capture *capture, char *text, size_t size)
{
    const struct lds_bench *bench = &capture->bench;
    double volts = sqrt(capture->power_w * bench->load_ohm), peak_v = M_SQRT2 * volts;
    double takes_v = lds_bench_volts_per_unit(bench);
    int used;
    if (isnan(volts)) {
        snprintf(text, size, "at the power of interest, which power = states");
        return;
    }
    used = snprintf(text, size, "with %.3g V rms, %.3g V peak, at the load (%.4g W into %.4g Ω)", volts, peak_v,
                    capture->power_w, bench->load_ohm);
    if (peak_v <= takes_v) /* false when it is not known */
        snprintf(text + used, size - (size_t)used, "; the capture then peaks at %.3g of full scale", peak_v / takes_v);
}

/* How to make it: the sentence of its role, or that of a sine. */
static void write_signal(const struct lds_sheet_capture *capture, char *text, size_t size)
{
    char tone[32], level[240], driven[40] = "";
    if (capture->role->play || !capture->role->tone) {
        snprintf(text, size, "%s", capture->role->play ? capture->role->play : "");
        return;
    }
    lds_hz_words(capture->frequency_hz, tone, sizeof tone);
    if (capture->driven > 0)
        snprintf(driven, sizeof driven, " into channel %d alone", capture->driven);
    write_level(capture, level, sizeof level);
    snprintf(text, size, "Play a sine%s%s%s %s.", isnan(capture->frequency_hz) ? ", such as 997 Hz," : " of ",
             isnan(capture->frequency_hz) ? "" : tone, driven, level);
}

bool lds_check_captures(const struct check *check)
{
    bool enough = true;
    for (size_t i = 0; enough && i < check->sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &check->sheet->capture[i];
        char signal[360];
        write_signal(capture, signal, sizeof signal);
        if (check->look[i].good)
            enough = is_made(check, capture, &check->look[i].info);
        else if (check->look[i].to_make)
            enough = lds_remark(check->captures, "%s: to make (%s). %s", capture->name,
                                capture->file ? capture->file : "its file is not named yet", signal);
    }
    return enough;
}
