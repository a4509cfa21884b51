/* Which captures are made, and how to make those that are not. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "hz_words.h"
#include "job/check_parts.h"
#include "job/power.h"
#include "job/remarks.h"
#include "loadside/signal.h"

static bool is_made(const struct check *check, const struct lds_sheet_capture *capture,
                    const struct lds_capture_info *info)
{
    char rate[32];
    lds_hz_words(info->rate_hz, rate, sizeof rate);
    return lds_remark(check->captures, "%s: made (%s: %.3g s, %d channel%s, %s).", capture->name, capture->file,
                      (double)info->frames / info->rate_hz, info->channels, info->channels == 1 ? "" : "s", rate);
}

/* What is to be played for the capture: what its sidecar says, or else a signal of its role. */
static void take_signal(const struct lds_sheet_capture *capture, struct lds_signal_spec *spec)
{
    const struct lds_bench *bench = lds_power_bench(capture);
    const double peak_v = sqrt(2.0 * capture->power_w * bench->load_ohm);
    if (capture->signal) {
        *spec = *capture->signal;
        return;
    }
    lds_signal_spec_init(spec, capture->role->holds);
    if (!isnan(capture->frequency_hz) && capture->role->tone)
        spec->frequency_hz[0] = capture->frequency_hz;
    const double dbfs = lds_signal_level_for(peak_v, bench);
    if (isfinite(dbfs))
        spec->level_dbfs = floor(100.0 * dbfs) / 100.0;
}

/* "with 8.94 V rms, 12.6 V peak, at the load (10 W into 8 Ω) and 1.26 V at the input; the capture then peaks at 0.632
 * of full scale". */
static void write_level(const struct lds_sheet_capture *capture, char *text, size_t size)
{
    const struct lds_bench *bench = lds_power_bench(capture);
    double volts = sqrt(capture->power_w * bench->load_ohm), peak_v = M_SQRT2 * volts;
    double takes_v = lds_bench_volts_per_unit(bench);
    int used;
    if (isnan(volts)) {
        snprintf(text, size, "at the power of interest, which power = states");
        return;
    }
    used = snprintf(text, size, "with %.3g V rms, %.3g V peak, at the load (%.4g W into %.4g Ω)", volts, peak_v,
                    capture->power_w, bench->load_ohm);
    if (bench->attenuation > 1.0)
        used += snprintf(text + used, size - (size_t)used, " and %.3g V at the input", peak_v / bench->attenuation);
    if (peak_v <= takes_v) /* false when it is not known */
        snprintf(text + used, size - (size_t)used, "; the capture then peaks at %.3g of full scale", peak_v / takes_v);
}

/* The command that makes the signal, unless the signal exists already. Its file is named after the sidecar. */
static void write_command(const struct lds_sheet_capture *capture, char *text, size_t size)
{
    struct lds_signal_spec spec;
    char name[200], options[160] = "";
    const char *file = capture->signal_file;
    const struct lds_bench *bench = lds_power_bench(capture);
    size_t used = 0;
    text[0] = '\0';
    if (capture->signal) {
        snprintf(text, size, " It is what %.200s describes.", file);
        return;
    }
    take_signal(capture, &spec);
    snprintf(name, sizeof name, "%.*s.wav", file ? (int)(strlen(file) - (strlen(file) > 4 ? 4 : 0)) : 100,
             file ? file : lds_signal_name(spec.kind));
    if (capture->role->tone)
        used += (size_t)snprintf(options, sizeof options, " --frequency %.8g", spec.frequency_hz[0]);
    if (capture->driven > 0)
        used += (size_t)snprintf(options + used, sizeof options - used, " --channels 2 --channel %d", capture->driven);
    if (isfinite(lds_signal_level_for(sqrt(2.0 * capture->power_w * bench->load_ohm), bench)))
        snprintf(options + used, sizeof options - used, " --level %.2f", spec.level_dbfs);
    snprintf(text, size, " To make it: loadside signal %s %s%s", lds_signal_name(spec.kind), name, options);
}

/* How to make it: the sentence of its role, or what to play. */
static void write_signal(const struct lds_sheet_capture *capture, char *text, size_t size)
{
    char what[48], level[280], driven[40] = "", command[420];
    const bool tone = capture->role->tone;
    if (capture->role->play || lds_signal_stated(capture->role->holds) != LDS_STATED_BY_FILE) {
        snprintf(text, size, "%s", capture->role->play ? capture->role->play : "");
        return;
    }
    lds_hz_words(capture->frequency_hz, what, sizeof what);
    if (capture->driven > 0)
        snprintf(driven, sizeof driven, " into channel %d alone", capture->driven);
    write_level(capture, level, sizeof level);
    write_command(capture, command, sizeof command);
    snprintf(text, size, "Play %s%s%s%s %s.%s", tone ? "a sine" : lds_signal_phrase(capture->role->holds),
             !tone                          ? ""
             : isnan(capture->frequency_hz) ? ", such as 997 Hz,"
                                            : " of ",
             tone && !isnan(capture->frequency_hz) ? what : "", driven, level, command);
}

bool lds_check_captures(const struct check *check)
{
    bool enough = true;
    for (size_t i = 0; enough && i < check->sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &check->sheet->capture[i];
        char signal[900];
        write_signal(capture, signal, sizeof signal);
        if (check->look[i].good)
            enough = is_made(check, capture, &check->look[i].info);
        else if (check->look[i].to_make)
            enough = lds_remark(check->captures, "%s: to make (%s). %s", capture->name,
                                capture->file ? capture->file : "its file is not named yet", signal);
    }
    return enough;
}
