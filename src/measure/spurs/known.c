#include "measure/spurs/known.h"

#include <math.h>
#include <stdlib.h>

#include "measure/analyser.h"
#include "measure/intermodulation/suspected.h"
#include "measure/spurs/spurs.h"
#include "measure/statistics/noncentral.h"

static const double DETECTION = 1e-3; /* probability that noise alone passes for a harmonic */
static const double DENSITY_SPAN_BINS = 40.0;
static const double OWN_HZ = 2.0, OWN_BINS = 4.0; /* everything within max(2 Hz, 4/T) belongs to the fundamental */
static const double LEAST_SIDEBAND = 1e-17;       /* relative to the tone: weaker ones do not affect any floor */
enum { SIDEBANDS = 4, SIDEBAND_HARMONICS = 50 };

double lds_known_noise_power(const struct lds_findings *findings, double frequency_hz)
{
    const struct lds_level *level = lds_density_level(&findings->density, frequency_hz);
    double span_hz = DENSITY_SPAN_BINS * level->bin_hz;
    const struct lds_level *audio = &findings->density.level[findings->audio];
    const struct lds_level *measured = level > audio ? level : audio; /* slower levels are used for the noise alone */
    return lds_floor_density(&findings->floor, frequency_hz, span_hz, NULL) * measured->line_noise;
}

int lds_known_own_order(const struct lds_findings *findings, double frequency_hz)
{
    if (!findings->has_tone)
        return 0;
    double order = fmax(1.0, round(frequency_hz / findings->track.frequency_hz));
    double reach_hz = LDS_LOBE_BINS * lds_density_level(&findings->density, frequency_hz)->bin_hz;
    return fabs(frequency_hz - order * findings->track.frequency_hz) <= reach_hz ? (int)order : 0;
}

static bool add_line(struct lds_findings *findings, enum lds_line_kind kind, int order, double frequency_hz,
                     double spread_hz, double power)
{
    struct lds_known_line line = {kind, order, frequency_hz, spread_hz, power};
    return lds_lines_add(&findings->lines, &line);
}

/* Orders beyond those measured are only suspected, and only where they are farther apart than their lobes are wide. */
static bool add_tone(struct lds_findings *findings)
{
    const struct lds_track *track = &findings->track;
    double f1 = track->frequency_hz;
    double wander_hz = 0.5 * track->slow_hz;
    for (int order = 1; order * f1 < findings->density.end_hz; order++) {
        double f = order * f1;
        const struct lds_level *level = lds_density_level(&findings->density, f);
        if (order > 1 && f1 < 2.0 * LDS_LOBE_BINS * level->bin_hz && (size_t)order > findings->harmonics)
            break;
        double power = order == 1 ? track->level * track->level : NAN;
        if (!add_line(findings, order == 1 ? LDS_LINE_TONE : LDS_LINE_HARMONIC, order, f, order * wander_hz, power))
            return false;
    }
    return true;
}

/* Crosstalk from other channels is neither noise nor a spur: it is suspected at their tones and harmonics, except where
 * this channel's own tone has a line. */
static bool add_foreign(struct lds_findings *findings)
{
    for (size_t i = 0; i < findings->driven->tones; i++) {
        double f1 = findings->driven->tone_hz[i];
        for (int order = 1; order * f1 < findings->density.end_hz; order++) {
            double bin_hz = lds_density_level(&findings->density, order * f1)->bin_hz;
            if (order > 1 && f1 < 2.0 * LDS_LOBE_BINS * bin_hz)
                break;
            if (!lds_known_own_order(findings, order * f1) &&
                !add_line(findings, LDS_LINE_HARMONIC, order, order * f1, 0.0, NAN))
                return false;
        }
    }
    if (isnan(findings->driven->two_hz[0]))
        return true;
    const double *two_hz = findings->driven->two_hz;
    return lds_suspect_products(findings, two_hz, two_hz[0] == findings->driven->tone_hz[0] ? 0 : 1, 0.0);
}

static bool add_mains(struct lds_findings *findings)
{
    const struct lds_mains_result *mains = &findings->mains;
    if (!mains->found)
        return true;
    for (int order = 1; order <= LDS_MAINS_ORDERS; order++)
        if (mains->order[order].detected && !add_line(findings, LDS_LINE_MAINS, order, order * mains->frequency_hz,
                                                      order * mains->wander_hz, mains->order[order].power))
            return false;
    return true;
}

/* Mains sidebands of the tone within a lobe of a mains order: no search finds those, so they are suspected. */
static bool add_sidebands(struct lds_findings *findings)
{
    if (!findings->has_tone || !findings->mains.found)
        return true;
    double f1 = findings->track.frequency_hz, fm = findings->mains.frequency_hz;
    for (int j = -SIDEBANDS; j <= SIDEBANDS; j++) {
        double f = f1 + j * fm, off = fabs(f - round(f / fm) * fm);
        if (j == 0 || f <= 0.0 || f >= findings->density.end_hz)
            continue;
        double lobe_hz = 2 * LDS_LOBE_BINS * lds_density_level(&findings->density, f)->bin_hz;
        if (off < lobe_hz && round(f / fm) <= LDS_MAINS_ORDERS &&
            !add_line(findings, LDS_LINE_SPUR, 0, f, abs(j) * findings->mains.wander_hz, NAN))
            return false;
    }
    return true;
}

bool lds_known_hum_at(const struct lds_findings *findings, double frequency_hz, struct lds_known_hum *hum)
{
    const struct lds_mains_result *mains = &findings->mains;
    if (!mains->found)
        return false;
    double order = round(frequency_hz / mains->frequency_hz);
    double near_hz = 4.0 / findings->seconds + order * mains->wander_hz;
    if (fabs(frequency_hz - order * mains->frequency_hz) >= near_hz)
        return false;
    struct lds_mains_expected expected;
    lds_mains_expect(mains, (int)order, &expected);
    /* A line is averaged over the whole capture, in a band of 1/T; hum that wanders is spread over 2 order wander. Its
     * mean share is doubled, as it is not spread evenly. */
    double share = 1.0 / fmax(1.0, order * mains->wander_hz * findings->seconds);
    *hum = (struct lds_known_hum){(int)order, share * expected.power, expected.high};
    return true;
}

/* A mains order that cannot be told from the harmonic, and the hum to expect there. Orders beyond those measured are
 * named only where their limits exceed the noise and a hundredth of the harmonic. */
static void expect_hum(const struct lds_findings *findings, struct lds_harmonic *h, double gain2)
{
    struct lds_known_hum hum;
    if (!lds_known_hum_at(findings, h->frequency_hz, &hum))
        return;
    h->hum_power = hum.power / gain2;
    h->hum_high = hum.high / gain2;
    h->mains_order = hum.order;
    double raw = creal(h->phasor * conj(h->phasor));
    h->near_mains = hum.order <= LDS_MAINS_ORDERS || h->hum_power > fmax(h->noise_power, 1e-4 * raw);
}

void lds_known_judge(const struct lds_findings *findings, double noise_power, struct lds_harmonic *h)
{
    double gain = lds_bench_gain(findings->bench, h->frequency_hz);
    h->noise_power = noise_power / (gain * gain);
    expect_hum(findings, h, gain * gain);
    h->noise_power += h->hum_power;
    double raw = creal(h->phasor * conj(h->phasor));
    h->detected = h->noise_power > 0.0 ? lds_noncentral_chance(raw, h->noise_power, 1) < DETECTION : raw > 0.0;
}

static void judge_harmonics(struct lds_findings *findings)
{
    for (size_t i = 0; i < findings->harmonics; i++)
        lds_known_judge(findings, lds_known_noise_power(findings, findings->harmonic[i].frequency_hz),
                        &findings->harmonic[i]);
    if (findings->harmonics > 0)
        findings->harmonic[0].detected = true; /* the tone itself */
}

/* A modulation that gives the tone a sideband gives harmonic k one of the same relative power (amplitude modulation) or
 * of up to k^2 times that (phase modulation). Such lines are too weak to be told from the harmonic, but wide beside a
 * low floor. */
static bool add_harmonic_sidebands(struct lds_findings *findings)
{
    double tone = findings->track.level * findings->track.level, f1 = findings->track.frequency_hz;
    const struct lds_spur_list *spurs = &findings->beside.spurs;
    for (size_t i = 1; i < findings->harmonics && i <= SIDEBAND_HARMONICS; i++) {
        const struct lds_harmonic *h = &findings->harmonic[i];
        double most = h->order * h->order * creal(h->phasor * conj(h->phasor)) / tone;
        for (size_t s = 0; s < spurs->count; s++) {
            double f = h->frequency_hz + spurs->spur[s].frequency_hz - f1;
            double power = most * spurs->spur[s].level * spurs->spur[s].level;
            if (power > LEAST_SIDEBAND * tone && f > 0.0 && f < findings->density.end_hz &&
                !add_line(findings, LDS_LINE_HARMONIC, h->order, f, spurs->spur[s].spread_hz, power))
                return false;
        }
    }
    return true;
}

static bool look_beside_tone(struct lds_findings *findings)
{
    if (!findings->has_tone)
        return true;
    double own_hz = fmax(OWN_HZ, OWN_BINS / findings->seconds);
    return lds_beside_tone_find(&findings->zoom, &findings->density, findings->track.frequency_hz, own_hz,
                                &findings->lines, &findings->beside) &&
           lds_spurs_append(&findings->beside.spurs, &findings->lines) && add_harmonic_sidebands(findings);
}

/* In the stretch beside the tone its own search is used instead. */
static void drop_zoomed(const struct lds_beside_tone *beside, struct lds_spur_list *found)
{
    size_t kept = 0;
    for (size_t i = 0; i < found->count; i++) {
        double f = found->spur[i].frequency_hz;
        if (!(beside->usable && f >= beside->zoom.low_hz && f <= beside->zoom.high_hz))
            found->spur[kept++] = found->spur[i];
    }
    found->count = kept;
}

/* The channel's own tone or another channel's: either way lines made from it are sidebands of the tone. */
static double tone_hz(const struct lds_findings *findings)
{
    if (findings->has_tone)
        return findings->track.frequency_hz;
    return findings->driven->undriven && findings->driven->tones > 0 ? findings->driven->tone_hz[0] : (double)NAN;
}

static bool find_spurs(struct lds_findings *findings)
{
    const struct lds_beside_tone *beside = &findings->beside;
    const struct lds_spur_request request = {
        .known = &findings->lines,
        .tone_hz = tone_hz(findings),
        .second_hz = findings->signal.kind == LDS_SIGNAL_TWO_TONE ? findings->scout.second_hz : NAN,
        .mains_hz = findings->mains.found ? findings->mains.frequency_hz : NAN,
        .mains_spread_hz = findings->mains.found ? findings->mains.wander_hz : 0.0,
        .clock_ppm = findings->bench->clock_ppm,
        .false_alarm = LDS_SPURS_FALSE_ALARM,
        .barred_hz = {beside->searched_hz[0], beside->searched_hz[1]},
        .others = &beside->spurs,
    };
    if (!lds_spurs_find(&findings->floor, &request, &findings->spurs))
        return false;
    drop_zoomed(beside, &findings->spurs);
    if (findings->spurs.count > 0 && (!lds_spurs_append(&findings->spurs, &findings->lines) ||
                                      !lds_floor_find_again(&findings->floor, &findings->lines)))
        return false;
    if (beside->spurs.count == 0)
        return true;
    if (!lds_spurs_merge(&findings->spurs, &beside->spurs))
        return false;
    lds_spurs_name(&findings->spurs, &request);
    return true;
}

static bool finish(void *state, struct lds_findings *findings)
{
    (void)state;
    if (findings->has_tone && !add_tone(findings))
        return false;
    if (!add_foreign(findings) || !add_mains(findings) || !add_sidebands(findings) || !look_beside_tone(findings) ||
        !lds_floor_find(&findings->floor, &findings->density, &findings->lines) || !find_spurs(findings))
        return false;
    if (lds_beside_tone_matters(&findings->beside, &findings->floor))
        findings->floor.zoom = &findings->beside.zoom;
    lds_noise_scale_init(&findings->noise_scale, findings->bench, &findings->floor);
    judge_harmonics(findings);
    /* Both tones were needed to find the lines; from here on "tone" means a single one. */
    if (findings->signal.kind == LDS_SIGNAL_TWO_TONE)
        findings->has_tone = false;
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    return findings->unsteady[0] || lds_spurs_record(channel, &findings->spurs, &findings->noise_scale);
}

const struct lds_analyser lds_analyse_lines = {.finish = finish, .figures = figures};
