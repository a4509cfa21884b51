/* How much of a figure the capture chain explains. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/floor_over.h"
#include "compare/reading.h"
#include "fail.h"
#include "loadside/compare.h"
#include "record/series.h"

static const double RANGE_SAME = 1e-3, RATE_SAME = 1e-6, FREQUENCY_SAME = 0.01;
static const double LEVEL_SAME_DB = 1.0;

/* Decibels above the chain, for noise-like figures, whose powers add, and for coherent ones, to which the chain may add
 * or from which it may cancel. */
struct rule {
    double near_db, limited_db;
};
static const struct rule NOISE_LIKE = {10.0, 3.0}, COHERENT = {25.0, 10.0};

/* ---- does a recording fit? ---- */

static const struct lds_channel *channel_of(const struct lds_measurement *m, int channel)
{
    for (size_t c = 0; c < m->channels; c++)
        if (m->channel[c].channel == channel)
            return &m->channel[c];
    return NULL;
}

static const struct lds_figure *tone_of(const struct lds_measurement *m, int channel, enum lds_figure_id id)
{
    const struct lds_channel *own = channel_of(m, channel);
    return own && lds_channel_find(own, LDS_FIGURE_TONE_LEVEL) ? lds_channel_find(own, id) : NULL;
}

static bool differs(double a, double b, double relative)
{
    return isnan(a) != isnan(b) || fabs(a - b) > relative * fmax(fabs(a), fabs(b));
}

static const char *name_of(const struct lds_measurement *chain)
{
    return chain->file ? chain->file : "the recording of the chain";
}

/* Both of two tones must have the same frequency and level, since their products depend on both. */
static enum lds_status two_tones_fit(const struct lds_measurement *m, const struct lds_measurement *chain, int channel,
                                     struct lds_error *error)
{
    static const char *const name[] = {"f1", "f2"}, *const which[] = {"lower", "higher"};
    const int channels[2] = {channel, 0};
    const struct lds_series *own = lds_measurement_series(m, channels, lds_series_kind_of(LDS_SERIES_PRODUCTS)->key),
                            *its =
                                lds_measurement_series(chain, channels, lds_series_kind_of(LDS_SERIES_PRODUCTS)->key);
    for (int t = 0; t < 2; t++) {
        size_t row = lds_series_row_named(own, name[t]), other = lds_series_row_named(its, name[t]);
        if (row == own->rows || other == its->rows)
            continue;
        double hz = lds_series_value(own, row, LDS_LINE_HZ), its_hz = lds_series_value(its, other, LDS_LINE_HZ);
        double apart = lds_in_db(lds_series_value(its, other, LDS_LINE_LEVEL), "V") -
                       lds_in_db(lds_series_value(own, row, LDS_LINE_LEVEL), "V");
        if (differs(hz, its_hz, FREQUENCY_SAME))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: chain not comparable: its %s tone is %.6g Hz and that of the capture %.6g Hz: record "
                            "the chain with the same two tones",
                            name_of(chain), which[t], its_hz, hz);
        if (!(fabs(apart) <= LEVEL_SAME_DB))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: chain not comparable: its %s tone is %.2g dB %s that of the capture, and 1 dB is "
                            "allowed: record the chain at the same levels",
                            name_of(chain), which[t], fabs(apart), apart > 0.0 ? "above" : "below");
    }
    return LDS_OK;
}

/* If both have a tone, it must be the same one, since a chain's distortion depends on it. */
static enum lds_status tone_fits(const struct lds_measurement *m, const struct lds_measurement *chain, int channel,
                                 struct lds_error *error)
{
    const struct lds_figure *f = tone_of(m, channel, LDS_FIGURE_TONE_FREQUENCY),
                            *fc = tone_of(chain, channel, LDS_FIGURE_TONE_FREQUENCY);
    const struct lds_figure *v = tone_of(m, channel, LDS_FIGURE_TONE_LEVEL),
                            *vc = tone_of(chain, channel, LDS_FIGURE_TONE_LEVEL);
    if (!f || !fc || !v || !vc)
        return LDS_OK;
    if (differs(f->value, fc->value, FREQUENCY_SAME))
        return lds_fail(
            error, LDS_BAD_INPUT,
            "%s: chain not comparable: its tone is %.6g Hz and that of the capture %.6g Hz: record the chain "
            "at the same frequency",
            name_of(chain), fc->value, f->value);
    double apart = lds_in_db(vc->value, vc->unit) - lds_in_db(v->value, v->unit);
    if (!(fabs(apart) <= LEVEL_SAME_DB))
        return lds_fail(
            error, LDS_BAD_INPUT,
            "%s: chain not comparable: its tone is %.2g dB %s that of the capture, and 1 dB is allowed: record "
            "the chain at the same level",
            name_of(chain), fabs(apart), apart > 0.0 ? "above" : "below");
    return LDS_OK;
}

/* The range of the channel's input, which may have a bench of its own. */
static enum lds_status range_fits(const struct lds_measurement *m, const struct lds_measurement *chain, int channel,
                                  struct lds_error *error)
{
    double range = lds_bench_volts_per_unit(lds_bench_of(&m->bench, channel));
    double chain_range = lds_bench_volts_per_unit(lds_bench_of(&chain->bench, channel));
    if (isnan(range) != isnan(chain_range))
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: chain not comparable: %s is calibrated and the other is not: give both the same bench",
                        name_of(chain), isnan(range) ? "it" : "the capture");
    if (!isnan(range) && differs(range, chain_range, RANGE_SAME))
        return lds_fail(
            error, LDS_BAD_INPUT,
            "%s: chain not comparable: full scale is %.4g V at the load, that of the capture %.4g V: record "
            "the chain in the same range",
            name_of(chain), chain_range, range);
    return LDS_OK;
}

enum lds_status lds_chain_fits(const struct lds_measurement *m, const struct lds_measurement *chain,
                               struct lds_error *error)
{
    if (differs(m->rate_hz, chain->rate_hz, RATE_SAME))
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: chain not comparable: sampled at %.6g Hz, the capture at %.6g Hz: record the chain at the "
                        "same rate",
                        name_of(chain), chain->rate_hz, m->rate_hz);
    bool any = false;
    for (size_t c = 0; c < m->channels; c++) {
        int channel = m->channel[c].channel;
        if (!channel_of(chain, channel))
            continue;
        any = true;
        if (range_fits(m, chain, channel, error) != LDS_OK || tone_fits(m, chain, channel, error) != LDS_OK)
            return LDS_BAD_INPUT;
        if (two_tones_fit(m, chain, channel, error) != LDS_OK)
            return LDS_BAD_INPUT;
    }
    if (!any)
        return lds_fail(
            error, LDS_BAD_INPUT,
            "%s: chain not comparable: it holds none of the capture's channels: record the chain in the same "
            "channels",
            name_of(chain));
    return LDS_OK;
}

/* ---- marking ---- */

static unsigned flags_by(const struct rule *rule, double margin_db)
{
    if (margin_db < rule->limited_db)
        return LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED;
    return margin_db < rule->near_db ? (unsigned)LDS_FLAG_NEAR_CHAIN : 0u;
}

/* A chain `margin` dB below may have changed a sum by between 20 log10(1 - r) and 20 log10(1 + r), with r =
 * 10^(-margin/20). For an arbitrary phase (arcsine distribution) u is the half-width over sqrt 2. The level of the
 * amplifier alone differs by as much in the opposite direction. */
static double coherent_u(double margin_db, double *below_db, double *above_db)
{
    double r = pow(10.0, -margin_db / 20.0);
    *above_db = 20.0 * log10(1.0 + r);
    *below_db = r < 1.0 ? -20.0 * log10(1.0 - r) : (double)INFINITY;
    double half = isfinite(*below_db) ? 0.5 * (*above_db + *below_db) : *above_db;
    return half / M_SQRT2;
}

/* The figure for its size in dB; one that falls as the amplifier gets worse (SINAD, SNR) with the opposite sign. */
static double size_db(const struct lds_figure *figure, double value)
{
    double db = lds_in_db(value, figure->unit);
    return figure->name.row->worse == LDS_WORSE_DOWN ? -db : db;
}

/* For a chain below its own floor the upper limit is used. */
static double chain_size_db(const struct lds_figure *chain)
{
    return size_db(chain, isnan(chain->value) ? chain->high : chain->value);
}

static double from_db(const struct lds_figure *figure, double db)
{
    if (lds_unit_is_amplitude(figure->unit))
        return pow(10.0, db / 20.0);
    return db;
}

/* Widens both halves of an interval by root-sum-square of what the chain may have done; returns its u. All in
 * decibels. */
static double spread(double margin_db, bool inverted, double *down, double *up)
{
    double below, above, u = coherent_u(margin_db, &below, &above);
    *down = hypot(isnan(*down) ? (double)INFINITY : *down, inverted ? above : below);
    *up = hypot(isnan(*up) ? (double)INFINITY : *up, inverted ? below : above);
    return u;
}

static void widen(struct lds_figure *figure, double margin_db)
{
    double value = lds_in_db(figure->value, figure->unit);
    double down = value - lds_in_db(figure->low, figure->unit), up = lds_in_db(figure->high, figure->unit) - value;
    double u = spread(margin_db, figure->name.row->worse == LDS_WORSE_DOWN, &down, &up);
    bool level = lds_unit_is_amplitude(figure->unit);
    figure->low = isfinite(down) ? from_db(figure, value - down) : level ? 0.0 : (double)NAN;
    figure->high = isfinite(up) ? from_db(figure, value + up) : (double)NAN;
    double slope = level ? fabs(figure->value) * M_LN10 / 20.0 : 1.0;
    figure->u_b = hypot(isnan(figure->u_b) ? 0.0 : figure->u_b, slope * u);
}

/* What to mark: figures and series of a channel (the second is then 0) or a pair; and the chain's recordings. */
struct marked {
    struct lds_figure *figure;
    struct lds_series *series;
    size_t figures, series_count;
    int channels[2];
    bool has_tone;
    const struct lds_measurement *chain;
    size_t chains;
};

static bool has_tone(const struct lds_measurement *m, const int channels[2])
{
    return tone_of(m, channels[0], LDS_FIGURE_TONE_LEVEL) || tone_of(m, channels[1], LDS_FIGURE_TONE_LEVEL);
}

static const struct lds_figure *figure_in(const struct lds_measurement *m, const int channels[2], const char *key)
{
    const struct lds_channel *channel = channels[1] == 0 ? channel_of(m, channels[0]) : NULL;
    if (channel)
        return lds_channel_figure(channel, key);
    for (size_t p = 0; p < m->pairs; p++)
        if (m->pair[p].channels[0] == channels[0] && m->pair[p].channels[1] == channels[1])
            return lds_pair_figure(&m->pair[p], key);
    return NULL;
}

/* The recording of the chain that suits a figure or series best: one without a tone for captures without, one with the
 * tone for captures with, or for figures that need it. row: NULL for a series. not_alike: there was one, but recorded
 * under other conditions. */
static const struct lds_measurement *recording(const struct marked *m, const char *key, const struct lds_key *row,
                                               bool *not_alike)
{
    const struct lds_measurement *second = NULL;
    *not_alike = false;
    for (size_t i = 0; i < m->chains; i++) {
        const struct lds_measurement *one = &m->chain[i];
        bool with_tone = has_tone(one, m->channels);
        if (row ? !figure_in(one, m->channels, key) : lds_measurement_series(one, m->channels, key)->rows == 0)
            continue;
        if (with_tone == m->has_tone || (row && row->tone == LDS_SAME_TONE))
            return one;
        if (with_tone)
            *not_alike = true; /* a chain with a tone says nothing about an idle capture */
        else
            second = one;
    }
    return second;
}

static unsigned flags_with(unsigned flags, bool measured, bool not_alike)
{
    if (measured || not_alike)
        flags &= ~(unsigned)LDS_FLAG_CHAIN_NOT_MEASURED;
    return measured || !not_alike ? flags : flags | LDS_FLAG_CHAIN_NOT_COMPARABLE;
}

static void mark(const struct marked *m, struct lds_figure *figure)
{
    bool coherent = figure->name.row->chain == LDS_CHAIN_COHERENT;
    bool not_alike;
    const struct lds_measurement *own = recording(m, figure->key, figure->name.row, &not_alike);
    figure->flags = flags_with(figure->flags, own, not_alike);
    if (!own || isnan(figure->value))
        return;
    double margin = size_db(figure, figure->value) - chain_size_db(figure_in(own, m->channels, figure->key));
    figure->flags |= flags_by(coherent ? &COHERENT : &NOISE_LIKE, margin);
    if (coherent && figure->flags & LDS_FLAG_NEAR_CHAIN)
        widen(figure, margin);
}

/* A figure of shape, or a ratio within the residual, says nothing about the size of the residual: it gets the flags of
 * the figure for the size. */
static void mark_shapes(struct lds_channel *channel)
{
    const unsigned chain_flags =
        LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE | LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED;
    for (size_t i = 0; i < channel->figures; i++) {
        enum lds_figure_id id = channel->figure[i].name.row->shape_of;
        const struct lds_figure *size = id ? lds_channel_find(channel, id) : NULL;
        if (size)
            channel->figure[i].flags = (channel->figure[i].flags & ~chain_flags) | (size->flags & chain_flags);
    }
}

/* SNR from a shorted input: the chain's noise against that of the capture. */
static void mark_snr(struct lds_channel *channel)
{
    const struct lds_figure *noise = lds_channel_find(channel, LDS_FIGURE_NOISE);
    for (size_t i = 0; noise && i < channel->figures; i++) {
        struct lds_figure *figure = &channel->figure[i];
        if (!lds_figure_is(&figure->name, LDS_FIGURE_SNR) || !(figure->flags & LDS_FLAG_CHAIN_NOT_MEASURED) ||
            noise->flags & LDS_FLAG_CHAIN_NOT_MEASURED)
            continue;
        figure->flags &= ~(unsigned)LDS_FLAG_CHAIN_NOT_MEASURED;
        figure->flags |= noise->flags & (LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED);
    }
}

/* ---- series ---- */

/* Of levels and decibels; no other quantity has a rule for the chain (struct lds_series_kind). */
static double in_db(enum lds_quantity quantity, double value)
{
    return quantity == LDS_QUANTITY_DB ? value : lds_in_db(value, "V");
}

static double out_of_db(enum lds_quantity quantity, double db)
{
    return quantity == LDS_QUANTITY_DB ? db : pow(10.0, db / 20.0);
}

/* The value of a series, the capture's own or the chain's, at a row of the capture's series; below the floor the upper
 * limit, NAN where nothing is known. */
static double value_there(const struct lds_series *from, const struct lds_series *series, size_t row)
{
    const struct lds_series_kind *kind = series->kind;
    struct lds_cell cell = {NAN, NAN, NAN};
    if (kind->match == LDS_MATCH_ORDER) {
        double order = lds_series_value(series, row, LDS_LINE_ORDER);
        size_t same = lds_series_row_of(from, LDS_LINE_ORDER, order);
        if (same < from->rows && order >= kind->first_order)
            cell = lds_series_cell(from, same, kind->value);
    } else if (kind->match == LDS_MATCH_NAME) {
        size_t same = lds_series_row_named(from, series->text[row]);
        if (same < from->rows && lds_series_value(series, row, LDS_LINE_ORDER) >= kind->first_order)
            cell = lds_series_cell(from, same, kind->value);
    } else if (kind->match == LDS_MATCH_BANDS) {
        double mean, dof;
        if (lds_floor_over(from, lds_series_value(series, row, LDS_FLOOR_LOW_HZ),
                           lds_series_value(series, row, LDS_FLOOR_HIGH_HZ), &mean, &dof))
            cell.value = mean;
    } else {
        cell = lds_series_at(from, lds_series_value(series, row, kind->axis));
    }
    return isnan(cell.value) && from != series ? cell.high : cell.value;
}

/* Sets the flags of a row, and its limits where the chain may have added or cancelled. */
static void mark_row(struct lds_series *series, size_t row, const struct lds_series *chain)
{
    const struct lds_series_kind *kind = series->kind;
    enum lds_quantity quantity = kind->column[kind->value].quantity;
    bool coherent = kind->chain == LDS_CHAIN_COHERENT;
    double value = in_db(quantity, value_there(series, series, row)),
           margin = value - in_db(quantity, value_there(chain, series, row));
    if (!isfinite(margin))
        return;
    series->flag[row] |= flags_by(coherent ? &COHERENT : &NOISE_LIKE, margin);
    if (!coherent || !(series->flag[row] & LDS_FLAG_NEAR_CHAIN))
        return;
    struct lds_cell cell = lds_series_cell(series, row, kind->value);
    double down = value - in_db(quantity, cell.low), up = in_db(quantity, cell.high) - value;
    spread(margin, false, &down, &up);
    for (int c = 0; c < kind->columns; c++) { /* for a line, its level and its level relative to the tone */
        quantity = kind->column[c].quantity;
        double middle = in_db(quantity, lds_series_value(series, row, c)), open = quantity == LDS_QUANTITY_DB ? NAN : 0;
        if (kind->column[c].limits)
            lds_series_set_limits(series, row, c, isfinite(down) ? out_of_db(quantity, middle - down) : open,
                                  out_of_db(quantity, middle + up));
    }
}

/* Marks lines that the chain has too, at the same frequency and no more than 10 dB weaker. */
static void mark_spurs(struct lds_channel *channel, const struct lds_channel *own, double tolerance_hz)
{
    struct lds_series *spurs = lds_channel_own_series(channel, lds_series_kind_of(LDS_SERIES_SPURS)->key);
    const struct lds_series *chain = lds_channel_find_series(own, LDS_SERIES_SPURS);
    for (size_t i = 0; spurs && i < spurs->rows; i++)
        for (size_t k = 0; k < chain->rows; k++) {
            double apart_hz = lds_series_value(spurs, i, LDS_SPUR_HZ) - lds_series_value(chain, k, LDS_SPUR_HZ);
            double level = lds_series_value(spurs, i, LDS_SPUR_LEVEL);
            if (fabs(apart_hz) <= tolerance_hz &&
                20.0 * log10(level / lds_series_value(chain, k, LDS_SPUR_LEVEL)) < COHERENT.limited_db)
                snprintf(spurs->text[i], LDS_SERIES_TEXT, "the capture chain: it stands in its own recording");
        }
}

/* All series but spurs, whose rows have no flags. */
static void mark_series(const struct marked *m, struct lds_series *series)
{
    bool not_alike;
    if (series->kind->chain == LDS_CHAIN_NONE || !series->flag)
        return;
    const struct lds_measurement *own = recording(m, series->kind->key, NULL, &not_alike);
    if (series->kind->form == LDS_FORM_OVER_AXIS)
        series->flags = flags_with(series->flags, own, not_alike);
    const struct lds_series *chain = own ? lds_measurement_series(own, m->channels, series->kind->key) : NULL;
    for (size_t i = 0; chain && i < series->rows; i++)
        mark_row(series, i, chain);
}

static void mark_all(const struct marked *m)
{
    for (size_t i = 0; i < m->figures; i++) {
        const struct lds_key *row = m->figure[i].name.row;
        if (row->chain != LDS_CHAIN_NONE && row->shape_of == LDS_FIGURE_OTHER)
            mark(m, &m->figure[i]);
    }
    for (size_t i = 0; i < m->series_count; i++)
        mark_series(m, &m->series[i]);
}

static void mark_channel(const struct lds_measurement *m, struct lds_channel *channel,
                         const struct lds_measurement *chain, size_t chains)
{
    struct marked marked = {.figure = channel->figure,
                            .series = channel->series,
                            .figures = channel->figures,
                            .series_count = channel->series_count,
                            .channels = {channel->channel, 0},
                            .chain = chain,
                            .chains = chains};
    marked.has_tone = has_tone(m, marked.channels);
    mark_all(&marked);
    mark_shapes(channel);
    mark_snr(channel);
    for (size_t i = 0; i < chains; i++) {
        const struct lds_channel *own = channel_of(&chain[i], channel->channel);
        if (own && (marked.has_tone || !lds_channel_find(own, LDS_FIGURE_TONE_LEVEL)))
            mark_spurs(channel, own, m->window_s > 0.0 ? 1.0 / m->window_s : 3.0);
    }
}

enum lds_status lds_chain_apply(struct lds_measurement *measurement, const struct lds_measurement *chain, size_t chains,
                                struct lds_error *error)
{
    for (size_t i = 0; i < chains; i++)
        if (lds_chain_fits(measurement, &chain[i], error))
            return LDS_BAD_INPUT; /* the only error that it returns */
    for (size_t c = 0; c < measurement->channels; c++)
        mark_channel(measurement, &measurement->channel[c], chain, chains);
    for (size_t p = 0; p < measurement->pairs; p++) {
        const struct lds_pair *pair = &measurement->pair[p];
        mark_all(&(struct marked){.figure = pair->figure,
                                  .series = pair->series,
                                  .figures = pair->figures,
                                  .series_count = pair->series_count,
                                  .channels = {pair->channels[0], pair->channels[1]},
                                  .has_tone = has_tone(measurement, pair->channels),
                                  .chain = chain,
                                  .chains = chains});
    }
    return LDS_OK;
}
