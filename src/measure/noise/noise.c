#include "measure/noise/noise.h"

#include <math.h>
#include <string.h>

#include "constants.h"
#include "measure/analyser.h"
#include "measure/noise/weighting.h"
#include "measure/statistics/interval.h"
#include "record/record.h"

const struct lds_band lds_noise_bands[LDS_NOISE_BANDS] = {{20.0, 20e3}, {20e3, 100e3}, {100e3, 500e3}};
static const struct lds_band AUDIO = {20.0, 20e3};
/* The largest share of a band that lines may take: beyond it the filled density would be guesswork. */
static const double REMOVED_MOST = 0.2;
/* Of 20 kHz that a weighted figure needs: 44.1 kHz captures end at 19.8 kHz. */
static const double WEIGHTED_LEAST = 0.99;
enum { HUM_AND_SPURS = 1 << LDS_LINE_MAINS | 1 << LDS_LINE_SPUR };

struct noise {
    struct lds_channel *channel;
    const struct lds_floor *floor;
    const struct lds_noise_request *request;
    const struct lds_noise_scale *scale;
};

/* One figure to compute from a band. */
struct wanted {
    const char *key;
    struct lds_band band;
    unsigned keep;
    double (*weight)(double frequency_hz, const void *context);
    bool density;    /* the mean density over the band, per hertz */
    double least_hz; /* absent when the capture ends below this */
};

/* Puts the square root of a power and of its limits into the figure; the bench's uncertainty widens the limits (root
 * sum of squares of each half, 1.96 standard uncertainties). */
static void set_figure(const struct noise *noise, struct lds_figure *figure, const struct lds_band_power *band,
                       double width_hz)
{
    double u_power, low_power, high_power;
    bool unsteady;
    lds_band_interval(band, &u_power, &figure->dof, &low_power, &high_power, &unsteady);
    double value = sqrt(band->power / width_hz), u_a = 0.5 * value * u_power / band->power;
    double u_b = value * noise->scale->relative_u_b, reach = LDS_COVERAGE * u_b;
    double low = value - hypot(value - sqrt(low_power / width_hz), reach);
    double high = value + hypot(sqrt(high_power / width_hz) - value, reach);
    lds_figure_set_level(figure, noise->channel->calibrated, value, fmax(low, 0.0), high, u_a);
    figure->u_b = u_b;
    if (unsteady)
        figure->flags |= LDS_FLAG_UNSTEADY;
}

static bool add_figure(const struct noise *noise, const struct wanted *wanted)
{
    struct lds_channel *channel = noise->channel;
    double covered[2];
    char reason[160];
    bool cut;
    if (!lds_noise_covered(noise->floor, noise->scale, wanted->band.low_hz, wanted->band.high_hz, covered, &cut,
                           reason))
        return lds_channel_add_absent(channel, wanted->key, "%s", reason);
    if (covered[1] < wanted->least_hz)
        return lds_channel_add_absent(channel, wanted->key,
                                      "the weighting needs the band to 20 kHz, and it ends at %.6g Hz", covered[1]);
    struct lds_band_power band;
    lds_noise_band(noise->floor, noise->scale, covered[0], covered[1], wanted->keep, wanted->weight, &band);
    double width = covered[1] - covered[0];
    if (band.removed_hz > REMOVED_MOST * width)
        return lds_channel_add_absent(
            channel, wanted->key, "lines take %.3g %% of the band, and 20 %% is the most that is filled: record longer",
            100.0 * band.removed_hz / width);
    if (!(band.power > 0.0))
        return lds_channel_add_absent(channel, wanted->key, "digital silence: the samples hold no noise");
    struct lds_figure *figure = lds_channel_add(channel, wanted->key);
    figure->band_hz[0] = covered[0];
    figure->band_hz[1] = covered[1];
    figure->removed_hz = band.removed_hz;
    figure->flags |= cut ? LDS_FLAG_BAND_CUT : 0u;
    if (covered[1] > noise->scale->edge_hz * 1.001)
        figure->flags |= LDS_FLAG_BANDWIDTH;
    set_figure(noise, figure, &band, wanted->density ? width : 1.0);
    return true;
}

static bool same_band(const struct lds_band *a, const struct lds_band *b)
{
    return a->low_hz == b->low_hz && a->high_hz == b->high_hz;
}

static bool add_band(const struct noise *noise, const struct lds_band *band)
{
    char key[64];
    struct wanted wanted = {.key = key, .band = *band};
    lds_band_key("noise.band", band->low_hz, band->high_hz, key);
    if (!add_figure(noise, &wanted))
        return false;
    lds_band_key("noise.total", band->low_hz, band->high_hz, key);
    wanted.keep = HUM_AND_SPURS;
    return add_figure(noise, &wanted);
}

static bool add_bands(const struct noise *noise)
{
    for (int i = 0; i < LDS_NOISE_BANDS; i++)
        if (!add_band(noise, &lds_noise_bands[i]))
            return false;
    for (size_t i = 0; i < noise->request->bands; i++) {
        const struct lds_band *band = &noise->request->band[i];
        bool known = false;
        for (int j = 0; j < LDS_NOISE_BANDS; j++)
            known = known || same_band(band, &lds_noise_bands[j]);
        for (size_t j = 0; j < i; j++)
            known = known || same_band(band, &noise->request->band[j]);
        if (!known && !add_band(noise, band))
            return false;
    }
    return true;
}

static bool add_weighted(const struct noise *noise)
{
    struct wanted wanted = {.key = "noise.a",
                            .band = AUDIO,
                            .keep = HUM_AND_SPURS,
                            .weight = lds_weighting_a,
                            .least_hz = WEIGHTED_LEAST * 20e3};
    if (!add_figure(noise, &wanted))
        return false;
    wanted.key = "noise.itu468";
    wanted.weight = lds_weighting_itu468;
    return add_figure(noise, &wanted);
}

/* Third octaves with base ten (IEC 61260-1): 10^(1/10) wide. */
static bool add_densities(const struct noise *noise)
{
    static const char *const key[] = {"noise.density.1k", "noise.density.10k", "noise.density.100k"};
    double half = pow(10.0, 0.05), middle = 1e3;
    for (int i = 0; i < 3; i++, middle *= 10.0) {
        struct wanted wanted = {.key = key[i], .band = {middle / half, middle * half}, .density = true};
        if (!add_figure(noise, &wanted))
            return false;
    }
    return true;
}

static bool add_bandwidth(const struct noise *noise)
{
    struct lds_figure *figure = lds_channel_add(noise->channel, "capture.bandwidth");
    double u_hz, edge = lds_noise_edge(noise->floor, &u_hz);
    double high = fmin(edge + LDS_COVERAGE * u_hz, noise->floor->density->end_hz);
    lds_figure_set(figure, edge, edge - LDS_COVERAGE * u_hz, high, u_hz, INFINITY);
    return true;
}

static bool absent_band(struct lds_channel *channel, const struct lds_band *band, const char *why)
{
    char key[64];
    lds_band_key("noise.band", band->low_hz, band->high_hz, key);
    if (!lds_channel_absent(channel, key) && !lds_channel_add_absent(channel, key, "%s", why))
        return false;
    lds_band_key("noise.total", band->low_hz, band->high_hz, key);
    return lds_channel_absent(channel, key) || lds_channel_add_absent(channel, key, "%s", why);
}

bool lds_noise_absent(struct lds_channel *channel, const struct lds_noise_request *request, const char *why)
{
    bool ok = true;
    for (size_t i = 0; ok && i < LDS_NOISE_BANDS; i++)
        ok = absent_band(channel, &lds_noise_bands[i], why);
    for (size_t i = 0; ok && i < request->bands; i++)
        ok = absent_band(channel, &request->band[i], why);
    return ok &&
           lds_channel_all_absent(channel, why, "capture.bandwidth", "noise.a", "noise.itu468", "noise.density.1k",
                                  "noise.density.10k", "noise.density.100k", "noise.corner", "noise.slope");
}

bool lds_noise_measure(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale,
                       const struct lds_noise_request *request)
{
    struct noise noise = {.channel = channel, .floor = floor, .scale = scale, .request = request};
    return add_bandwidth(&noise) && add_bands(&noise) && add_weighted(&noise) && add_densities(&noise) &&
           lds_noise_shape(channel, floor, scale) && lds_noise_curve(channel, floor, scale);
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    const struct lds_noise_request request = {.band = findings->options->band, .bands = findings->options->bands};
    return findings->unsteady[0] ? lds_noise_absent(channel, &request, findings->unsteady)
                                 : lds_noise_measure(channel, &findings->floor, &findings->noise_scale, &request);
}

const struct lds_analyser lds_analyse_noise = {.figures = figures};
