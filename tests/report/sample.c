#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "record/record.h"
#include "record/series.h"
#include "report/sample.h"

const char *const nasty_names[] = {
    "plain.wav",
    "it's \"quoted\" {really}, a_b^c\\n.wav",
    "=1+2,\"x\"\r\nsecond line.wav",
    "'; system \"touch nasty\"; print '.wav",
    "`touch nasty`.wav",
    "$(touch nasty) @macro.wav",
    "\x1b[31mred\x07.wav",
    "not \xff\xfe UTF-8 \xc3.wav",
    "turned \xe2\x80\xae about.wav",
    "Hörsaal 広間 ∞.wav",
    "",
    "-",
};
const size_t nasty_names_count = sizeof nasty_names / sizeof nasty_names[0];

static struct lds_figure *add(struct lds_channel *channel, const char *key, double value, double half)
{
    struct lds_figure *figure = lds_channel_add(channel, key);
    assert_non_null(figure);
    figure->value = value;
    figure->low = value - half;
    figure->high = value + half;
    figure->u_a = half / 2.0;
    figure->u_b = 0.0;
    figure->dof = 812.0;
    return figure;
}

static struct lds_figure *add_level(struct lds_channel *channel, const char *key, double value, double relative)
{
    struct lds_figure *figure = lds_channel_add(channel, key);
    assert_non_null(figure);
    lds_figure_set_level(figure, channel->calibrated, value, value * (1.0 - relative), value * (1.0 + relative),
                         value * relative / 2.0);
    figure->u_b = 0.0;
    figure->dof = 96.5;
    return figure;
}

static void set_band(struct lds_figure *figure, double low_hz, double high_hz)
{
    figure->band_hz[0] = low_hz;
    figure->band_hz[1] = high_hz;
}

static void add_figures(struct lds_channel *channel)
{
    struct lds_figure *figure = lds_channel_add(channel, "capture.clipped");
    figure->value = 0.0;
    figure = lds_channel_add(channel, "capture.gaps");
    figure->value = channel->channel == 2 ? 1.0 : 0.0;
    lds_channel_add(channel, "capture.bits")->value = 24.0;
    /* Out of table order on purpose: reports sort. */
    set_band(add_level(channel, "noise.band.20-20k", 41.27e-6, 0.0031), 20.0, 20000.0);
    channel->figure[channel->figures - 1].removed_hz = 84.25;
    set_band(add_level(channel, "noise.band.20k-100k", 88.1e-6, 0.0012), 20000.0, 86400.0);
    channel->figure[channel->figures - 1].flags = LDS_FLAG_BAND_CUT | LDS_FLAG_UNSTEADY;
    set_band(add_level(channel, "noise.a", 31.4e-6, 0.0044), 20.0, 20000.0);
    add_level(channel, "noise.density.1k", 291.3e-9, 0.021);
    figure = add(channel, "noise.corner", 38.2, 0.0);
    figure->low = 29.0;
    figure->high = 51.5;
    add(channel, "noise.slope", 0.12, 0.34)->flags = LDS_FLAG_FLAT;
    add_level(channel, "level.rms", 15.7642, 2e-6);
    add(channel, "level.crest", 3.0103, 0.0007);
    lds_channel_add(channel, "level.headroom")->value = 2.113;
    add(channel, "tone.frequency", 1000.0213, 0.1);
    add_level(channel, "tone.level", 15.76419, 0.0101);
    if (channel->calibrated)
        add(channel, "tone.power", 31.0637, 0.63);
    figure = add(channel, "thd", -90.402, 0.21);
    figure->flags = LDS_FLAG_CHAIN_NOT_MEASURED;
    figure->orders[0] = 2;
    figure->orders[1] = 20;
    set_band(figure, 20.0, 20000.0);
    figure = add(channel, "thd_n", -86.1204, 0.043);
    figure->flags = LDS_FLAG_CHAIN_NOT_MEASURED;
    set_band(figure, 20.0, 20000.0);
    figure = lds_channel_add(channel, "mains.even");
    if (channel->calibrated)
        figure->high = 2.31e-6;
    else
        figure->high = -118.2;
    figure->flags = LDS_FLAG_BELOW_FLOOR;
    add(channel, "mains.frequency", 50.00812, 0.0051);
    add_level(channel, "mains.total", 93.1e-6, 0.024);
}

static struct lds_series *new_series(struct lds_channel *channel, const char *key)
{
    struct lds_series *series = lds_channel_add_series(channel, key);
    assert_non_null(series);
    return series;
}

void sample_cut(struct lds_channel *channel, const char *key, size_t rows)
{
    struct lds_series *series = lds_channel_own_series(channel, key);
    assert_non_null(series);
    series->rows = rows < series->rows ? rows : series->rows;
}

static void add_row(struct lds_series *series, const double *value)
{
    assert_true(lds_series_add_row(series, value));
}

static void add_harmonic(struct lds_series *lines, int k)
{
    double relative_db = k == 1 ? 0.0 : -88.0 - 3.1 * k - (k % 2 == 0 ? 6.0 : 0.0);
    double half = pow(10.0, (relative_db + 120.0) / -20.0);
    bool seen = relative_db > -130.0;
    add_row(lines, (const double[]){k, 1000.0213 * k, seen ? 15.76419 * pow(10.0, relative_db / 20.0) : NAN,
                                    seen ? relative_db : NAN,
                                    !seen   ? NAN
                                    : k % 2 ? 178.4
                                            : -3.2});
    size_t row = lines->rows - 1;
    lds_series_set_limits(lines, row, LDS_LINE_LEVEL, seen ? 15.76419 * pow(10.0, (relative_db - half) / 20.0) : NAN,
                          15.76419 * pow(10.0, (relative_db + half) / 20.0));
    lds_series_set_limits(lines, row, LDS_LINE_RELATIVE, seen ? relative_db - half : NAN, relative_db + half);
    lines->flag[row] = (seen ? 0 : LDS_FLAG_BELOW_FLOOR) | (k == 5 ? LDS_FLAG_NEAR_LINE : 0);
}

static void add_mains(struct lds_series *lines, int k)
{
    double level = (k % 2 ? 80e-6 : 20e-6) / (k * sqrt(k));
    bool seen = level > 0.3e-6;
    add_row(lines, (const double[]){k, 50.00812 * k, seen ? level : NAN});
    size_t row = lines->rows - 1;
    lds_series_set_limits(lines, row, LDS_LINE_LEVEL, seen ? level - 0.1e-6 : NAN, seen ? level + 0.1e-6 : 0.3e-6);
    lines->flag[row] = seen ? 0 : LDS_FLAG_BELOW_FLOOR;
}

static void add_lines(struct lds_channel *channel)
{
    struct lds_series *lines = new_series(channel, "harmonics");
    for (int k = 1; k <= 20; k++)
        add_harmonic(lines, k);
    lines = new_series(channel, "mains");
    for (int k = 1; k <= 40; k++)
        add_mains(lines, k);
    lds_series_set_limits(lines, 39, LDS_LINE_LEVEL, NAN, NAN); /* the second harmonic is on it */
    lines->flag[39] = LDS_FLAG_NEAR_LINE;
    lines = new_series(channel, "spurs");
    add_row(lines, (const double[]){7999.6, 1.84e-6, 9.3});
    add_row(lines, (const double[]){61234.5, 5.31e-6, 17.8});
    strcpy(lines->text[0], "1 kHz or 8 kHz raster");
    strcpy(lines->text[1], "unexplained: check for oscillation");
}

/* The power of the lines of a series at a frequency. */
static double line_at(const struct lds_series *lines, double hz)
{
    double line = 0.0;
    for (size_t k = 0; k < lines->rows; k++) {
        double level = lds_series_value(lines, k, LDS_LINE_LEVEL);
        if (fabs(hz / lds_series_value(lines, k, LDS_LINE_HZ) - 1.0) < 0.0017 && isfinite(level))
            line = hypot(line, level);
    }
    return line;
}

/* A realistic spectrum: white noise with 1/f below, and the lines of the channel. */
static void add_spectrum(struct lds_channel *channel)
{
    new_series(channel, "spectrum");
    new_series(channel, "density");
    struct lds_series *spectrum = lds_channel_own_series(channel, "spectrum");
    struct lds_series *density = lds_channel_own_series(channel, "density");
    unsigned seed = 7;
    for (size_t i = 0; i < 3000; i++) {
        double hz = 5.0 * pow(86400.0 / 5.0, (double)i / 2999.0);
        double line = hypot(line_at(lds_channel_series(channel, "harmonics"), hz),
                            line_at(lds_channel_series(channel, "mains"), hz));
        seed = seed * 1664525u + 1013904223u;
        double noise = 290e-9 * sqrt(1.0 + 38.0 / hz) * (0.9 + 0.2 * (seed >> 8) / 16777216.0);
        add_row(density, (const double[]){hz, hypot(noise, line / sqrt(1.9))});
        add_row(spectrum, (const double[]){hz, hypot(noise * sqrt(1.9), line)});
    }
    struct lds_series *floor = new_series(channel, "floor");
    for (size_t i = 0; i < 38; i++) {
        double hz = 12.5 * pow(10.0, (double)i / 10.0);
        double level = 290e-9 * sqrt(1.0 + 38.0 / hz);
        add_row(floor, (const double[]){hz, hz * pow(10.0, -0.05), hz * pow(10.0, 0.05), level, 1.001 * level, 1000.0});
    }
}

static void add_waveforms(struct lds_channel *channel)
{
    struct lds_series *residual = new_series(channel, "residual");
    const struct lds_series *lines = lds_channel_series(channel, "harmonics");
    for (size_t i = 0; i < 1024; i++) {
        double degrees = 360.0 * (double)i / 1024.0, y = 0.0;
        for (size_t k = 1; k < lines->rows; k++) {
            double level = lds_series_value(lines, k, LDS_LINE_LEVEL);
            double phase =
                lds_series_value(lines, k, LDS_LINE_ORDER) * degrees + lds_series_value(lines, k, LDS_LINE_PHASE);
            if (isfinite(level))
                y += M_SQRT2 * level * cos(phase * M_PI / 180.0);
        }
        add_row(residual, (const double[]){degrees, y});
    }
    struct lds_series *waveform = new_series(channel, "mains_waveform");
    for (size_t i = 0; i < 512; i++) {
        double turns = (double)i / 512.0;
        add_row(waveform, (const double[]){turns * 1000.0 / 50.00812,
                                           113e-6 * (sin(2.0 * M_PI * turns) + 0.2 * sin(6.0 * M_PI * turns))});
    }
}

static void add_absents(struct lds_channel *channel)
{
    assert_true(lds_channel_add_absent(channel, "level.dc", "the bench does not say that the input is DC coupled"));
    assert_true(lds_channel_add_absent(channel, "noise.band.100k-500k", "the capture ends at %d Hz", 86400));
    assert_true(lds_channel_add_absent(channel, "noise.density.100k", "the capture ends at %d Hz", 86400));
    if (!channel->calibrated)
        assert_true(lds_channel_add_absent(channel, "tone.power", "the bench does not say the load"));
    if (channel->channel == 2) {
        channel->problems = 1;
        channel->problem = calloc(1, sizeof *channel->problem);
        channel->problem[0] = (struct lds_problem){.kind = "gap", .at_s = 1.234, .samples = 64.0};
    }
}

struct lds_measurement sample_measurement(const char *file, bool calibrated)
{
    struct lds_measurement measurement = {
        .file = strdup(file),
        .rate_hz = 192000.0,
        .frames = 3840000,
        .seconds = 20.0,
        .format = "WAV 24 bit",
        .date = "2024-05-04",
        .window_s = 1.365333333,
        .averages = 28,
        .channels = 2,
        .channel = calloc(2, sizeof(struct lds_channel)),
        .pairs = 1,
        .pair = calloc(1, sizeof(struct lds_pair)),
    };
    lds_bench_init(&measurement.bench);
    measurement.bench.full_scale_v = calibrated ? 20.0 : NAN;
    measurement.bench.load_ohm = calibrated ? 8.0 : NAN;
    for (int i = 0; i < 2; i++) {
        struct lds_channel *channel = &measurement.channel[i];
        channel->channel = i + 1;
        channel->calibrated = calibrated;
        add_figures(channel);
        add_lines(channel);
        add_spectrum(channel);
        add_waveforms(channel);
        add_absents(channel);
    }
    measurement.pair[0].channels[0] = 1;
    measurement.pair[0].channels[1] = 2;
    struct lds_figure *balance = lds_pair_add(&measurement.pair[0], "balance", calibrated);
    balance->value = -0.0123;
    balance->low = -0.0161;
    balance->high = -0.0085;
    assert_true(lds_pair_add_absent(&measurement.pair[0], "crosstalk", "both channels are driven"));
    return measurement;
}

char *read_all(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        fail_msg("cannot read %s", path);
    fseek(file, 0, SEEK_END);
    long size = ftell(file);
    rewind(file);
    char *text = calloc((size_t)size + 1, 1);
    assert_int_equal(fread(text, 1, (size_t)size, file), size);
    fclose(file);
    return text;
}

char *new_folder(void)
{
    const char *base = getenv("TMPDIR");
    char *path = NULL;
    assert_true(asprintf(&path, "%s/loadside-report-XXXXXX", base ? base : "/tmp") > 0);
    assert_non_null(mkdtemp(path));
    return path;
}

double sample_plotted(const char *data, int block, double x, int column)
{
    double nearest = 0.01 * fabs(x), value = NAN;
    int empty = 0, at = 0;
    for (const char *line = data; *line; line = strchr(line, '\n') + 1) {
        double number[6];
        if (*line == '\n') {
            empty++;
            continue;
        }
        at += empty >= 2;
        empty = 0;
        int numbers = sscanf(line, "%lf %lf %lf %lf %lf %lf", &number[0], &number[1], &number[2], &number[3],
                             &number[4], &number[5]);
        if (*line != '#' && at == block && numbers > column && fabs(number[0] - x) <= nearest) {
            nearest = fabs(number[0] - x);
            value = number[column];
        }
    }
    return value;
}
