/* Both channels' frames give the transfer from the driven channel to the other at the tone, sum(Y conj X)/sum|X|^2 (the
 * estimate H1 of Bendat and Piersol, "Random Data", from memory). The average over frames is coherent whatever the
 * tone's phase does, so noise and other lines average out as well as for a harmonic. */
#include "measure/pair/crosstalk.h"

#include <math.h>
#include <stdio.h>

#include "measure/pair/kept_frames.h"
#include "measure/pair/pair_scale.h"
#include "measure/spurs/known.h"
#include "measure/statistics/noncentral.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

static const double SAME_TONE = 1e-3; /* relative */
static const double DETECTION = 1e-3; /* probability that noise alone passes for crosstalk */
static const double SPAN_BINS = 40.0; /* around the tone, for the noise density */
enum { FEWEST_FRAMES = 2 };

/* One direction: from the driven channel to the other one. */
struct way {
    const struct lds_findings *from, *to;
    int channel[2];
    bool from_first; /* the driven channel is the first of the pair */
};

bool lds_share_tone(const struct lds_findings *a, const struct lds_findings *b)
{
    return a->has_tone && b->has_tone && fabs(a->track.frequency_hz / b->track.frequency_hz - 1.0) <= SAME_TONE;
}

static bool why_not(const struct way *way, const struct lds_coherence *coherence, char why[192])
{
    const struct lds_findings *from = way->from, *to = way->to;
    int order = from->has_tone ? lds_known_own_order(to, from->track.frequency_hz) : 0;
    if (!from->has_tone && from->signal.kind != LDS_SIGNAL_SILENCE)
        snprintf(why, 192, "channel %d carries no steady single tone", way->channel[0]);
    else if (!from->has_tone)
        snprintf(why, 192, "channel %d is not driven", way->channel[0]);
    else if (lds_share_tone(from, to))
        snprintf(why, 192, "both channels are driven with the same tone");
    else if (to->unsteady[0])
        snprintf(why, 192, "%.191s", to->unsteady);
    else if (order == 1)
        snprintf(why, 192, "the tones of the channels are too close to be told apart: %.6g and %.6g Hz",
                 from->track.frequency_hz, to->track.frequency_hz);
    else if (order > 1)
        snprintf(why, 192, "the tone of channel %d falls on harmonic %d of that of channel %d", way->channel[0], order,
                 way->channel[1]);
    else if (!coherence)
        snprintf(why, 192, "crosstalk is measured for captures of at most 8 channels");
    else
        return false;
    return true;
}

/* Power of the mean over K frames of noise that is independent of the tone, relative to one frame: overlapping frames
 * share noise. */
static double left_of_noise(const struct lds_plan *plan, int level, int frames)
{
    const struct lds_plan_level *l = &plan->level[level];
    double square = 0.0, sum = 1.0;
    for (int i = 0; i < l->n; i++)
        square += l->window[i] * l->window[i];
    for (int m = 1, lag; m < frames && (lag = m * l->hop * lds_kept_stride(plan, level)) < l->n; m++) {
        double shared = 0.0;
        for (int i = 0; i + lag < l->n; i++)
            shared += l->window[i] * l->window[i + lag];
        sum += 2.0 * (1.0 - (double)m / frames) * shared / square;
    }
    return sum / frames;
}

/* Both are powers relative to that of the tone. */
struct transfer {
    double raw, noise;
    bool near_mains;
};

static bool measure(const struct way *way, const struct lds_coherence *coherence, struct transfer *transfer)
{
    const struct lds_density *density = &way->from->density;
    double f1 = way->from->track.frequency_hz, level_v = way->from->track.level;
    const struct lds_level *l = lds_density_level(density, f1);
    int level = (int)(l - density->level), bin = (int)lround(f1 / l->bin_hz), frames;
    transfer->raw = lds_coherence_transfer(coherence, level, bin, way->from_first, &frames);
    if (frames < FEWEST_FRAMES || !(l->power[bin] > 0.0))
        return false;
    double noise = lds_floor_density(&way->to->floor, f1, SPAN_BINS * l->bin_hz, NULL);
    transfer->noise = noise / l->power[bin] * left_of_noise(coherence->plan, level, frames);
    struct lds_known_hum hum;
    transfer->near_mains = false;
    if (lds_known_hum_at(way->to, f1, &hum)) { /* its phase is unknown, so it counts as noise */
        double power = hum.power / (level_v * level_v);
        transfer->near_mains = hum.order <= LDS_MAINS_ORDERS || power > fmax(transfer->noise, 1e-4 * transfer->raw);
        transfer->noise += power;
    }
    return true;
}

static void set_figure(struct lds_figure *figure, const struct transfer *t, const struct lds_pair_scale *scale)
{
    double power = t->raw - t->noise, low = t->raw, high = t->raw;
    bool detected = t->raw > 0.0;
    if (t->noise > 0.0) {
        detected = lds_noncentral_chance(t->raw, t->noise, 1) < DETECTION;
        lds_noncentral_limits(t->raw, t->noise, 1, &low, &high);
    }
    figure->flags |= t->near_mains ? LDS_FLAG_NEAR_LINE : 0u;
    figure->high = lds_power_db(high) + scale->db;
    figure->u_b = 0.0;
    figure->dof = INFINITY;
    if (!detected || power <= 0.0) {
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
        return;
    }
    figure->value = lds_power_db(power) + scale->db;
    figure->low = low > 0.0 ? lds_power_db(low) + scale->db : (double)NAN;
    figure->u_a = 10.0 / M_LN10 * sqrt(2.0 * power * t->noise + t->noise * t->noise) / power;
}

static bool scale_of(const struct lds_pair *pair, const struct way *way, struct lds_pair_scale *scale)
{
    const struct lds_findings *first = way->from_first ? way->from : way->to,
                              *second = way->from_first ? way->to : way->from;
    const bool calibrated[] = {first->calibrated, second->calibrated};
    return lds_pair_scale(&first->options->bench, pair->channels, calibrated, first->info->in_volts,
                          way->from->track.frequency_hz, scale);
}

static bool add_way(struct lds_pair *pair, const struct way *way, const struct lds_coherence *coherence)
{
    char key[64], why[192];
    struct transfer transfer;
    snprintf(key, sizeof key, "crosstalk.%d-%d", way->channel[0], way->channel[1]);
    if (why_not(way, coherence, why))
        return lds_pair_add_absent(pair, key, "%s", why);
    if (!measure(way, coherence, &transfer))
        return lds_pair_add_absent(pair, key, "the capture is too short for an average at %.6g Hz",
                                   way->from->track.frequency_hz);
    struct lds_pair_scale scale;
    if (!scale_of(pair, way, &scale))
        return lds_pair_add_absent(pair, key, "%s", LDS_PAIR_UNLIKE);
    scale.db = way->from_first ? scale.db : -scale.db;
    struct lds_figure *figure = lds_pair_add(pair, key, true);
    set_figure(figure, &transfer, &scale);
    if (scale.u_db > 0.0)
        lds_figure_add_bench(figure, scale.u_db);
    return true;
}

bool lds_crosstalk_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                           const struct lds_coherence *coherence)
{
    if (lds_share_tone(a, b))
        return lds_pair_add_absent(pair, "crosstalk", "both channels are driven with the same tone");
    if (!a->has_tone && !b->has_tone)
        return lds_pair_add_absent(pair, "crosstalk", "no channel is driven");
    const struct way there = {a, b, {pair->channels[0], pair->channels[1]}, true};
    const struct way back = {b, a, {pair->channels[1], pair->channels[0]}, false};
    return add_way(pair, &there, coherence) && add_way(pair, &back, coherence);
}
