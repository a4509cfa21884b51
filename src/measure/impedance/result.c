#include "measure/impedance/result.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

static const char *const IMPEDANCE = "output.impedance", *const DAMPING = "output.damping";
static const double SAME_LOAD = 1e-6;

enum lds_status lds_loads_take(const struct lds_impedance_options *options, const struct lds_bench *const bench[2],
                               struct lds_load load[2], struct lds_error *error)
{
    for (int i = 0; i < 2; i++) {
        load[i] = options->load[i];
        if (isnan(load[i].ohm) && bench[i])
            load[i].ohm = bench[i]->load_ohm;
        for (int k = 0; k < 2; k++)
            if (bench[k] && isnan(load[i].percent) && bench[k]->load_percent > 0.0 &&
                fabs(load[i].ohm / bench[k]->load_ohm - 1.0) < SAME_LOAD)
                load[i].percent = bench[k]->load_percent;
    }
    const char *why = lds_two_loads_refused(load);
    return why ? lds_fail(error, LDS_BAD_USE, "%s", why) : LDS_OK;
}

const char *lds_tone_refused(const struct lds_channel *channel)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    if ((clipped && clipped->value > 0.0) || lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS))
        return "it is clipped; a tone below full scale and below clipping expected; play it softer";
    return NULL;
}

/* u_b of tone.drift comes from hum alone, and is sqrt(12) times what hum adds to the level's (measure/tone). */
double lds_tone_hum_u(const struct lds_channel *channel)
{
    const struct lds_figure *drift = lds_channel_find(channel, LDS_FIGURE_TONE_DRIFT);
    return drift && isfinite(drift->u_b) ? drift->u_b * M_LN10 / 20.0 / sqrt(12.0) : 0.0;
}

unsigned lds_tone_flags(const struct lds_channel *channel)
{
    const struct lds_figure *level = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
    return level ? level->flags & (LDS_FLAG_NEAR_LINE | LDS_FLAG_FEW_BITS | LDS_FLAG_IDENTICAL) : 0u;
}

double lds_benches_u(const struct lds_bench *a, const struct lds_bench *b)
{
    if (isnan(a->full_scale_v) || (a->full_scale_v == b->full_scale_v && a->attenuation == b->attenuation))
        return 0.0;
    return hypot(lds_bench_level_u(a), lds_bench_level_u(b));
}

const struct lds_channel *lds_channel_of(const struct lds_measurement *measurement, int channel)
{
    for (size_t c = 0; c < measurement->channels; c++)
        if (measurement->channel[c].channel == channel)
            return &measurement->channel[c];
    return NULL;
}

static bool is_kept(const struct lds_figure_name *name, bool level)
{
    if (lds_figure_is(name, LDS_FIGURE_TONE_FREQUENCY))
        return true;
    const bool recording = name->row->of == LDS_OF_RECORDING, trust = name->row->section == LDS_TRUST;
    return (trust && (recording || level)) || (level && lds_figure_is(name, LDS_FIGURE_TONE_LEVEL));
}

static size_t keep_absents(struct lds_channel *channel, bool level)
{
    size_t kept = 0;
    for (size_t i = 0; i < channel->absents; i++) {
        if (is_kept(&channel->absent[i].name, level)) {
            channel->absent[kept++] = channel->absent[i];
        } else {
            free(channel->absent[i].key);
            free(channel->absent[i].reason);
        }
    }
    return kept;
}

static void keep_of_channel(struct lds_channel *channel, bool level)
{
    size_t kept = 0;
    for (size_t i = 0; i < channel->figures; i++) {
        if (is_kept(&channel->figure[i].name, level)) {
            channel->figure[kept++] = channel->figure[i];
        } else {
            free(channel->figure[i].key);
            free(channel->figure[i].other);
        }
    }
    channel->figures = kept;
    channel->absents = keep_absents(channel, level);
    lds_series_free(channel->series, channel->series_count);
    channel->series = NULL;
    channel->series_count = 0;
}

static void drop_pairs(struct lds_measurement *measurement)
{
    struct lds_measurement rest = {.pairs = measurement->pairs, .pair = measurement->pair};
    lds_bench_init(&rest.bench);
    lds_measurement_free(&rest);
    measurement->pairs = 0;
    measurement->pair = NULL;
}

void lds_keep_tone(struct lds_measurement *measurement, double load_ohm, bool level)
{
    for (size_t c = 0; c < measurement->channels; c++)
        keep_of_channel(&measurement->channel[c], level);
    drop_pairs(measurement);
    const double ohm = isfinite(load_ohm) ? load_ohm : (double)NAN;
    measurement->bench.load_ohm = ohm;
    for (size_t i = 0; i < measurement->bench.channels; i++)
        measurement->bench.channel[i].bench.load_ohm = ohm;
}

static struct lds_figure *add(struct lds_channel *channel, const char *key, bool next_too, unsigned flags, bool *memory)
{
    static const int next[] = {1};
    struct lds_figure *figure = lds_channel_add(channel, key);
    figure->flags |= flags;
    *memory = *memory && (!next_too || lds_figure_over(figure, next, 1));
    return figure;
}

/* If the limits of the impedance include 0, the damping factor has no upper limit. */
static void set_damping(struct lds_figure *figure, const struct lds_figure *impedance, double ohm)
{
    const double slope = ohm / (impedance->value * impedance->value);
    lds_figure_set(figure, ohm / impedance->value, ohm / impedance->high,
                   impedance->low > 0.0 ? ohm / impedance->low : (double)NAN, slope * impedance->u_a, impedance->dof);
    figure->u_b = slope * impedance->u_b;
}

bool lds_add_impedance(struct lds_channel *channel, const struct lds_source_impedance *impedance, double u_bench,
                       double damping_ohm, bool next_too, unsigned flags)
{
    bool memory = true;
    struct lds_figure *figure = add(channel, IMPEDANCE, next_too, flags, &memory);
    lds_figure_set(figure, impedance->value, impedance->low, impedance->high, impedance->u, impedance->dof);
    lds_figure_add_bench(figure, hypot(impedance->u_loads, u_bench));
    const struct lds_figure made = *figure;
    if (!(made.value > 0.0))
        return memory &&
               lds_channel_add_absent(
                   channel, DAMPING,
                   "the level is not lower with the heavier load, so that the source impedance is not above 0; if "
                   "it should be, check the drive and the order of the loads");
    set_damping(add(channel, DAMPING, next_too, flags, &memory), &made, damping_ohm);
    return memory;
}

bool lds_add_no_impedance(struct lds_channel *channel, const char *why)
{
    return lds_channel_all_absent(channel, why, IMPEDANCE, DAMPING);
}
