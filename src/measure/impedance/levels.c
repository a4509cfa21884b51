/* Source impedance from the levels of two measurements. */
#include <math.h>
#include <stdio.h>

#include "constants.h"
#include "fail.h"
#include "measure/impedance/result.h"
#include "scarce.h"

static const double SAME_FREQUENCY = 1e-3;
static const double MOST_APART_DB = 20.0; /* no two loads make an amplifier's level differ by more (common practice) */

double lds_impedance_repeat_db(const struct lds_impedance_options *options, const struct lds_bench *const bench[2])
{
    if (!isnan(options->repeat_db))
        return options->repeat_db;
    const double db = fmax(bench[0]->repeat_level_db, bench[1]->repeat_level_db); /* fmax ignores NAN */
    return isnan(db) ? LDS_REPEAT_LEVEL_DB : db;
}

/* Rms in the channel's linear unit, and its relative uncertainties. */
struct level {
    double value, u;
};

static struct level level_of(const struct lds_channel *channel)
{
    const struct lds_figure *figure = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
    if (channel->calibrated)
        return (struct level){figure->value, figure->u_a / figure->value};
    return (struct level){pow(10.0, figure->value / 20.0), figure->u_a * M_LN10 / 20.0};
}

/* If the level drifts within a capture, it is not known which of its levels to compare with the other capture: a
 * rectangular distribution over the drift. */
static double drift_u(const struct lds_channel *channel)
{
    const struct lds_figure *drift = lds_channel_find(channel, LDS_FIGURE_TONE_DRIFT);
    return drift ? fabs(drift->value) * M_LN10 / 20.0 / sqrt(12.0) : 0.0;
}

static const char *refused(const struct lds_channel *channel, char *why, size_t size)
{
    const struct lds_figure *level = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
    const char *reason = lds_tone_refused(channel);
    if (reason)
        return reason;
    if (!level) {
        const char *absent = lds_channel_absent(channel, lds_key_row(LDS_FIGURE_TONE_LEVEL)->stem);
        snprintf(why, size, "it has no steady tone%s%s; one sine, played all the time, expected", absent ? ": " : "",
                 absent ? absent : "");
        return why;
    }
    if (level->flags & LDS_FLAG_DRIFTING)
        return "its tone is not there all the time, or moves; a steady one expected; state what was played with "
               "--signal";
    return NULL;
}

/* Why two channels cannot be combined; false: they can. */
static bool pair_refused(const struct lds_channel *a, const struct lds_channel *b, char *why, size_t size)
{
    const double hz[2] = {lds_channel_find(a, LDS_FIGURE_TONE_FREQUENCY)->value,
                          lds_channel_find(b, LDS_FIGURE_TONE_FREQUENCY)->value};
    if (a->calibrated != b->calibrated) {
        snprintf(why, size, "one capture is calibrated and the other is not; the same bench for both expected");
        return true;
    }
    if (fabs(hz[0] / hz[1] - 1.0) > SAME_FREQUENCY) {
        snprintf(why, size, "the tone has %.6g Hz with the first load and %.6g Hz with the second; one tone expected",
                 hz[0], hz[1]);
        return true;
    }
    const double db = 20.0 * log10(level_of(a).value / level_of(b).value);
    if (fabs(db) > MOST_APART_DB) {
        snprintf(
            why, size,
            "the level is %.3g dB %s with the first load than with the second, which no source impedance explains; "
            "the same drive and the same range for both expected",
            fabs(db), db > 0.0 ? "higher" : "lower");
        return true;
    }
    return false;
}

/* What the figures of a pair of channels need. */
struct work {
    const struct lds_impedance_options *options;
    const struct lds_bench *bench[2]; /* of the captures */
    struct lds_load load[2];
    size_t made;
    int which;
    char why[320]; /* of the first channel without a figure */
};

static bool add_absent(struct work *w, struct lds_channel *channel, int which, const char *why)
{
    if (!w->why[0]) {
        snprintf(w->why, sizeof w->why, "%s", why);
        w->which = which;
    }
    return lds_add_no_impedance(channel, why);
}

static unsigned gap_flag(const struct lds_channel *channel)
{
    return lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL)->flags & LDS_FLAG_GAP;
}

static bool measure(struct work *w, struct lds_channel *a, const struct lds_channel *b)
{
    char why[320];
    const char *reason = refused(a, why, sizeof why);
    if (reason)
        return add_absent(w, a, 0, reason);
    reason = refused(b, why, sizeof why);
    if (reason)
        return add_absent(w, a, 1, reason);
    if (pair_refused(a, b, why, sizeof why))
        return add_absent(w, a, 1, why);
    const struct level level[2] = {level_of(a), level_of(b)};
    const double repeat = M_SQRT2 * lds_impedance_repeat_db(w->options, w->bench) * M_LN10 / 20.0;
    const double data = hypot(level[0].u, level[1].u), drift = hypot(drift_u(a), drift_u(b));
    const double hum = hypot(lds_tone_hum_u(a), lds_tone_hum_u(b));
    const struct lds_load_step step = {.log_ratio = log(level[0].value / level[1].value),
                                       .u = {hypot(hypot(data, drift), hypot(hum, repeat)), NAN},
                                       .dof = INFINITY};
    struct lds_source_impedance impedance;
    if (!lds_two_loads(w->load, &step, &impedance))
        return add_absent(w, a, 1, LDS_NO_SUCH_SOURCE);
    const double u_ratio = lds_benches_u(lds_bench_of(w->bench[0], a->channel), lds_bench_of(w->bench[1], b->channel));
    const unsigned flags = lds_tone_flags(a) | lds_tone_flags(b) | gap_flag(a) | gap_flag(b);
    w->made++;
    return lds_add_impedance(a, &impedance, impedance.slope * u_ratio, w->options->damping_ohm, true,
                             flags | LDS_FLAG_PHASE_NOT_KNOWN);
}

static bool measure_all(struct work *w, struct lds_measurement measurement[2])
{
    bool memory = true;
    for (size_t c = 0; memory && c < measurement[0].channels; c++) {
        struct lds_channel *a = &measurement[0].channel[c];
        const struct lds_channel *b = lds_channel_of(&measurement[1], a->channel);
        memory = b ? measure(w, a, b) : add_absent(w, a, 1, "this channel is not in both captures");
    }
    return memory && !lds_scarce_take();
}

enum lds_status lds_impedance_levels(struct lds_measurement measurement[2], const struct lds_impedance_options *options,
                                     int *which, struct lds_error *error)
{
    struct work w = {.options = options, .bench = {&measurement[0].bench, &measurement[1].bench}};
    *which = 0;
    enum lds_status status = lds_loads_take(options, w.bench, w.load, error);
    if (status)
        return status;
    for (int i = 0; i < 2; i++)
        lds_keep_tone(&measurement[i], w.load[i].ohm, true);
    if (!measure_all(&w, measurement))
        return lds_fail_memory(error, "the record");
    /* Without its level, which would look like another level of the same output. */
    lds_keep_tone(&measurement[1], w.load[1].ohm, false);
    *which = w.which;
    return w.made > 0 ? LDS_OK : lds_fail(error, LDS_BAD_INPUT, "%s", w.why);
}
