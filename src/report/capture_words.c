/* The conditions of a measurement in plain words, the same in text and HTML. */
#include <math.h>
#include <stdlib.h>

#include "constants.h"
#include "report/capture_cells.h"
#include "report/figures.h"
#include "report/reading.h"
#include "report/series_cells.h"
#include "safe_text.h"

void lds_recording_write(FILE *out, const struct lds_measurement *measurement)
{
    char *date = lds_words_escape(measurement->date);
    char *format = lds_words_escape(measurement->format);
    fprintf(out, "%s, %s, sampled at %s, %.4g s long", date && date[0] ? date : "date not stated",
            format && format[0] ? format : "encoding not stated", lds_hz(measurement->rate_hz).text,
            measurement->seconds);
    free(date);
    free(format);
}

void lds_bench_write(FILE *out, const struct lds_measurement *measurement)
{
    const struct lds_bench *bench = &measurement->bench;
    bool calibrated = measurement->channels > 0 && measurement->channel[0].calibrated;
    if (bench->name) {
        char *name = lds_words_escape(bench->name);
        fprintf(out, "%s: ", name ? name : "");
        free(name);
    }
    if (isfinite(bench->full_scale_v))
        fprintf(out, "full scale %.5g V peak, divider %.5g:1, ", bench->full_scale_v, bench->attenuation);
    else if (calibrated)
        fputs("samples in volts, ", out);
    else
        fputs("not calibrated, so levels are in dBFS (a full-scale sine is 0 dBFS, AES17), ", out);
    if (isfinite(bench->load_ohm))
        fprintf(out, "load %.4g Ω, ", bench->load_ohm);
    else
        fputs("load not stated, ", out);
    double fits_w = lds_bench_largest_sine_w(bench);
    if (isfinite(fits_w))
        fprintf(out, "a sine of up to %.3g W fits, ", fits_w);
    fputs(bench->dc_coupled ? "DC coupled" : "DC coupling not stated", out);
    if (isfinite(bench->usable_to_hz)) {
        bool cuts = bench->usable_to_hz < LDS_USABLE_SHARE * measurement->rate_hz; /* in a job: up to where the other
                                                                                    * captures reach */
        fprintf(out, ", %s to %s", cuts ? "measured up" : "usable", lds_hz(bench->usable_to_hz).text);
    }
    for (size_t i = 0; i < bench->channels; i++) {
        const struct lds_bench *own = &bench->channel[i].bench;
        fprintf(out, "; channel %d: full scale %.5g V peak, divider %.5g:1", bench->channel[i].channel,
                own->full_scale_v, own->attenuation);
        if (isfinite(own->load_ohm))
            fprintf(out, ", load %.4g Ω", own->load_ohm);
    }
}

void lds_bench_limits_write(FILE *out, const struct lds_bench *bench)
{
    if (bench->low_corner_hz > 0.0)
        fprintf(out, ", low corner of %.3g Hz divided out", bench->low_corner_hz);
    if (bench->response_points > 0)
        fputs(", response of the chain divided out", out);
    fprintf(out, "; clock within ±%.3g ppm", bench->clock_ppm);
    if (bench->calibration_percent > 0.0)
        fprintf(out, ", calibration within ±%.3g %%", bench->calibration_percent);
    if (bench->load_percent > 0.0)
        fprintf(out, ", load within ±%.3g %%", bench->load_percent);
}

void lds_analysis_write(FILE *out, const struct lds_measurement *measurement)
{
    if (measurement->averages > 0 && isfinite(measurement->window_s))
        fprintf(out, "7-term cosine window, %d averages of %.3g s, ", measurement->averages, measurement->window_s);
    fputs("95 % intervals", out);
}

static void write_thd_n(FILE *out, const struct lds_channel *channel)
{
    const struct lds_figure *thd_n = lds_channel_find(channel, LDS_FIGURE_THD_N);
    if (!thd_n || !(isfinite(thd_n->value) || isfinite(thd_n->high))) {
        fputs("THD+N not known", out);
        return;
    }
    /* three digits are enough next to a power */
    bool known = isfinite(thd_n->value);
    fprintf(out, "THD+N %s in %s to %s",
            lds_percent_words(thd_n->value, known ? fmin(thd_n->low, thd_n->value - 0.9) : thd_n->low,
                              known ? fmax(thd_n->high, thd_n->value + 0.9) : thd_n->high)
                .text,
            lds_hz(thd_n->band_hz[0]).text, lds_hz(thd_n->band_hz[1]).text);
    if (lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS))
        fputs(", where the amplifier clips", out);
    else if (thd_n->flags & (LDS_FLAG_CLIPPED | LDS_FLAG_GAP))
        fprintf(out, ", from a recording %s", thd_n->flags & LDS_FLAG_CLIPPED ? "that clips" : "with gaps");
}

/* A tone that comes and goes, changes level or is clipped has an average power, but not the continuous power of a
 * sine. */
static bool is_continuous(const struct lds_channel *channel, const struct lds_figure *power)
{
    return lds_signal_may_be_one_tone(channel->signal.kind) &&
           !(power->flags & (LDS_FLAG_DRIFTING | LDS_FLAG_GAP | LDS_FLAG_CLIPPED)) &&
           !lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS);
}

void lds_power_write(FILE *out, const char *before, const struct lds_measurement *measurement,
                     const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_find(channel, LDS_FIGURE_TONE_POWER);
    const struct lds_figure *tone = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
    if (!power || !isfinite(power->value))
        return;
    fprintf(out, "%s%.4g W", before, power->value);
    double load_ohm = lds_bench_of(&measurement->bench, channel->channel)->load_ohm;
    if (isfinite(load_ohm))
        fprintf(out, " into %.4g Ω", load_ohm);
    if (tone && isfinite(tone->value)) {
        fprintf(out, " at %s alone", lds_hz(tone->value).text);
    }
    fputs(", ", out);
    write_thd_n(out, channel);
    fprintf(out, ". It is %s, recorded for %.3g s; channels driven: not stated.",
            is_continuous(channel, power) ? "continuous average sine power" : "the average power of the tone",
            measurement->seconds);
}

const struct lds_section_heading lds_sections[LDS_SECTIONS] = {
    {LDS_TRUST, "The recording"}, {LDS_LEVEL, "Level and power"}, {LDS_TONE, "Distortion"},
    {LDS_NOISE, "Noise"},         {LDS_MAINS, "Mains"},           {LDS_SPURS, "Other lines"},
};

bool lds_channel_has_section(const struct lds_channel *channel, enum lds_section section)
{
    for (size_t i = 0; i < channel->figures; i++)
        if (lds_section_of(channel->figure[i].key) == section)
            return true;
    for (size_t i = 0; i < channel->absents; i++)
        if (lds_section_of(channel->absent[i].key) == section)
            return true;
    for (size_t i = 0; i < channel->series_count; i++) {
        const struct lds_series *series = &channel->series[i];
        if (series->kind->section == section && series->rows > 0 && lds_table_view_of(series->kind))
            return true;
    }
    return false;
}
