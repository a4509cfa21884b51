#include "compare/made.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "record/record.h"
#include "record/series.h"

void made_capture(struct lds_measurement *m, const char *file, size_t channels)
{
    *m = (struct lds_measurement){.file = strdup(file),
                                  .rate_hz = 48e3,
                                  .frames = 480000,
                                  .seconds = 10.0,
                                  .window_s = 0.3413,
                                  .channels = channels,
                                  .channel = calloc(channels, sizeof *m->channel)};
    lds_bench_init(&m->bench);
    m->bench.full_scale_v = 20.0;
    m->bench.load_ohm = 8.0;
    for (size_t c = 0; c < channels; c++) {
        m->channel[c].channel = (int)c + 1;
        m->channel[c].calibrated = true;
    }
}

struct lds_figure *made_in(struct lds_measurement *m, size_t channel, const char *key, double value, double u)
{
    struct lds_figure *figure = lds_channel_add(&m->channel[channel - 1], key);
    figure->value = value;
    figure->low = value - 1.959963984540054 * u;
    figure->high = value + 1.959963984540054 * u;
    figure->u_a = u;
    figure->u_b = 0.0;
    figure->dof = INFINITY;
    return figure;
}

struct lds_figure *made_figure(struct lds_measurement *m, const char *key, double value, double u)
{
    return made_in(m, 1, key, value, u);
}

struct lds_figure *made_below(struct lds_measurement *m, const char *key, double high)
{
    struct lds_figure *figure = made_figure(m, key, NAN, NAN);
    figure->high = high;
    figure->low = NAN;
    figure->flags = LDS_FLAG_BELOW_FLOOR;
    return figure;
}

static double times(double db)
{
    return pow(10.0, db / 20.0);
}

void made_idle(struct lds_measurement *m, const char *file, double noise_db, double hum_db)
{
    made_capture(m, file, 1);
    double noise = 100e-6 * times(noise_db), hum = 50e-6 * times(hum_db), rms = hypot(noise, hum);
    made_figure(m, "level.rms", rms, 1e-3 * rms);
    struct lds_figure *band = made_figure(m, "noise.band.20-20k", noise, 1e-3 * noise);
    band->band_hz[0] = 20.0;
    band->band_hz[1] = 20e3;
    made_figure(m, "mains.frequency", 50.01, 1e-3);
    struct lds_figure *total = made_figure(m, "mains.total", hum, 2e-3 * hum);
    total->orders[0] = 1;
    total->orders[1] = 39;
}

void made_driven(struct lds_measurement *m, const char *file, double level_db, double thd_db)
{
    made_capture(m, file, 1);
    double level = 8.0 * times(level_db);
    made_figure(m, "level.rms", level, 1e-6);
    made_figure(m, "tone.frequency", 1000.0, 1e-6);
    made_figure(m, "tone.level", level, 1e-6);
    made_figure(m, "tone.power", level * level / 8.0, 1e-6);
    struct lds_figure *thd = made_figure(m, "thd", -90.0 + thd_db, 0.05);
    thd->band_hz[0] = 20.0;
    thd->band_hz[1] = 20e3;
    thd->orders[0] = 2;
    thd->orders[1] = 20;
}

struct lds_series *made_series(struct lds_measurement *m, const char *key)
{
    struct lds_series *series = lds_channel_own_series(&m->channel[0], key);
    return series ? series : lds_channel_add_series(&m->channel[0], key);
}

void made_line(struct lds_measurement *m, const char *key, int order, double frequency_hz, struct lds_cell level,
               double relative_db)
{
    struct lds_series *lines = made_series(m, key);
    lds_series_add_row(lines, (const double[]){order, frequency_hz, level.value, relative_db, 0.0});
    lds_series_set_limits(lines, lines->rows - 1, LDS_LINE_LEVEL, level.low, level.high);
}

void made_product(struct lds_measurement *m, const char *name, int order, double frequency_hz, struct lds_cell level)
{
    made_line(m, "products", order, frequency_hz, level, 0.0);
    struct lds_series *lines = made_series(m, "products");
    snprintf(lines->text[lines->rows - 1], LDS_SERIES_TEXT, "%s", name);
}

void made_spur(struct lds_measurement *m, double frequency_hz, double level, double margin_db, const char *origin)
{
    struct lds_series *spurs = made_series(m, "spurs");
    lds_series_add_row(spurs, (const double[]){frequency_hz, level, margin_db});
    snprintf(spurs->text[spurs->rows - 1], LDS_SERIES_TEXT, "%s", origin);
}

void made_band(struct lds_measurement *m, double low_hz, double high_hz, double level, double dof)
{
    lds_series_add_row(made_series(m, "floor"),
                       (const double[]){sqrt(low_hz * high_hz), low_hz, high_hz, level, level, dof});
}

const struct lds_change *made_find(const struct lds_comparison *comparison, const char *key)
{
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].changes; i++)
            if (strcmp(comparison->channel[c].change[i].key, key) == 0)
                return &comparison->channel[c].change[i];
    return NULL;
}

const char *made_why_not(const struct lds_comparison *comparison, const char *key)
{
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].not_compared; i++)
            if (strcmp(comparison->channel[c].not_compared_why[i].key, key) == 0)
                return comparison->channel[c].not_compared_why[i].reason;
    return "";
}
