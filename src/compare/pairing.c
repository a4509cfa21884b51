/* Which figures can be compared, and why others cannot. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/view.h"

static const double LOAD_SAME = 0.01;      /* relative */
static const double FREQUENCY_SAME = 0.01; /* relative */
static const double LEVEL_SAME_DB = 0.5;
static const double BAND_SAME = 1e-3; /* relative */
static const double BENCH_SAME = 1e-9;

static const char *const side_names[2] = {"before", "after"};

static bool close_to(double a, double b, double relative)
{
    return fabs(a - b) <= relative * fmax(fabs(a), fabs(b));
}

struct question {
    const struct lds_view *view;
    const struct lds_chosen *chosen;
    const char *key;
    const struct lds_key *row;
    char *reason;
    const char *const *name; /* of the two that are compared */
};

#define say(q, ...) (snprintf((q)->reason, 256, __VA_ARGS__), true)

/* Why figures of two captures are not comparable by what was played; false if they are. */
static bool played_differs(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    struct lds_played before = lds_seen_played(b), after = lds_seen_played(a);
    bool one = before.own == LDS_SIGNAL_SINE || after.own == LDS_SIGNAL_SINE;
    bool idle = before.own == LDS_SIGNAL_SILENCE || after.own == LDS_SIGNAL_SILENCE;
    if (before.own != after.own && one && idle) {
        bool first = before.own == LDS_SIGNAL_SINE;
        return say(q, "%s carries a tone, %s is idle", q->name[!first], q->name[first]);
    }
    if (before.own != after.own)
        return say(q, "what was played: %s %s, %s %s", lds_signal_name(before.own), q->name[0],
                   lds_signal_name(after.own), q->name[1]);
    return before.all != after.all &&
           say(q, "what was played in another channel: %s %s, %s %s", lds_signal_name(before.all), q->name[0],
               lds_signal_name(after.all), q->name[1]);
}

/* The key is missing on a side, or was measured under other conditions there. */
static bool missing(const struct question *q)
{
    if (lds_chosen_both(q->chosen))
        return false;
    const struct lds_seen *with[2] = {NULL, NULL};
    const char *absent = NULL;
    for (int i = 0; i < q->view->all; i++) {
        const struct lds_seen *seen = &q->view->seen[i];
        if (lds_seen_figure(seen, q->key)) {
            with[seen->side] = with[seen->side] ? with[seen->side] : seen;
            continue;
        }
        for (size_t a = 0; a < seen->absents && !absent; a++)
            if (strcmp(seen->absent[a].key, q->key) == 0 || (q->row->directed && seen->absent[a].name.row == q->row &&
                                                             !seen->absent[a].name.channels[0])) /* both ways */
                absent = seen->absent[a].reason;
    }
    int lacks = with[LDS_BEFORE] ? LDS_AFTER : LDS_BEFORE;
    if (with[0] && with[1] && played_differs(q, with[0], with[1]))
        return true;
    if (absent)
        return say(q, "absent %s: %.200s", q->name[lacks], absent);
    return say(q, "not among the figures %s", q->name[lacks]);
}

static bool load_differs(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    double before = lds_seen_bench(b)->load_ohm, after = lds_seen_bench(a)->load_ohm;
    if (isnan(before) || isnan(after) || close_to(before, after, LOAD_SAME))
        return false;
    return say(q, "the load: %.4g ohm %s, %.4g ohm %s", before, q->name[0], after, q->name[1]);
}

static bool unit_differs(const struct question *q, const struct lds_figure *b, const struct lds_figure *a)
{
    if (strcmp(b->unit, a->unit) == 0)
        return false;
    bool before = strcmp(b->unit, "dBFS") != 0;
    return say(q, "calibrated %s and not %s: give both the same bench", q->name[!before], q->name[before]);
}

static bool band_differs(const struct question *q, const struct lds_figure *b, const struct lds_figure *a)
{
    const double *before = b->band_hz, *after = a->band_hz;
    if (isnan(before[0]) && isnan(after[0]))
        return false;
    if (close_to(before[0], after[0], BAND_SAME) && close_to(before[1], after[1], BAND_SAME))
        return false;
    return say(q, "it covers %.5g to %.5g Hz %s, %.5g to %.5g Hz %s", before[0], before[1], q->name[0], after[0],
               after[1], q->name[1]);
}

/* The number of mains orders up to 2 kHz varies with the mains frequency: one more or less does not make another
 * figure. */
static bool orders_differ(const struct question *q, const struct lds_figure *b, const struct lds_figure *a)
{
    if (b->orders[0] == a->orders[0] && abs(b->orders[1] - a->orders[1]) <= q->row->spare_orders)
        return false;
    return say(q, "it covers orders %d to %d %s, %d to %d %s", b->orders[0], b->orders[1], q->name[0], a->orders[0],
               a->orders[1], q->name[1]);
}

/* A figure of the tone, of channel `from` if that is not 0; *in_db: its value in dB re 1 V or full scale, *calibrated:
 * which of them. */
static double tone(const struct lds_seen *seen, int from, enum lds_figure_id id, double *in_db, bool *calibrated)
{
    for (size_t c = 0; c < seen->capture->channels; c++) {
        const struct lds_channel *channel = &seen->capture->channel[c];
        const struct lds_figure *figure = lds_channel_find(channel, id);
        if ((seen->channel && channel != seen->channel) || (from > 0 && channel->channel != from) || !figure)
            continue;
        *calibrated = strcmp(figure->unit, "dBFS") != 0;
        *in_db = *calibrated ? 20.0 * log10(figure->value) : figure->value;
        return figure->value;
    }
    *in_db = NAN;
    return NAN;
}

/* What two tones make of each other depends on the level of either. */
static bool two_levels_differ(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    static const char *const which[] = {"f1", "f2"};
    const struct lds_series *before = lds_seen_series(b, lds_series_kind_of(LDS_SERIES_PRODUCTS)),
                            *after = lds_seen_series(a, lds_series_kind_of(LDS_SERIES_PRODUCTS));
    for (int t = 0; t < 2; t++) {
        size_t row[2] = {lds_series_row_named(before, which[t]), lds_series_row_named(after, which[t])};
        if (row[0] == before->rows || row[1] == after->rows)
            continue;
        double apart_db = 20.0 * log10(lds_series_value(after, row[1], LDS_LINE_LEVEL) /
                                       lds_series_value(before, row[0], LDS_LINE_LEVEL));
        if (fabs(apart_db) > LEVEL_SAME_DB)
            return say(q, "the %s tone is %.2g dB higher %s than %s: set it to the same level", t ? "higher" : "lower",
                       fabs(apart_db), q->name[apart_db > 0.0], q->name[apart_db <= 0.0]);
    }
    return false;
}

/* Figures of the tone need the same tone; a level only the same frequency, because its change is what is asked for. */
static bool tone_differs(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    double unused, before_db, after_db;
    int from = q->row->directed ? lds_key_read(q->key).channels[0] : 0;
    bool volts[2] = {false, false};
    bool of_tone = q->row->tone == LDS_SAME_TONE, of_level = q->row->tone == LDS_SAME_FREQUENCY;
    double before = tone(b, from, LDS_FIGURE_TONE_FREQUENCY, &unused, volts),
           after = tone(a, from, LDS_FIGURE_TONE_FREQUENCY, &unused, volts);
    if ((of_tone || of_level) && !isnan(before) && !isnan(after) && !close_to(before, after, FREQUENCY_SAME) &&
        q->row->id != LDS_FIGURE_TONE_FREQUENCY)
        return say(q, "the tone: %.6g Hz %s, %.6g Hz %s", before, q->name[0], after, q->name[1]);
    double second[2] = {b->capture->signal.frequency_hz[1], a->capture->signal.frequency_hz[1]};
    if ((of_tone || of_level) && lds_seen_played(b).own == LDS_SIGNAL_TWO_TONE && !isnan(second[0]) &&
        !isnan(second[1]) && !close_to(second[0], second[1], FREQUENCY_SAME))
        return say(q, "the second tone: %.6g Hz %s, %.6g Hz %s", second[0], q->name[0], second[1], q->name[1]);
    if (of_tone && two_levels_differ(q, b, a))
        return true;
    tone(b, from, LDS_FIGURE_TONE_LEVEL, &before_db, &volts[0]);
    tone(a, from, LDS_FIGURE_TONE_LEVEL, &after_db, &volts[1]);
    if (of_tone && !isnan(before_db) && !isnan(after_db) && volts[0] != volts[1])
        return say(q,
                   "calibrated %s and not %s, so that the tone's levels cannot be compared: give both "
                   "the same bench",
                   q->name[!volts[0]], q->name[volts[0]]);
    if (of_tone && fabs(after_db - before_db) > LEVEL_SAME_DB)
        return say(q, "the tone is %.2g dB higher %s than %s: set it to the same level", fabs(after_db - before_db),
                   q->name[after_db > before_db], q->name[after_db <= before_db]);
    return false;
}

/* A whole-band level of an idle output includes all noise up to half the rate. */
static bool rate_differs(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    if (!q->row->to_half_rate || lds_seen_has_tone(b) || close_to(b->capture->rate_hz, a->capture->rate_hz, 1e-6))
        return false;
    return say(q, "it holds all noise up to half the rate: %.6g Hz %s, %.6g Hz %s", b->capture->rate_hz, q->name[0],
               a->capture->rate_hz, q->name[1]);
}

/* The output settles sooner within a wider band. */
static bool settling_differs(const struct question *q, const struct lds_seen *b, const struct lds_seen *a)
{
    double before = b->capture->settle_band_v, after = a->capture->settle_band_v;
    if (q->row->id != LDS_FIGURE_SETTLE || isnan(before) || isnan(after) || close_to(before, after, BAND_SAME))
        return false;
    return say(q, "the settling band: +-%.4g mV %s, +-%.4g mV %s", 1e3 * before, q->name[0], 1e3 * after, q->name[1]);
}

static bool is_faulty(const struct question *q)
{
    static const struct {
        enum lds_flag flag;
        const char *what;
    } fault[] = {{LDS_FLAG_CLIPPED, "is clipped"}, {LDS_FLAG_GAP, "has gaps"}};
    for (int i = 0; i < q->chosen->all; i++)
        for (size_t f = 0; f < sizeof fault / sizeof fault[0]; f++)
            if (q->chosen->figure[i]->flags & fault[f].flag)
                return say(q, "the capture %s %s: record it again", q->name[q->chosen->seen[i]->side], fault[f].what);
    return false;
}

static bool bandwidth_differs(const struct question *q, const struct lds_figure *b, const struct lds_figure *a)
{
    if ((b->flags & LDS_FLAG_BANDWIDTH) == (a->flags & LDS_FLAG_BANDWIDTH))
        return false;
    return say(q, "the capture's own bandwidth ends inside the band %s only",
               q->name[a->flags & LDS_FLAG_BANDWIDTH ? LDS_AFTER : LDS_BEFORE]);
}

static bool below_on_both(const struct question *q)
{
    double most[2] = {-INFINITY, -INFINITY};
    for (int i = 0; i < q->chosen->all; i++) {
        double *side = &most[q->chosen->seen[i]->side];
        if (!isnan(q->chosen->figure[i]->value))
            return false;
        *side = fmax(*side, q->chosen->figure[i]->high);
    }
    const char *unit = q->chosen->figure[0]->unit;
    bool volts = strcmp(unit, "V") == 0;
    double times = volts ? 1e6 : 1.0;
    return say(q, "below the floor on both sides: under %.3g before and %.3g %s after", times * most[0],
               times * most[1], volts ? "µV" : unit);
}

bool lds_is_of_moving(const struct lds_seen *seen, const struct lds_key *row, char reason[256])
{
    const enum lds_signal_kind kind = lds_seen_played(seen).own;
    if (row->holds != LDS_HOLDS_ALL || kind == LDS_SIGNAL_NONE || lds_signal_is_steady(kind))
        return false;
    snprintf(reason, 256, "%s: its level changes all the time", lds_signal_phrase(kind));
    return true;
}

static bool differ(const struct question *q, const struct lds_seen *b, const struct lds_figure *fb,
                   const struct lds_seen *a, const struct lds_figure *fa)
{
    return load_differs(q, b, a) || unit_differs(q, fb, fa) || band_differs(q, fb, fa) || orders_differ(q, fb, fa) ||
           tone_differs(q, b, a) || rate_differs(q, b, a) || settling_differs(q, b, a) || bandwidth_differs(q, fb, fa);
}

bool lds_figures_differ(const struct lds_seen *const seen[2], const char *const name[2], const char *key,
                        const struct lds_key *row, char reason[256])
{
    const struct question q = {.key = key, .row = row, .reason = reason, .name = name};
    if (lds_is_of_moving(seen[0], row, reason) || played_differs(&q, seen[0], seen[1]))
        return true;
    return differ(&q, seen[0], lds_seen_figure(seen[0], key), seen[1], lds_seen_figure(seen[1], key));
}

bool lds_not_comparable(const struct lds_view *view, const struct lds_chosen *chosen, const char *key,
                        const struct lds_key *row, char reason[256])
{
    const struct question question = {view, chosen, key, row, reason, side_names}, *q = &question;
    if (missing(q))
        return true;
    for (int i = 0; i < chosen->all; i++)
        if (differ(q, chosen->seen[0], chosen->figure[0], chosen->seen[i], chosen->figure[i]))
            return true;
    return is_faulty(q) || below_on_both(q);
}

static bool same_number(double a, double b)
{
    return (isnan(a) && isnan(b)) || close_to(a, b, BENCH_SAME);
}

bool lds_bench_is_shared(const struct lds_chosen *chosen)
{
    const struct lds_bench *first = lds_seen_bench(chosen->seen[0]);
    for (int i = 0; i < chosen->all; i++) {
        const struct lds_bench *bench = lds_seen_bench(chosen->seen[i]);
        if (!same_number(first->full_scale_v, bench->full_scale_v) ||
            !same_number(first->attenuation, bench->attenuation) || !same_number(first->load_ohm, bench->load_ohm) ||
            !same_number(first->offset_v, bench->offset_v))
            return false;
    }
    return true;
}
