/* Separates hum from a sideband of the tone on the same order of the mains. A tone near order k0 may have a sideband on
 * order k0 + j. The phase of the hum there is (k0 + j) psi, that of the sideband theta + j psi, with theta the tone's
 * own phase. Demodulated at the hum's phase, the hum stands still and the sideband turns by theta - k0 psi. That is the
 * same on every order, and the same as for the tone in its own band, where it is known with hardly any noise. Clocks
 * differ by some parts in 1e5 and the mains wanders by more, so over a capture of seconds the hum and the sideband
 * rarely turn together. Both are fitted together by least squares: only the part of the hum's shape that the sideband
 * cannot produce counts. A sideband of a low tone may be folded about 0 Hz; it then turns the other way. */
#include "measure/mains/segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Share of the hum's power that must be left. With less, errors of the tracked phase would matter too much. */
static const double LEAST_SHARE = 0.2;

static double complex inner(const double complex *a, const double complex *b, size_t n)
{
    double complex sum = 0.0;
    for (size_t m = 0; m < n; m++)
        sum += conj(a[m]) * b[m];
    return sum;
}

/* Subtracts from x its component along `shape`, which has unit length. */
static void take_off(double complex *x, const double complex *shape, size_t n)
{
    const double complex part = inner(shape, x, n);
    for (size_t m = 0; m < n; m++)
        x[m] -= part * shape[m];
}

static bool to_unit(double complex *x, size_t n)
{
    const double length = sqrt(creal(inner(x, x, n)));
    if (!(length > 0.0))
        return false;
    for (size_t m = 0; m < n; m++)
        x[m] /= length;
    return true;
}

/* The weights for one kind of order, from the shapes on it; shape[0] has unit length, shape[1] is changed. */
static void find_weights(struct lds_mains_apart *apart, const struct lds_mains_bands *bands, double complex *shape[2],
                         enum lds_mains_folding kind)
{
    const size_t n = bands->inside;
    double complex *weight = apart->weight[kind];
    double all = 0.0, noise = 0.0;
    for (size_t m = 0; m < n; m++) {
        weight[m] = bands->taper[m];
        all += bands->taper[m] * bands->taper[m];
    }
    if (kind != LDS_MAINS_FOLDED)
        take_off(weight, shape[0], n);
    if (kind != LDS_MAINS_UPRIGHT) {
        if (kind == LDS_MAINS_BOTH) {
            take_off(shape[1], shape[0], n);
            if (!to_unit(shape[1], n))
                return;
        }
        take_off(weight, shape[1], n);
    }
    const double left = creal(inner(weight, weight, n));
    for (size_t m = 0; m < n; m++) {
        weight[m] /= left;
        noise += creal(weight[m] * conj(weight[m])) * bands->taper[m] * bands->taper[m];
    }
    apart->bandwidth_hz[kind] = bands->rate_hz * noise;
    apart->usable[kind] = left > LEAST_SHARE * all;
}

/* The power that the weights leave of a sideband whose phase is wrong by one radian rms, relative to the power of the
 * sideband. The error is a straight line over the segment or an arch, which the fit of a constant amplitude does not
 * absorb. */
static double gain_of_error(const struct lds_mains_apart *apart, const struct lds_mains_bands *bands,
                            const double complex *sideband, enum lds_mains_folding kind)
{
    const size_t n = bands->inside;
    double complex line = 0.0, arch = 0.0;
    double power = 0.0;
    for (size_t m = 0; m < n; m++) {
        const double u = 2.0 * ((double)m + 0.5) / (double)n - 1.0;
        const double complex part = conj(apart->weight[kind][m]) * sideband[m];
        line += sqrt(3.0) * u * part;
        arch += sqrt(5.0) * (1.5 * u * u - 0.5) * part;
        power += bands->taper[m] * bands->taper[m];
    }
    return power * (creal(line * conj(line)) + creal(arch * conj(arch)));
}

bool lds_mains_apart_make(struct lds_mains_apart *apart, const struct lds_mains_bands *bands,
                          const struct lds_mains_track *track, const struct lds_mains_tones *tones, double seconds)
{
    memset(apart, 0, sizeof *apart);
    if (tones->harmonics == 0)
        return true;
    const double fm = track->frequency_hz, wander_hz = 0.5 * (track->high_hz - track->low_hz);
    const int at = (int)lround(tones->frequency_hz[0] / fm);
    if (at < 1 || fabs(tones->frequency_hz[0] - at * fm) >= 4.0 / seconds + at * wander_hz)
        return true;
    apart->tone_order = at;
    if (at > LDS_MAINS_ORDERS || !bands->z[at] || !track->steered)
        return true;
    const size_t n = bands->inside;
    apart->store = malloc((LDS_MAINS_FOLDINGS + 2) * n * sizeof *apart->store);
    if (!apart->store)
        return false;
    double complex *shape[2] = {apart->store + LDS_MAINS_FOLDINGS * n, apart->store + (LDS_MAINS_FOLDINGS + 1) * n};
    for (size_t m = 0; m < n; m++)
        shape[0][m] = bands->z[at][m] * cexp(-I * (at * track->phase[m]));
    if (!to_unit(shape[0], n))
        return true;
    for (size_t m = 0; m < n; m++)
        shape[1][m] = conj(shape[0][m]);
    for (int kind = 0; kind < LDS_MAINS_FOLDINGS; kind++) {
        apart->weight[kind] = apart->store + (size_t)kind * n;
        find_weights(apart, bands, shape, (enum lds_mains_folding)kind);
        apart->error_gain[kind] = gain_of_error(apart, bands, shape[0], (enum lds_mains_folding)kind);
    }
    apart->sideband = shape[0];
    /* The error of the mean frequency gives the error at the ends of the phase; a straight line has 1/sqrt(12) of that
     * as rms. */
    apart->u_phase_rad = 2.0 * M_PI * track->u_frequency_hz * seconds / sqrt(12.0);
    return true;
}

void lds_mains_apart_free(struct lds_mains_apart *apart)
{
    free(apart->store);
    memset(apart, 0, sizeof *apart);
}

bool lds_mains_apart_shared(const struct lds_mains_apart *apart, int order, enum lds_mains_folding *kind)
{
    const bool upright = abs(order - apart->tone_order) <= LDS_MAINS_SIDEBANDS;
    const bool folded = order + apart->tone_order <= LDS_MAINS_SIDEBANDS;
    *kind = upright && folded ? LDS_MAINS_BOTH : folded ? LDS_MAINS_FOLDED : LDS_MAINS_UPRIGHT;
    return apart->tone_order > 0 && order != apart->tone_order && (upright || folded);
}

void lds_mains_apart_measure(const struct lds_mains_apart *apart, const struct lds_mains_bands *bands, int order,
                             enum lds_mains_folding kind, const double complex *z, struct lds_mains_hum *hum)
{
    const size_t n = bands->inside;
    double complex rest = 0.0;
    double power = 0.0;
    hum->amplitude = inner(apart->weight[kind], z, n);
    hum->bandwidth_hz = apart->bandwidth_hz[kind];
    for (size_t m = 0; m < n; m++) {
        const double complex left = z[m] - hum->amplitude * bands->taper[m];
        const double complex shape = apart->sideband[m];
        rest += (kind == LDS_MAINS_FOLDED ? shape : conj(shape)) * left;
        power += bands->taper[m] * bands->taper[m];
    }
    /* The sideband's phase contains the mains phase as many times as the sideband is orders away from the tone. */
    const double times = kind == LDS_MAINS_UPRIGHT ? order - apart->tone_order : order + apart->tone_order;
    const double error = times * apart->u_phase_rad;
    hum->error_power = 2.0 * creal(rest * conj(rest)) / power * error * error * apart->error_gain[kind];
}
