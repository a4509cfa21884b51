#include "measure/known/whole.h"

#include <math.h>

enum { BLOCKS = 160 };
static const double CYCLES = 8.0, LEAST_S = 0.004;
static const double GONE_DB = -26.0; /* of its level a block before: more than a filter takes away in one block */
static const double EXPECTED = 0.5;  /* share of the level of a block that held the signal */
static const double QUIET_DB = -26.0;
static const double WINDOW_S = 0.004, HOLE_S = 0.008;

static double level_db(double complex phasor)
{
    return 20.0 * log10(cabs(phasor) + 1e-15);
}

static void gone(struct lds_known *known, double t_s, const struct lds_stretch *stretch)
{
    if (isnan(known->breaks_s))
        known->breaks_s = (known->begin + t_s * lds_known_frames(known, stretch->rate_hz)) / stretch->rate_hz;
}

/* Block by block: a block in which the sweep is far weaker than in the one before, and which it does not dominate, is
 * missing, unless the recorder could not hold its frequency. */
void lds_whole_sweep(const struct lds_stretch *stretch, struct lds_known *known)
{
    const struct lds_signal_spec *spec = known->spec;
    const double whole_s = spec->seconds * spec->repeats, skip_s = fmax(2.0 * spec->fade_in_s, 0.002);
    double last_db = NAN, last_s = 0.0;
    bool missing = false;
    known->breaks_s = known->resumes_s = NAN;
    for (int i = 0; i < BLOCKS * spec->repeats; i++) {
        const double t_s = ((double)i + 0.5) / (BLOCKS * spec->repeats) * whole_s, in = fmod(t_s, spec->seconds);
        const double hz = lds_sweep_hz(spec, t_s);
        if (in < skip_s + 0.5 * CYCLES / hz || spec->seconds - in < 0.01 + 0.5 * CYCLES / hz ||
            hz > 0.42 * stretch->rate_hz)
            continue;
        const struct lds_sweep_block block =
            lds_sweep_block_at(stretch, known, t_s, CYCLES, LEAST_S * stretch->rate_hz);
        const double db = level_db(block.phasor);
        const bool here = block.share > EXPECTED || (!isnan(last_db) && db > last_db + GONE_DB);
        if (here) {
            if (missing && isnan(known->resumes_s))
                known->resumes_s = (known->begin + t_s * lds_known_frames(known, stretch->rate_hz)) / stretch->rate_hz;
            last_db = block.share > 0.1 || isnan(last_db) ? db : last_db;
            last_s = t_s;
            missing = false;
        } else if (!isnan(last_db)) {
            gone(known, 0.5 * (last_s + t_s), stretch);
            missing = true;
        }
    }
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
