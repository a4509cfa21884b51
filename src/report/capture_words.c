/* What a measurement rests on, in plain words, the same in every output for people. */
#include <math.h>
#include <stdlib.h>

#include "report/capture_cells.h"
#include "report/reading.h"
#include "safe_text.h"

void lds_recording_write(FILE *out, const struct lds_measurement *measurement)
{
    char rate[32];
    lds_reading_hz(measurement->rate_hz, rate, sizeof rate);
    char *date = lds_words_escape(measurement->date);
    char *format = lds_words_escape(measurement->format);
    fprintf(out, "%s, %s, sampled at %s, %.4g s long", date && date[0] ? date : "date not stated",
            format && format[0] ? format : "encoding not stated", rate, measurement->seconds);
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
        char edge[32];
        lds_reading_hz(bench->usable_to_hz, edge, sizeof edge);
        fprintf(out, ", usable to %s", edge);
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

void lds_power_write(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_figure(channel, "tone.power");
    const struct lds_figure *tone = lds_channel_figure(channel, "tone.frequency");
    const struct lds_figure *thd_n = lds_channel_figure(channel, "thd_n");
    if (!power || !isfinite(power->value))
        return;
    struct lds_reading watts;
    lds_reading_make(&watts, power->value, power->low, power->high, power->unit, 0.0, false);
    fprintf(out, "%s %s is continuous average sine power. Load: ", watts.value, watts.unit);
    if (isfinite(measurement->bench.load_ohm))
        fprintf(out, "%.4g Ω", measurement->bench.load_ohm);
    else
        fputs("not stated", out);
    fputs(". THD+N at that power: ", out);
    if (thd_n && isfinite(thd_n->value)) {
        char percent[64], low[32], high[32];
        lds_reading_percent(thd_n->value, thd_n->low, thd_n->high, percent, sizeof percent);
        lds_reading_hz(thd_n->band_hz[0], low, sizeof low);
        lds_reading_hz(thd_n->band_hz[1], high, sizeof high);
        fprintf(out, "%s in %s to %s", percent, low, high);
    } else {
        fputs("not stated", out);
    }
    fputs(". Frequency range: ", out);
    if (tone && isfinite(tone->value)) {
        char hz[32];
        lds_reading_hz(tone->value, hz, sizeof hz);
        fprintf(out, "%s alone", hz);
    } else {
        fputs("not stated", out);
    }
    fprintf(out, ". Channels driven: not stated. Held for %.3g s.", measurement->seconds);
}

const struct lds_section_heading lds_sections[LDS_SECTIONS] = {
    {LDS_TRUST, "The recording"}, {LDS_LEVEL, "Level and power"}, {LDS_TONE, "Distortion"},
    {LDS_NOISE, "Noise"},         {LDS_MAINS, "Mains"},           {LDS_SPURS, "Other lines"},
};

bool lds_channel_has_section(const struct lds_channel *channel, enum lds_section section)
{
    for (size_t i = 0; i < channel->figures; i++) {
        const struct lds_key *row = lds_key_find(channel->figure[i].key);
        if (row && row->section == section)
            return true;
    }
    for (size_t i = 0; i < channel->absents; i++) {
        const struct lds_key *row = lds_key_find(channel->absent[i].key);
        if (row && row->section == section)
            return true;
    }
    return false;
}
