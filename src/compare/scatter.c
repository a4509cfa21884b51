#include "compare/scatter.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "compare/reading.h"
#include "constants.h"
#include "measure/noise/weighting.h"

/* Common practice, no source: standard uncertainty from one capture to the next, and the smallest change that matters,
 * dB. DC is in volts: the offset of a warm output stage wanders by about a millivolt. */
static const double DEFAULT_REPEAT_DB[LDS_FAMILIES] = {[LDS_FAMILY_LEVEL] = LDS_REPEAT_LEVEL_DB,
                                                       [LDS_FAMILY_NOISE] = 0.1,
                                                       [LDS_FAMILY_DISTORTION] = 0.2,
                                                       [LDS_FAMILY_MAINS] = 1.0,
                                                       [LDS_FAMILY_DC] = 1.0};
static const double DEFAULT_MATTERS_DB[LDS_FAMILIES] = {[LDS_FAMILY_LEVEL] = 0.2,
                                                        [LDS_FAMILY_NOISE] = 0.5,
                                                        [LDS_FAMILY_DISTORTION] = 1.0,
                                                        [LDS_FAMILY_MAINS] = 4.0,
                                                        [LDS_FAMILY_DC] = 3.0};
static const double DC_REPEAT_V = 1e-3;
static const double DC_MATTERS_V = 5e-3;
/* Impedances, in ohm: contacts differ by this each time they are made. */
static const double REPEAT_OHM = 2e-3, MATTERS_OHM = 5e-3;

/* ---- where the scatter comes from ---- */

static double bench_repeat(const struct lds_bench *bench, int family)
{
    const double of[LDS_FAMILIES] = {[LDS_FAMILY_NONE] = NAN,
                                     [LDS_FAMILY_LEVEL] = bench->repeat_level_db,
                                     [LDS_FAMILY_NOISE] = bench->repeat_noise_db,
                                     [LDS_FAMILY_DISTORTION] = bench->repeat_distortion_db,
                                     [LDS_FAMILY_MAINS] = bench->repeat_mains_db,
                                     [LDS_FAMILY_DC] = bench->repeat_dc_db};
    return of[family];
}

void lds_scatter_find(const struct lds_compare_options *options, const struct lds_captures *captures, bool repeats,
                      struct lds_scatter *scatter)
{
    bool stated = false, from_bench = false;
    for (int f = 0; f < LDS_FAMILIES; f++) {
        double bench = NAN;
        for (int i = 0; i < captures->all; i++)
            bench = fmax(bench, bench_repeat(&captures->list[i]->bench, f)); /* fmax ignores NAN */
        scatter->family_db[f] = f == LDS_FAMILY_NONE ? 0.0 : isnan(bench) ? DEFAULT_REPEAT_DB[f] : bench;
        if (!isnan(options->repeat_db[f]))
            scatter->family_db[f] = options->repeat_db[f];
        if (options->repeat_none)
            scatter->family_db[f] = 0.0;
        scatter->declared_db[f] = scatter->family_db[f];
        scatter->declared_by[f] = !isnan(options->repeat_db[f]) ? LDS_REPEAT_STATED
                                  : isnan(bench)                ? LDS_REPEAT_DEFAULT
                                                                : LDS_REPEAT_BENCH;
        if (repeats && isnan(options->repeat_db[f]) && !options->repeat_none)
            scatter->family_db[f] = NAN;
        stated = stated || (f != LDS_FAMILY_NONE && !isnan(options->repeat_db[f]));
        from_bench = from_bench || (f != LDS_FAMILY_NONE && !isnan(bench));
    }
    scatter->family_db[LDS_FAMILY_NONE] = NAN;
    scatter->source = options->repeat_none ? LDS_REPEAT_NONE
                      : stated             ? LDS_REPEAT_STATED
                      : repeats            ? LDS_REPEAT_REPEATS
                      : from_bench         ? LDS_REPEAT_BENCH
                                           : LDS_REPEAT_DEFAULT;
}

bool lds_repeats_tell(const struct lds_scatter *scatter, enum lds_family family, const int count[2])
{
    return isnan(scatter->family_db[family]) && count[0] >= LDS_REPEATS && count[1] >= LDS_REPEATS;
}

/* ---- components of a figure ---- */

enum { OF_LEVEL, OF_NOISE, OF_DISTORTION, OF_MAINS, OF_DC, KINDS };
static const enum lds_family kind_family[KINDS] = {LDS_FAMILY_LEVEL, LDS_FAMILY_NOISE, LDS_FAMILY_DISTORTION,
                                                   LDS_FAMILY_MAINS, LDS_FAMILY_DC};

/* Mean square of a level figure relative to full scale or in V^2; for a ratio, the ratio of powers. NAN: missing. */
static double power_of(const struct lds_figure *figure)
{
    if (!figure || isnan(figure->value))
        return NAN;
    return pow(10.0, lds_in_db(figure->value, figure->unit) / 10.0);
}

/* Hum and spurs within a band, weighted, in the square of the channel's linear unit. */
static double lines_power(const struct lds_channel *channel, const double band_hz[2],
                          double (*weight)(double, const void *))
{
    double sum = 0.0;
    static const enum lds_series_id id[] = {LDS_SERIES_MAINS, LDS_SERIES_SPURS};
    for (int k = 0; k < 2; k++) {
        const struct lds_series *lines = lds_channel_find_series(channel, id[k]);
        for (size_t i = 0; i < lines->rows; i++) {
            double f = lds_series_value(lines, i, lines->kind->axis);
            double level = lds_series_value(lines, i, lines->kind->value);
            if (isnan(level) || f < band_hz[0] || f > band_hz[1])
                continue;
            sum += level * level * (weight ? weight(f, NULL) : 1.0);
        }
    }
    return channel->calibrated ? sum : 2.0 * sum; /* dBFS: a full-scale sine's mean square is 1/2 (AES17) */
}

static const double WHOLE[2] = {0.0, INFINITY};
static const double AUDIO[2] = {20.0, 20e3};

static void normalise(double share[KINDS])
{
    double sum = 0.0;
    for (int k = 0; k < KINDS; k++)
        sum += share[k] = fmax(0.0, isnan(share[k]) ? 0.0 : share[k]);
    for (int k = 0; k < KINDS && sum > 0.0; k++)
        share[k] /= sum;
}

/* Noise with lines: the part that is not hum or spurs is noise. */
static void shares_of_noise(const struct lds_seen *seen, const struct lds_figure *figure, double share[KINDS])
{
    static double (*const weighting[])(double, const void *) = {
        [LDS_UNWEIGHTED] = NULL, [LDS_WEIGHTED_A] = lds_weighting_a, [LDS_WEIGHTED_ITU468] = lds_weighting_itu468};
    double (*weight)(double, const void *) = weighting[figure->name.row->weighting];
    double all = power_of(figure);
    share[OF_MAINS] =
        fmin(all, lines_power(seen->channel, isnan(figure->band_hz[0]) ? AUDIO : figure->band_hz, weight));
    share[OF_NOISE] = all - share[OF_MAINS];
}

/* THD+N: harmonics, hum and spurs; the rest is noise. All relative to the tone. */
static void shares_of_rest(const struct lds_seen *seen, const struct lds_figure *figure, double share[KINDS])
{
    bool inverted = figure->name.row->worse == LDS_WORSE_DOWN; /* SINAD */
    double all = pow(10.0, (inverted ? -figure->value : figure->value) / 10.0);
    double tone = power_of(lds_channel_find(seen->channel, LDS_FIGURE_TONE_LEVEL));
    const double *band = isnan(figure->band_hz[0]) ? AUDIO : figure->band_hz;
    double harmonics = 0.0;
    const struct lds_series *lines = lds_channel_find_series(seen->channel, LDS_SERIES_HARMONICS);
    for (size_t i = 0; i < lines->rows; i++) {
        double relative_db = lds_series_value(lines, i, LDS_LINE_RELATIVE);
        if (lds_series_value(lines, i, LDS_LINE_ORDER) > 1.0 && !isnan(relative_db) &&
            lds_series_value(lines, i, LDS_LINE_HZ) <= band[1] * 1.001)
            harmonics += pow(10.0, relative_db / 10.0);
    }
    share[OF_DISTORTION] = fmin(all, harmonics);
    share[OF_MAINS] = fmin(all - share[OF_DISTORTION], lines_power(seen->channel, band, NULL) / tone);
    share[OF_NOISE] = all - share[OF_DISTORTION] - share[OF_MAINS];
}

static void shares_of_rms(const struct lds_seen *seen, const struct lds_figure *figure, double share[KINDS])
{
    double all = power_of(figure), tone = power_of(lds_channel_find(seen->channel, LDS_FIGURE_TONE_LEVEL));
    share[OF_LEVEL] = isnan(tone) ? 0.0 : fmin(all, tone);
    share[OF_MAINS] = fmin(all - share[OF_LEVEL], lines_power(seen->channel, WHOLE, NULL));
    share[OF_NOISE] = all - share[OF_LEVEL] - share[OF_MAINS];
}

static void shares_of(const struct lds_seen *seen, const struct lds_figure *figure, double share[KINDS])
{
    const struct lds_key *row = figure->name.row;
    for (int k = 0; k < KINDS; k++)
        share[k] = 0.0;
    if (isnan(figure->value) || !seen->channel) {
        for (int k = 0; k < KINDS; k++)
            share[k] = kind_family[k] == row->family;
        return;
    }
    if (row->holds == LDS_HOLDS_LINES)
        shares_of_noise(seen, figure, share);
    else if (row->holds == LDS_HOLDS_HARMONICS)
        shares_of_rest(seen, figure, share);
    else if (row->holds == LDS_HOLDS_ALL)
        shares_of_rms(seen, figure, share);
    else
        for (int k = 0; k < KINDS; k++)
            share[k] = kind_family[k] == row->family;
    normalise(share);
}

static double dc_scatter(const struct lds_scatter *scatter, const struct lds_chosen *chosen)
{
    double level = scatter->declared_db[LDS_FAMILY_LEVEL], most = 0.0;
    for (int i = 0; i < chosen->all; i++)
        most = fmax(most, fabs(chosen->figure[i]->value));
    return level > 0.0 ? hypot(DC_REPEAT_V, most * level * M_LN10 / 20.0) : 0.0;
}

double lds_scatter_of(const struct lds_scatter *scatter, const struct lds_chosen *chosen)
{
    const struct lds_key *row = chosen->figure[0]->name.row;
    if (row->family == LDS_FAMILY_NONE)
        return 0.0;
    if (lds_scale_of(row, chosen->figure[0]->unit) == LDS_SCALE_DC)
        return dc_scatter(scatter, chosen);
    if (lds_scale_of(row, chosen->figure[0]->unit) == LDS_SCALE_OHM)
        return scatter->declared_db[LDS_FAMILY_LEVEL] > 0.0 ? REPEAT_OHM : 0.0;
    /* The larger of the two sides' shares: when hum grows, so does its share. */
    double most[KINDS] = {0.0};
    for (int i = 0; i < chosen->all; i++) {
        double share[KINDS];
        shares_of(chosen->seen[i], chosen->figure[i], share);
        for (int k = 0; k < KINDS; k++)
            most[k] = fmax(most[k], share[k]);
    }
    double square = 0.0;
    for (int k = 0; k < KINDS; k++) {
        double part = most[k] * scatter->declared_db[kind_family[k]];
        square += most[k] > 0.0 ? part * part : 0.0;
    }
    if (row->id == LDS_FIGURE_SNR) /* the tone's level is part of it */
        square += scatter->declared_db[LDS_FAMILY_LEVEL] * scatter->declared_db[LDS_FAMILY_LEVEL];
    return sqrt(square);
}

double lds_scatter_of_series(const struct lds_scatter *scatter, const struct lds_series_kind *kind)
{
    return strcmp(lds_series_change_unit(kind), "dB") == 0 ? scatter->declared_db[kind->family] : 0.0;
}

double lds_matters_of_family(const struct lds_compare_options *options, enum lds_family family)
{
    double stated = options->matters_db[family];
    return family == LDS_FAMILY_NONE ? (double)NAN : isnan(stated) ? DEFAULT_MATTERS_DB[family] : stated;
}

double lds_matters_of(const struct lds_compare_options *options, const struct lds_figure *figure)
{
    const struct lds_key *row = figure->name.row;
    if (row->family == LDS_FAMILY_NONE)
        return NAN;
    if (lds_scale_of(row, figure->unit) == LDS_SCALE_DC)
        return DC_MATTERS_V;
    if (lds_scale_of(row, figure->unit) == LDS_SCALE_OHM)
        return MATTERS_OHM;
    return lds_matters_of_family(options, row->family);
}
