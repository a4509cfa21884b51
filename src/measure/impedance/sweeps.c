/* Source impedance over frequency, from two captures of one sweep. */
#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "fail.h"
#include "measure/impedance/result.h"
#include "measure/known/measure_known.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"
#include "scarce.h"

static const double SAME_CLOCK_PPM = 1.0; /* clocks this close are one clock */
static const double WHOLE = 0.25;         /* frames: the delay is off a whole number by this at most */
/* Relative, of the method; most of its errors are the same in both captures and cancel. */
static const double OWN_U = 5e-6;
static const double AT_HZ = 1000.0;

struct side {
    struct lds_capture *capture;
    struct lds_asked asked;
    struct lds_known_transfer of[LDS_CHANNELS_MAX];
};

struct work {
    const struct lds_impedance_options *options;
    struct lds_load load[2];
    struct side side[2];
    bool together; /* the phases count */
    double repeat; /* relative standard uncertainty of the ratio */
    size_t made;
    char why[320];
};

static void drop_transfers(struct side *side)
{
    for (size_t c = 0; c < LDS_CHANNELS_MAX; c++)
        lds_transfer_free(&side->of[c].transfer);
}

/* The channel that shows the sweep best stands for the capture, as one clock records all channels. */
static const struct lds_known *best_of(const struct side *side)
{
    const struct lds_known *best = &side->of[0].known;
    for (size_t c = 1; c < side->asked.channels; c++)
        best = side->of[c].known.match > best->match ? &side->of[c].known : best;
    return best;
}

/* Where a player and a recorder share a clock, the sweep begins a whole number of samples later in one capture than in
 * the other, except for the delay of the source impedance itself, which is well below a sample. Then the sweeps are
 * placed a whole number of samples apart. */
static enum lds_status place_alike(struct work *w, struct lds_error *error)
{
    const struct lds_known *a = best_of(&w->side[0]), *b = best_of(&w->side[1]);
    const double later = b->begin - a->begin, whole = rint(later);
    w->together =
        fabs(a->clock_ppm) < SAME_CLOCK_PPM && fabs(b->clock_ppm) < SAME_CLOCK_PPM && fabs(later - whole) < WHOLE;
    if (!w->together)
        return LDS_OK;
    const struct lds_known place[2] = {{.begin = a->begin}, {.begin = a->begin + whole}};
    enum lds_status status = LDS_OK;
    for (int i = 0; !status && i < 2; i++) {
        drop_transfers(&w->side[i]);
        status = lds_known_transfers(w->side[i].capture, &w->side[i].asked, &place[i], w->side[i].of, error);
    }
    return status;
}

static double complex gain_at(const struct lds_transfer_point *point, const struct lds_bench *bench)
{
    const double volts = lds_bench_volts_per_unit(bench);
    return point->gain / lds_bench_gain(bench, point->hz) * (isnan(volts) ? 1.0 : volts);
}

static bool impedance_at(const struct work *w, const struct lds_transfer_point point[2],
                         const struct lds_bench *const bench[2], struct lds_source_impedance *impedance)
{
    const double data = hypot(point[0].u / cabs(point[0].gain), point[1].u / cabs(point[1].gain));
    const double turn = hypot(data, OWN_U);
    const struct lds_load_step step = {.log_ratio = clog(gain_at(&point[0], bench[0]) / gain_at(&point[1], bench[1])),
                                       .u = {hypot(turn, w->repeat), w->together ? turn : (double)NAN},
                                       .dof = fmin(point[0].dof, point[1].dof)};
    return lds_two_loads(w->load, &step, impedance);
}

/* A series has no values below 0: where the impedance is not above 0, the row has only an upper limit. */
static bool add_row(struct lds_series *series, double hz, const struct lds_source_impedance *z, double u_bench)
{
    const double u_b = lds_coverage(INFINITY) * hypot(z->u_loads, u_bench),
                 low = z->value - hypot(z->value - z->low, u_b), high = z->value + hypot(z->high - z->value, u_b);
    const bool above = z->value > 0.0;
    const double row[] = {hz, above ? z->value : (double)NAN};
    if (!lds_series_add_row(series, row))
        return false;
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, above ? fmax(0.0, low) : (double)NAN, fmax(0.0, high));
    return true;
}

static bool add_absent(struct work *w, struct lds_channel *channel, const char *why)
{
    if (!w->why[0])
        snprintf(w->why, sizeof w->why, "%s", why);
    return lds_add_no_impedance(channel, why) && lds_channel_add_absent(channel, "impedance", "%s", why);
}

static bool add_series(struct work *w, struct lds_channel *channel, const struct lds_transfer *const transfer[2],
                       const struct lds_bench *const bench[2])
{
    struct lds_series *series = lds_channel_add_series(channel, "impedance");
    const unsigned flags = w->together ? 0u : (unsigned)LDS_FLAG_PHASE_NOT_KNOWN;
    const double u_ratio = lds_benches_u(bench[0], bench[1]);
    bool memory = series, figures = false;
    if (memory)
        series->flags = flags;
    for (size_t i = 0; memory && i < transfer[0]->count && i < transfer[1]->count; i++) {
        const struct lds_transfer_point point[2] = {transfer[0]->point[i], transfer[1]->point[i]};
        struct lds_source_impedance z;
        if (!impedance_at(w, point, bench, &z))
            continue;
        memory = add_row(series, point[0].hz, &z, z.slope * u_ratio);
        if (memory && fabs(point[0].hz / AT_HZ - 1.0) < 1e-9) {
            memory = lds_add_impedance(channel, &z, z.slope * u_ratio, w->options->damping_ohm, true, flags);
            figures = true;
        }
    }
    if (memory && !figures)
        memory = lds_add_no_impedance(channel, "the sweep does not show it at 1 kHz");
    w->made++;
    return memory;
}

static const struct lds_transfer *transfer_of(const struct side *side, int channel, const struct lds_bench **bench)
{
    for (size_t c = 0; c < side->asked.channels; c++)
        if (side->asked.channel[c] + 1 == channel && side->of[c].transfer.count > 0) {
            *bench = &side->asked.bench[c];
            return &side->of[c].transfer;
        }
    return NULL;
}

static bool measure(struct work *w, struct lds_channel *channel, const struct lds_measurement *second)
{
    const struct lds_bench *bench[2] = {NULL, NULL};
    const struct lds_transfer *const transfer[2] = {transfer_of(&w->side[0], channel->channel, &bench[0]),
                                                    transfer_of(&w->side[1], channel->channel, &bench[1])};
    const struct lds_channel *other = lds_channel_of(second, channel->channel);
    const char *why = lds_tone_refused(channel);
    why = why || !other ? why : lds_tone_refused(other);
    if (why)
        return add_absent(w, channel, why);
    if (!transfer[0] || !transfer[1])
        return add_absent(w, channel, "this channel does not hold the whole sweep in both captures");
    if (fabs(transfer[0]->point[0].hz / transfer[1]->point[0].hz - 1.0) > 1e-9)
        return add_absent(w, channel, "the captures reach different frequencies; the same rate and bench expected");
    return add_series(w, channel, transfer, bench);
}

static enum lds_status measure_all(struct work *w, struct lds_measurement *measurement, struct lds_error *error)
{
    bool memory = true;
    for (size_t c = 0; memory && c < measurement[0].channels; c++)
        memory = measure(w, &measurement[0].channel[c], &measurement[1]);
    if (lds_scarce_take() || !memory)
        return lds_fail_memory(error, "the record");
    return w->made > 0 ? LDS_OK : lds_fail(error, LDS_BAD_INPUT, "%s", w->why);
}

enum lds_status lds_impedance_sweeps(struct lds_capture *const capture[2],
                                     const struct lds_measure_options *const measuring[2],
                                     const struct lds_impedance_options *options, struct lds_measurement measurement[2],
                                     int *which, struct lds_error *error)
{
    struct work *w = calloc(1, sizeof *w);
    const struct lds_bench *const bench[2] = {&measurement[0].bench, &measurement[1].bench};
    *which = 0;
    if (!w)
        return lds_fail_memory(error, "the impedance");
    w->options = options;
    w->repeat = M_SQRT2 * lds_impedance_repeat_db(options, bench) * M_LN10 / 20.0;
    enum lds_status status = lds_loads_take(options, bench, w->load, error);
    for (int i = 0; !status && i < 2; i++) {
        *which = i;
        w->side[i].capture = capture[i];
        status = lds_asked_check(lds_capture_info(capture[i]), measuring[i], &w->side[i].asked, error);
        if (!status)
            status = lds_known_transfers(capture[i], &w->side[i].asked, NULL, w->side[i].of, error);
    }
    if (!status)
        status = place_alike(w, error);
    for (int i = 0; !status && i < 2; i++)
        lds_keep_tone(&measurement[i], w->load[i].ohm, false);
    if (!status)
        status = measure_all(w, &measurement[0], error);
    drop_transfers(&w->side[0]);
    drop_transfers(&w->side[1]);
    free(w);
    return status;
}
