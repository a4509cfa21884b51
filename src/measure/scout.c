#include "measure/scout.h"

#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "spectrum/fft.h"
#include "spectrum/window.h"

/* Common practice, no source: what somebody calls the test tone of a capture. */
static const double LEAST_TONE_DBFS = -66.0; /* 60 dB below full scale, and some */
static const double LEAST_SHARE = 0.1;       /* of everything that is not DC */
static const double SURE_DBFS = -40.0;       /* a tone even on a low mains order */
static const double PURE_DB = -26.0;         /* hum is never so pure: other orders of the mains beside it */
static const double SILENT = 1e-40;
enum { HUM_LINES = 8, LOWEST_BIN = 8 };

struct look {
    size_t n, bins;
    double rate_hz;
    double *power; /* |X|^2, scaled so that a sine's power is the sum over its lobe divided by enbw */
    double complex *spectrum;
    double total; /* of everything that is not DC */
};

static bool transform(const double *x, size_t n, double rate_hz, struct look *look)
{
    *look = (struct look){.n = n, .bins = n / 2 + 1, .rate_hz = rate_hz};
    double *w = fftw_alloc_real(n);
    look->spectrum = (double complex *)fftw_alloc_complex(look->bins);
    look->power = malloc(look->bins * sizeof *look->power);
    fftw_plan plan = NULL;
    if (w && look->spectrum && look->power)
        plan = lds_fft_real((int)n, w, look->spectrum);
    if (plan) {
        double mean = 0.0, sum = 0.0;
        for (size_t i = 0; i < n; i++)
            mean += x[i] / (double)n;
        lds_window_fill(&lds_window_analysis, n, w);
        for (size_t i = 0; i < n; i++) {
            sum += w[i];
            w[i] *= x[i] - mean;
        }
        fftw_execute(plan);
        for (size_t i = 0; i < look->bins; i++) {
            double magnitude = cabs(look->spectrum[i]);
            look->power[i] = 2.0 * magnitude * magnitude / (sum * sum);
            look->total += i ? look->power[i] / lds_window_enbw(&lds_window_analysis) : 0.0;
        }
        lds_fft_free(plan);
    }
    fftw_free(w);
    return plan != NULL;
}

/* Power of the line about a bin, from the lobe's bins. */
static double lobe_power(const struct look *look, size_t bin)
{
    double sum = 0.0;
    for (size_t i = bin > 7 ? bin - 7 : 0; i <= bin + 7 && i < look->bins; i++)
        sum += look->power[i];
    return sum / lds_window_enbw(&lds_window_analysis);
}

/* The offset of a line from its strongest bin: the log of the window's transform is close to a parabola; three Newton
 * steps on the ratio of the neighbours then make it exact. */
static double line_offset(double below, double above)
{
    double wanted = 0.5 * log(above / below);
    double offset = 0.0;
    for (int i = 0; i < 8; i++) {
        double h = 1e-4;
        const struct lds_window *w = &lds_window_analysis;
        double now = log(lds_window_transform(w, 1.0 - offset) / lds_window_transform(w, 1.0 + offset));
        double step = log(lds_window_transform(w, 1.0 - offset - h) / lds_window_transform(w, 1.0 + offset + h));
        offset += (wanted - now) * h / (step - now);
        offset = fmax(-0.6, fmin(0.6, offset));
    }
    return offset;
}

/* The mains that frequency_hz would be one of the first orders of; 0: it is none. */
static double mains_of(double frequency_hz)
{
    const double nominal[2] = {50.0, 60.0};
    for (int i = 0; i < 2; i++)
        for (int order = 1; order <= 4; order++)
            if (fabs(frequency_hz / (order * nominal[i]) - 1.0) < 0.01)
                return frequency_hz / order;
    return 0.0;
}

static double dbfs(double power)
{
    return 10.0 * log10(2.0 * power);
}

/* Is the strongest line hum? Hum has other orders beside it; so has a distorted tone, but far below. */
static bool is_hum(const struct look *look, double line, double frequency_hz)
{
    double mains_hz = mains_of(frequency_hz);
    if (mains_hz <= 0.0 || dbfs(line) >= SURE_DBFS)
        return false;
    for (int order = 1; order <= 10; order++) {
        double f = order * mains_hz;
        size_t bin = (size_t)lround(f * (double)look->n / look->rate_hz);
        if (fabs(f - frequency_hz) > 1.0 && bin + 8 < look->bins && bin > 8 &&
            lobe_power(look, bin) > line * pow(10.0, PURE_DB / 10.0))
            return true;
    }
    return false;
}

static bool is_tone(const struct look *look, size_t peak, double frequency_hz, bool in_volts, struct lds_scout *scout)
{
    double line = lobe_power(look, peak);
    bool hum = is_hum(look, line, frequency_hz);
    if (!hum && line >= LEAST_SHARE * look->total && (in_volts || dbfs(line) >= LEAST_TONE_DBFS))
        return true;
    snprintf(scout->why, sizeof scout->why,
             "no tone: the strongest line, %.5g Hz, %s (state --tone to measure it all the same)", frequency_hz,
             hum ? "is taken for mains hum" : "is too weak for a test tone");
    return false;
}

static size_t strongest(const struct look *look, size_t low, size_t high)
{
    size_t peak = 0;
    for (size_t i = low; i <= high; i++)
        if (look->power[i] > (peak ? look->power[peak] : SILENT))
            peak = i;
    return peak;
}

/* The strongest line, unless it is hum: then the strongest beside it. */
static void choose(struct look *look, size_t low, size_t high, bool in_volts, bool given, struct lds_scout *scout)
{
    for (int hum = 0; hum <= HUM_LINES; hum++) {
        size_t peak = strongest(look, low, high);
        if (!peak && hum == 0)
            snprintf(scout->why, sizeof scout->why, "no tone: the capture is silent");
        if (!peak)
            return;
        double offset = line_offset(look->power[peak - 1], look->power[peak + 1]);
        double frequency_hz = ((double)peak + offset) * look->rate_hz / (double)look->n;
        struct lds_scout verdict = {0};
        if (given || is_tone(look, peak, frequency_hz, in_volts, &verdict)) {
            scout->tone_hz = frequency_hz;
            scout->level = sqrt(lobe_power(look, peak));
            scout->why[0] = '\0';
            return;
        }
        if (hum == 0)
            memcpy(scout->why, verdict.why, sizeof scout->why);
        if (mains_of(frequency_hz) <= 0.0)
            return;
        for (size_t i = peak - 7; i <= peak + 7; i++)
            look->power[i] = 0.0;
    }
}

double lds_scout_lowest_hz(size_t n, double rate_hz)
{
    return LOWEST_BIN * rate_hz / (double)n;
}

bool lds_scout_look(const double *x, size_t n, double rate_hz, bool in_volts, double given_hz, struct lds_scout *scout)
{
    scout->tone_hz = scout->level = NAN;
    scout->why[0] = '\0';
    if (given_hz == 0.0) {
        snprintf(scout->why, sizeof scout->why, "the capture was said to hold no tone");
        return true;
    }
    struct look look;
    bool ok = transform(x, n, rate_hz, &look);
    size_t low = LOWEST_BIN, high = look.bins > 9 ? look.bins - 9 : 0;
    if (ok && given_hz > 0.0) {
        double bin = given_hz * (double)n / rate_hz;
        low = bin > LOWEST_BIN + 4.0 ? (size_t)bin - 4 : LOWEST_BIN;
        high = (size_t)bin + 4 < high ? (size_t)bin + 4 : high;
    }
    if (ok)
        choose(&look, low, high, in_volts, given_hz > 0.0, scout);
    free(look.power);
    fftw_free(look.spectrum);
    return ok;
}
