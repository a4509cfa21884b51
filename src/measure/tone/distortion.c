/* Harmonics, THD, THD+N, SINAD and SNR, per band. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/tone/distortion.h"

#include "measure/noise/noise.h"
#include "measure/spurs/known.h"
#include "measure/statistics/interval.h"
#include "measure/statistics/noncentral.h"
#include "measure/statistics/uncertainty.h"
#include "measure/tone/power_sum.h"
#include "record/record.h"
#include "record/series.h"

static const double ORDER_SLACK = 1e-3; /* the last harmonic may be this much above the band's edge, relative */
enum { FEWEST_ORDERS = 3 };             /* the last order must be at least the third */

struct band {
    const char *suffix; /* "" or ".LO-HI" */
    double asked_hz[2], covered_hz[2];
    bool cut;
};

/* ---- harmonics ---- */

static double db_ratio(double power, double reference)
{
    return lds_power_db(power / reference);
}

bool lds_distortion_row(struct lds_series *lines, const struct lds_harmonic *h, double reference,
                        const struct lds_findings *findings)
{
    double raw = creal(h->phasor * conj(h->phasor)), power = fmax(0.0, raw - h->noise_power);
    double low = raw, high = raw;
    if (h->noise_power > 0.0)
        lds_noncentral_limits(raw, h->noise_power, 1, &low, &high);
    double scale = findings->scale;
    const double value[] = {h->order, h->frequency_hz, h->detected ? scale * sqrt(power) : NAN,
                            h->detected ? db_ratio(power, reference) : NAN,
                            h->order == 1 ? 0.0
                            : h->detected ? carg(h->phasor) * 180.0 / M_PI
                                          : NAN};
    if (!lds_series_add_row(lines, value))
        return false;
    size_t row = lines->rows - 1;
    lds_series_set_limits(lines, row, LDS_LINE_LEVEL, scale * sqrt(low), scale * sqrt(high));
    lds_series_set_limits(lines, row, LDS_LINE_RELATIVE, low > 0.0 ? db_ratio(low, reference) : (double)NAN,
                          db_ratio(high, reference));
    lines->flag[row] = findings->harmonic_flags | (h->detected ? 0u : LDS_FLAG_BELOW_FLOOR) |
                       (h->near_mains ? LDS_FLAG_NEAR_LINE : 0u);
    return true;
}

static bool add_harmonics(struct lds_channel *channel, const struct lds_findings *findings)
{
    struct lds_series *lines = lds_channel_add_series(channel, "harmonics");
    bool done = lines != NULL;
    double v1 = cabs(findings->harmonic[0].phasor);
    for (size_t i = 0; done && i < findings->harmonics; i++)
        done = lds_distortion_row(lines, &findings->harmonic[i], v1 * v1, findings);
    return done;
}

/* ---- THD ---- */

static void sum_harmonics(const struct lds_findings *findings, int first, int last, struct lds_power_sum *sum)
{
    *sum = (struct lds_power_sum){0};
    for (int k = first; k <= last && (size_t)k <= findings->harmonics; k++)
        lds_power_sum_add(sum, &findings->harmonic[k - 1]);
}

static void key_of(char key[64], const char *stem, const struct band *band)
{
    snprintf(key, 64, "%s%s", stem, band->suffix);
}

static void set_band(struct lds_figure *figure, const struct band *band)
{
    figure->band_hz[0] = band->covered_hz[0];
    figure->band_hz[1] = band->covered_hz[1];
    if (band->cut)
        figure->flags |= LDS_FLAG_BAND_CUT;
}

/* Sets value and limits as ratios to the reference, in dB. */
static void set_ratio(struct lds_figure *figure, double power, double low, double high, double u_power,
                      double reference)
{
    figure->value = db_ratio(power, reference);
    figure->low = low > 0.0 ? db_ratio(low, reference) : NAN;
    figure->high = db_ratio(high, reference);
    figure->u_a = power > 0.0 ? 10.0 / M_LN10 * u_power / power : NAN;
    figure->u_b = 0.0;
}

/* Whether a mains order is hidden under one of the harmonics first..last and matters to a figure of this power. Orders
 * that are measured always count; one beyond them counts when it may change the figure by a hundredth. */
static unsigned hum_flag(const struct lds_findings *findings, int first, int last, double power)
{
    for (int k = first; k <= last && (size_t)k <= findings->harmonics; k++) {
        const struct lds_harmonic *h = &findings->harmonic[k - 1];
        double moved = 2.0 * sqrt(h->hum_power) * cabs(h->phasor) + h->hum_power;
        if (h->near_mains && (h->mains_order <= LDS_MAINS_ORDERS || moved > 0.01 * power))
            return LDS_FLAG_NEAR_LINE;
    }
    return 0u;
}

static bool add_thd(struct lds_channel *channel, const struct lds_findings *findings, const struct band *band)
{
    char key[64];
    key_of(key, "thd", band);
    double f1 = findings->track.frequency_hz, v1 = cabs(findings->harmonic[0].phasor);
    int last = (int)floor(band->covered_hz[1] * (1.0 + ORDER_SLACK) / f1);
    int first = (int)ceil(band->covered_hz[0] / (f1 * (1.0 + ORDER_SLACK)));
    first = first < 2 ? 2 : first;
    if (last < FEWEST_ORDERS || last < first)
        return lds_channel_add_absent(channel, key, "the band up to %.6g Hz holds no third harmonic of %.6g Hz",
                                      band->covered_hz[1], f1);
    if ((size_t)last > findings->harmonics)
        return lds_channel_add_absent(channel, key,
                                      "harmonics %.4g Hz apart cannot be told apart up to %.6g Hz in this capture", f1,
                                      band->covered_hz[1]);
    struct lds_figure *figure = lds_channel_add(channel, key);
    struct lds_power_sum sum;
    double low, high;
    sum_harmonics(findings, first, last, &sum);
    lds_power_sum_limits(&sum, &low, &high);
    set_band(figure, band);
    figure->orders[0] = first;
    figure->orders[1] = last;
    set_ratio(figure, sum.power, low, high, sqrt(sum.variance), v1 * v1);
    figure->dof = INFINITY;
    if (low <= 0.0 || sum.power <= 0.0) {
        figure->value = figure->low = figure->u_a = NAN;
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
    }
    figure->flags |= hum_flag(findings, first, last, fmax(0.0, sum.power));
    return true;
}

/* ---- THD+N and SNR ---- */

/* Hum of unknown phase on a harmonic adds the cross term 2 V^2 hum to the variance of the band's power. */
static double hum_variance(const struct lds_findings *findings, const struct band *band)
{
    double variance = 0.0;
    for (size_t i = 1; i < findings->harmonics; i++) {
        const struct lds_harmonic *h = &findings->harmonic[i];
        bool in = h->frequency_hz >= band->covered_hz[0] && h->frequency_hz <= band->covered_hz[1];
        if (in && h->detected)
            variance += 2.0 * creal(h->phasor * conj(h->phasor)) * h->hum_power;
    }
    return variance;
}

struct residue {
    double noise, noise_low, noise_high, noise_u;
    double all, all_low, all_high, all_u; /* noise, hum, spurs and harmonics */
    double dof;
    bool unsteady;
    unsigned hum; /* flag: hum is hidden under the tone or a harmonic */
};

static void measure_residue(const struct lds_findings *findings, const struct lds_noise_scale *scale,
                            const struct band *band, struct residue *r)
{
    struct lds_band_power noise, all;
    const unsigned lines = 1u << LDS_LINE_HARMONIC | 1u << LDS_LINE_MAINS | 1u << LDS_LINE_SPUR;
    lds_noise_band(&findings->floor, scale, band->covered_hz[0], band->covered_hz[1], 0, NULL, &noise);
    lds_noise_band(&findings->floor, scale, band->covered_hz[0], band->covered_hz[1], lines, NULL, &all);
    double unit2 = scale->per_unit * scale->per_unit;
    lds_band_interval(&noise, &r->noise_u, &r->dof, &r->noise_low, &r->noise_high, &r->unsteady);
    r->noise = noise.power;
    /* The variance of the spectrum already includes how the lines beat with the noise. */
    double u_lines = hypot(sqrt(fmax(0.0, all.variance - noise.variance)), sqrt(hum_variance(findings, band)) * unit2);
    double half = lds_coverage(INFINITY) * u_lines;
    r->all = all.power;
    r->all_u = hypot(r->noise_u, u_lines);
    r->all_low = r->all - hypot(r->noise - r->noise_low, half);
    double f1 = findings->track.frequency_hz;
    int first = (int)ceil(band->covered_hz[0] / f1), last = (int)floor(band->covered_hz[1] / f1);
    r->hum = hum_flag(findings, first < 1 ? 1 : first, last, r->all / unit2);
    /* Hum under the tone was taken out with it. */
    r->all_high = r->all + hypot(r->noise_high - r->noise, half) + findings->harmonic[0].hum_high * unit2;
}

static bool add_thd_n(struct lds_channel *channel, const struct band *band, const struct residue *r, double tone)
{
    char key[64];
    key_of(key, "thd_n", band);
    struct lds_figure *figure = lds_channel_add(channel, key);
    /* Relative to the rms of everything in the band (AES17, IEC 60268-3), so each limit is relative to the total that
     * goes with it. */
    double total = tone + r->all;
    lds_figure_set(figure, db_ratio(r->all, total), db_ratio(r->all_low, tone + r->all_low),
                   db_ratio(r->all_high, tone + r->all_high), 10.0 / M_LN10 * r->all_u / r->all * tone / total, r->dof);
    set_band(figure, band);
    figure->flags |= (r->unsteady ? LDS_FLAG_UNSTEADY : 0u) | r->hum;
    struct lds_figure thd_n = *figure;
    key_of(key, "sinad", band);
    figure = lds_channel_add(channel, key);
    lds_figure_set(figure, -thd_n.value, -thd_n.high, -thd_n.low, thd_n.u_a, thd_n.dof);
    figure->flags |= thd_n.flags;
    set_band(figure, band);
    return true;
}

static bool add_snr(struct lds_channel *channel, const struct band *band, const struct residue *r, double tone)
{
    char key[64];
    key_of(key, "snr", band);
    struct lds_figure *figure = lds_channel_add(channel, key);
    lds_figure_set(figure, db_ratio(tone, r->noise), db_ratio(tone, r->noise_high),
                   r->noise_low > 0.0 ? db_ratio(tone, r->noise_low) : NAN, 10.0 / M_LN10 * r->noise_u / r->noise,
                   r->dof);
    figure->flags |= r->unsteady ? LDS_FLAG_UNSTEADY : 0u;
    set_band(figure, band);
    return true;
}

/* ---- bands ---- */

static bool absent(struct lds_channel *channel, const char *suffix, const char *why)
{
    const char *const stems[] = {"thd", "thd_n", "sinad", "snr"};
    for (size_t i = 0; i < sizeof stems / sizeof stems[0]; i++) {
        char key[64];
        snprintf(key, sizeof key, "%s%s", stems[i], suffix);
        if (!lds_channel_add_absent(channel, key, "%s", why))
            return false;
    }
    return true;
}

static bool band_figures(struct lds_channel *channel, const struct lds_findings *findings,
                         const struct lds_noise_scale *scale, double low_hz, double high_hz, const char *suffix)
{
    struct band band = {.suffix = suffix, .asked_hz = {low_hz, high_hz}};
    char why[160];
    if (!findings->has_tone)
        return absent(channel, suffix, findings->scout.why[0] ? findings->scout.why : "there is no tone");
    if (!lds_noise_covered(&findings->floor, scale, low_hz, high_hz, band.covered_hz, &band.cut, why))
        return absent(channel, suffix, why);
    double f1 = findings->track.frequency_hz;
    if (f1 < band.covered_hz[0] || f1 > band.covered_hz[1]) {
        snprintf(why, sizeof why, "the tone at %.6g Hz lies outside the band", f1);
        return absent(channel, suffix, why);
    }
    double tone = findings->scale * cabs(findings->harmonic[0].phasor);
    struct residue r;
    measure_residue(findings, scale, &band, &r);
    if (!add_thd(channel, findings, &band))
        return false;
    if (r.noise <= 0.0) {
        snprintf(why, sizeof why, "the capture holds no noise at all: the samples were made, not recorded");
        char key[64];
        key_of(key, "snr", &band);
        if (!lds_channel_add_absent(channel, key, "%s", why))
            return false;
        return r.all > 0.0 ? add_thd_n(channel, &band, &r, tone * tone) : true;
    }
    return add_thd_n(channel, &band, &r, tone * tone) && add_snr(channel, &band, &r, tone * tone);
}

bool lds_distortion_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_noise_scale *scale = &findings->noise_scale;
    if (findings->has_tone && !add_harmonics(channel, findings))
        return false;
    if (!band_figures(channel, findings, scale, 20.0, 20000.0, ""))
        return false;
    for (size_t i = 0; i < findings->options->bands; i++) {
        const struct lds_band *asked = &findings->options->band[i];
        char name[40], suffix[48];
        lds_band_name(asked->low_hz, asked->high_hz, name, sizeof name);
        snprintf(suffix, sizeof suffix, ".%s", name);
        if (!band_figures(channel, findings, scale, asked->low_hz, asked->high_hz, suffix))
            return false;
    }
    return true;
}
