/* What the capture chain alone does to a test signal. */
#include <math.h>
#include <stdio.h>

#include "fail.h"
#include "loadside/calibrate.h"
#include "loadside/series.h"
#include "whole_file.h"

static const double USABLE_DB = -3.0; /* below this, dividing the response out would no longer be a small correction */

/* The first channel with a response. */
static const struct lds_channel *channel_of(const struct lds_measurement *measurement)
{
    for (size_t c = 0; c < measurement->channels; c++) {
        const struct lds_series *gain = lds_channel_find_series(&measurement->channel[c], LDS_SERIES_GAIN);
        if (gain && gain->rows > 1)
            return &measurement->channel[c];
    }
    return NULL;
}

/* A bench divides out both its response and its low corner, so the corner is taken out of the response. */
static double remainder_db(double gain_db, double hz, double corner_hz)
{
    return gain_db + 10.0 * log10(1.0 + corner_hz * corner_hz / (hz * hz));
}

static enum lds_status write_response(const struct lds_series *gain, double corner_hz, const char *path,
                                      struct lds_error *error)
{
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status)
        return status;
    fputs("Hz,dB\n", file.out);
    for (size_t i = 0; i < gain->rows; i++) {
        const double hz = lds_series_value(gain, i, LDS_CURVE_X), db = lds_series_value(gain, i, LDS_CURVE_Y);
        if (isfinite(db))
            fprintf(file.out, "%.6g,%.5f\n", hz, remainder_db(db, hz, corner_hz));
    }
    return lds_whole_file_commit(&file, error);
}

/* The highest frequency up to which the gain does not fall by more than 3 dB. */
static double usable_to(const struct lds_series *gain)
{
    double last = NAN;
    for (size_t i = 0; i < gain->rows; i++) {
        const double hz = lds_series_value(gain, i, LDS_CURVE_X);
        if (hz > 1000.0 && lds_series_value(gain, i, LDS_CURVE_Y) < USABLE_DB)
            break;
        last = hz;
    }
    return last;
}

enum lds_status lds_calibrate_loopback(const struct lds_measurement *measurement, const char *response_path,
                                       const char *response_name, struct lds_calibration *calibration,
                                       struct lds_error *error)
{
    const struct lds_channel *channel = channel_of(measurement);
    *calibration = (struct lds_calibration){.full_scale_v = NAN};
    if (!channel) {
        const char *why = measurement->channels > 0
                              ? lds_channel_absent(&measurement->channel[0], lds_series_kind_of(LDS_SERIES_GAIN)->key)
                              : NULL;
        return lds_fail(error, LDS_BAD_INPUT,
                        "the loopback has no response%s%s; a sweep or noise, stated with --signal, expected",
                        why ? ": " : "", why ? why : "");
    }
    const struct lds_series *gain = lds_channel_find_series(channel, LDS_SERIES_GAIN);
    const struct lds_figure *corner = lds_channel_find(channel, LDS_FIGURE_CORNER_LOW);
    const struct lds_figure *clock = lds_channel_find(channel, LDS_FIGURE_SIGNAL_CLOCK);
    const double corner_hz = corner && isfinite(corner->value) ? corner->value : 0.0;
    enum lds_status status = write_response(gain, corner_hz, response_path, error);
    if (status)
        return status;
    lds_calibration_add(calibration, "bench", "response", "%s", response_name);
    if (corner_hz > 0.0)
        lds_calibration_add(calibration, "bench", "low_corner", "%.5g Hz", corner_hz);
    lds_calibration_add(calibration, "bench", "usable_to", "%.6g Hz", usable_to(gain));
    if (clock && isfinite(clock->value))
        lds_calibration_add(calibration, "bench", "play_clock", "%.4f ppm", clock->value);
    return LDS_OK;
}
