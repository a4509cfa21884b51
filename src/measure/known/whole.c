#include "measure/known/whole.h"

#include <math.h>

enum { BLOCKS = 160, TURNING_BLOCKS = 4 };
static const double MOST_TURN = 0.9; /* radians from one block to the next */
static const double CYCLES = 8.0, LEAST_S = 0.004;
/* Relative to its level one block before: no filter falls by so much from one block to the next. */
static const double GONE_DB = -26.0;
static const double EXPECTED = 0.5; /* share of the level of a block that held the signal */
static const double QUIET_DB = -26.0;
static const double WINDOW_S = 0.004, HOLE_S = 0.008;

static double level_db(double complex phasor)
{
    return 20.0 * log10(cabs(phasor) + 1e-15);
}

static double time_of(const struct lds_known *known, double t_s, const struct lds_stretch *stretch)
{
    return (known->begin + t_s * lds_known_frames(known, stretch->rate_hz)) / stretch->rate_hz;
}

static void gone(struct lds_known *known, double t_s, const struct lds_stretch *stretch)
{
    if (isnan(known->breaks_s))
        known->breaks_s = time_of(known, t_s, stretch);
}

struct blocks {
    const struct lds_stretch *stretch;
    struct lds_known *known;
    double last_db, last_s; /* of the last block that held the sweep; NAN: none yet */
    double last_phase;
    int turning; /* blocks in a row whose phase turns fast: the sweep is at another time than it should be */
    bool missing;
};

static bool is_here(const struct blocks *b, const struct lds_sweep_block *block)
{
    return block->share > EXPECTED || (!isnan(b->last_db) && level_db(block->phasor) > b->last_db + GONE_DB);
}

/* Lost samples shift everything after them. The place of the sweep follows from the part above 1 kHz, so if samples
 * were lost before that part, the phases of the blocks before the loss turn. */
static void watch_phase(struct blocks *b, const struct lds_sweep_block *block)
{
    const double phase = carg(block->phasor), step = remainder(phase - b->last_phase, 2.0 * M_PI);
    const bool turns = block->share > EXPECTED && fabs(step) > MOST_TURN;
    if (!turns && b->turning >= TURNING_BLOCKS && isnan(b->known->breaks_s)) {
        gone(b->known, b->last_s, b->stretch);
        b->known->resumes_s = b->known->breaks_s;
    }
    b->turning = turns ? b->turning + 1 : 0;
    b->last_phase = phase;
}

static void take(struct blocks *b, const struct lds_sweep_block *block, double t_s)
{
    if (is_here(b, block)) {
        if (b->missing && isnan(b->known->resumes_s))
            b->known->resumes_s = time_of(b->known, t_s, b->stretch);
        if (!isnan(b->last_db))
            watch_phase(b, block);
        b->last_db = block->share > 0.1 || isnan(b->last_db) ? level_db(block->phasor) : b->last_db;
        b->last_s = t_s;
        b->missing = false;
    } else if (!isnan(b->last_db)) {
        gone(b->known, 0.5 * (b->last_s + t_s), b->stretch);
        b->missing = true;
    }
}

/* Finds a short hole: a window far below those before and after it, where cycles are short enough to see one. */
static void find_hole(const struct lds_stretch *stretch, struct lds_known *known)
{
    enum { NEAR = 6 };
    const struct lds_signal_spec *spec = known->spec;
    const double whole_s = spec->seconds * spec->repeats, second = lds_known_frames(known, stretch->rate_hz);
    double level[2 * NEAR + 1] = {0.0}, at_s[2 * NEAR + 1] = {0.0};
    size_t filled = 0;
    for (double t_s = 0.0; t_s < whole_s;) {
        const double hz = lds_sweep_hz(spec, t_s), window_s = fmax(0.002, 1.5 / hz), in = fmod(t_s, spec->seconds);
        const double from = known->begin - stretch->first + t_s * second;
        const bool counts = hz > 100.0 && hz < 0.4 * stretch->rate_hz && spec->seconds - in > 0.02 + window_s &&
                            from >= 0.0 && from + window_s * second < (double)stretch->n;
        double power = 0.0;
        const size_t begin = counts ? (size_t)ceil(from) : 0, end = counts ? (size_t)ceil(from + window_s * second) : 0;
        for (size_t i = begin; i < end; i++)
            power += stretch->x[i] * stretch->x[i];
        power /= window_s * second;
        for (size_t k = 0; k < 2 * NEAR; k++) {
            level[k] = level[k + 1];
            at_s[k] = at_s[k + 1];
        }
        level[2 * NEAR] = power;
        at_s[2 * NEAR] = t_s;
        filled = counts ? filled + 1 : 0;
        double before = 0.0, after = 0.0;
        for (size_t k = 0; k < NEAR; k++) {
            before = fmax(before, level[k]);
            after = fmax(after, level[NEAR + 1 + k]);
        }
        if (filled > 2 * NEAR && level[NEAR] < pow(10.0, QUIET_DB / 10.0) * fmin(before, after)) {
            gone(known, at_s[NEAR], stretch);
            known->resumes_s = isnan(known->resumes_s) ? known->breaks_s + window_s : known->resumes_s;
            return;
        }
        t_s += window_s;
    }
}

/* Block by block: a block in which the sweep is far weaker than in the one before, and which it does not dominate, is
 * missing, unless the recorder could not hold its frequency. */
void lds_whole_sweep(const struct lds_stretch *stretch, struct lds_known *known)
{
    const struct lds_signal_spec *spec = known->spec;
    const double whole_s = spec->seconds * spec->repeats, skip_s = fmax(2.0 * spec->fade_in_s, 0.002);
    struct blocks b = {.stretch = stretch, .known = known, .last_db = NAN};
    known->breaks_s = known->resumes_s = NAN;
    for (int i = 0; i < BLOCKS * spec->repeats; i++) {
        const double t_s = ((double)i + 0.5) / (BLOCKS * spec->repeats) * whole_s, in = fmod(t_s, spec->seconds);
        const double hz = lds_sweep_hz(spec, t_s), half_s = 0.5 * CYCLES / hz;
        if (in < skip_s + half_s || spec->seconds - in < 0.01 + half_s || hz > 0.42 * stretch->rate_hz)
            continue;
        const struct lds_sweep_block block =
            lds_sweep_block_at(stretch, known, t_s, CYCLES, LEAST_S * stretch->rate_hz);
        take(&b, &block, t_s);
    }
    if (isnan(known->breaks_s))
        find_hole(stretch, known);
}

/* Noise is steady: a window far below the level of the whole is a hole. */
void lds_whole_noise(const struct lds_stretch *stretch, struct lds_known *known)
{
    const double second = lds_known_frames(known, stretch->rate_hz), start = known->begin - stretch->first;
    const double end = start + (double)lds_signal_proper(known->spec) / known->spec->rate_hz * second;
    const size_t window = (size_t)(WINDOW_S * stretch->rate_hz);
    const double edge = fmax(known->spec->fade_in_s, known->spec->fade_out_s) * stretch->rate_hz + (double)window;
    double power = 0.0, quiet_since = NAN;
    known->breaks_s = known->resumes_s = NAN;
    const size_t from = (size_t)fmax(start + edge, 0.0), to = (size_t)fmin(end - edge, (double)stretch->n);
    for (size_t i = from; i < to; i++)
        power += stretch->x[i] * stretch->x[i] / (double)(to - from);
    for (size_t i = from; i + window <= to; i += window) {
        double here = 0.0;
        for (size_t k = 0; k < window; k++)
            here += stretch->x[i + k] * stretch->x[i + k] / (double)window;
        const bool quiet = here < power * pow(10.0, QUIET_DB / 10.0);
        const double at_s = (stretch->first + (double)i) / stretch->rate_hz;
        quiet_since = !quiet ? (double)NAN : isnan(quiet_since) ? at_s : quiet_since;
        if (quiet && isnan(known->breaks_s) && at_s + WINDOW_S - quiet_since >= HOLE_S)
            known->breaks_s = quiet_since;
        if (!quiet && !isnan(known->breaks_s) && isnan(known->resumes_s))
            known->resumes_s = at_s;
    }
    if (end - edge > (double)stretch->n && isnan(known->breaks_s))
        known->breaks_s = (stretch->first + (double)stretch->n) / stretch->rate_hz;
}
