#include "measure/scout.h"

#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "measure/median.h"
#include "measure/scout_look.h"
#include "spectrum/fft.h"
#include "spectrum/window.h"

/* Common practice, no source: what somebody calls the test tone of a capture. */
static const double LEAST_TONE_DBFS = -66.0; /* 60 dB below full scale, and some */
static const double LEAST_SHARE = 0.1;       /* of everything that is neither DC nor hum */
static const double SILENT = 1e-40;
static const double STANDS_OUT = 10.0, STANDS_OUT_LOW = 30.0,
                    STANDS_OUT_FAR = 1e4; /* of power, over the noise in its lobe */
static const double SHAPE = 0.85; /* of a line's power stands in its HALF_LOBE bins to each side; of noise half */
enum { HUM_LINES = 40, BESIDE = 24, HALF_LOBE = 3, LOW_BINS = 64 };

static bool transform(const double *x, size_t n, const struct lds_scout_request *request, struct lds_stretch *look)
{
    *look = (struct lds_stretch){
        .request = request, .n = n, .bins = n / 2 + 1, .bin_hz = n ? request->rate_hz / (double)n : 0.0};
    double *w = fftw_alloc_real(n);
    double complex *spectrum = (double complex *)fftw_alloc_complex(look->bins);
    look->power = malloc(2 * look->bins * sizeof *look->power);
    look->whole = look->power ? look->power + look->bins : NULL;
    fftw_plan plan = NULL;
    if (w && spectrum && look->power)
        plan = lds_fft_real((int)n, w, spectrum);
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
            double magnitude = cabs(spectrum[i]);
            look->power[i] = 2.0 * magnitude * magnitude / (sum * sum);
            look->total += i ? look->power[i] / lds_window_enbw(&lds_window_analysis) : 0.0;
        }
        memcpy(look->whole, look->power, look->bins * sizeof *look->power);
        lds_fft_free(plan);
    }
    fftw_free(w);
    fftw_free(spectrum);
    return plan != NULL;
}

/* Power of the line about a bin, from the lobe's bins. */
static double lobe_power(const struct lds_stretch *look, const double *power, size_t bin)
{
    double sum = 0.0;
    for (size_t i = bin > LDS_SCOUT_LOBE ? bin - LDS_SCOUT_LOBE : 0; i <= bin + LDS_SCOUT_LOBE && i < look->bins; i++)
        sum += power[i];
    return sum / lds_window_enbw(&lds_window_analysis);
}

/* The offset of a line from its strongest bin: the log of the window's transform is close to a parabola; some Newton
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

static bool strongest_of(const struct lds_stretch *look, const double *power, size_t low, size_t high,
                         struct lds_scout_line *line)
{
    size_t peak = 0;
    for (size_t i = low; i <= high; i++)
        if (power[i] > (peak ? power[peak] : SILENT))
            peak = i;
    if (!peak)
        return false;
    double offset = line_offset(fmax(power[peak - 1], SILENT), fmax(power[peak + 1], SILENT));
    *line = (struct lds_scout_line){peak, ((double)peak + offset) * look->bin_hz, lobe_power(look, power, peak)};
    return true;
}

bool lds_scout_strongest(const struct lds_stretch *look, size_t low, size_t high, struct lds_scout_line *line)
{
    return strongest_of(look, look->power, low, high, line);
}

/* Noise in a lobe, from the median of the bins beside it on both sides. */
static double noise_about(const struct lds_stretch *look, size_t bin)
{
    double side[2 * BESIDE];
    size_t count = 0;
    for (size_t i = LDS_SCOUT_LOBE + 1; i <= LDS_SCOUT_LOBE + BESIDE; i++) {
        if (bin > i)
            side[count++] = look->whole[bin - i];
        if (bin + i < look->bins)
            side[count++] = look->whole[bin + i];
    }
    double lobe = (2 * LDS_SCOUT_LOBE + 1) / lds_window_enbw(&lds_window_analysis);
    return count ? lds_median(side, count) / M_LN2 * lobe : 0.0;
}

void lds_scout_at(const struct lds_stretch *look, double frequency_hz, struct lds_scout_line *line, double *noise)
{
    double place = frequency_hz / look->bin_hz;
    *line = (struct lds_scout_line){0};
    *noise = 0.0;
    if (place < LDS_SCOUT_LOWEST || place + 2.0 * LDS_SCOUT_LOBE >= (double)look->bins)
        return;
    size_t bin = (size_t)lround(place);
    if (strongest_of(look, look->whole, bin - 1, bin + 1, line))
        *noise = noise_about(look, bin);
}

/* Low down, where noise falls with frequency, the lobe must have a line's shape too. */
bool lds_scout_is_line(const struct lds_stretch *look, const struct lds_scout_line *line)
{
    double over = line->power / fmax(noise_about(look, line->bin), 1e-300);
    if (line->bin > LOW_BINS || over > STANDS_OUT_FAR)
        return over >= STANDS_OUT;
    double inner = 0.0;
    for (size_t i = line->bin - HALF_LOBE; i <= line->bin + HALF_LOBE; i++)
        inner += look->whole[i];
    return over >= STANDS_OUT_LOW && inner > SHAPE * line->power * lds_window_enbw(&lds_window_analysis);
}

void lds_scout_remove(struct lds_stretch *look, const struct lds_scout_line *line)
{
    look->total -= line->power;
    for (size_t i = line->bin > LDS_SCOUT_LOBE ? line->bin - LDS_SCOUT_LOBE : 0;
         i <= line->bin + LDS_SCOUT_LOBE && i < look->bins; i++)
        look->power[i] = 0.0;
}

double lds_scout_dbfs(double power)
{
    return 10.0 * log10(2.0 * power);
}

bool lds_scout_reaches(const struct lds_stretch *look, double power, double volts, double dbfs)
{
    if (!isnan(look->request->volts_per_unit))
        return sqrt(power) * look->request->volts_per_unit >= volts;
    return lds_scout_dbfs(power) >= dbfs;
}

static bool strong_enough(const struct lds_stretch *look, const struct lds_scout_line *line)
{
    return line->power >= LEAST_SHARE * look->total && lds_scout_is_line(look, line) &&
           (look->request->in_volts || lds_scout_dbfs(line->power) >= LEAST_TONE_DBFS);
}

static void say_none(struct lds_scout *scout, const struct lds_scout_line *line, const char *what)
{
    snprintf(scout->why, sizeof scout->why,
             "no tone: the strongest line, %.5g Hz, %s (state --tone to measure it all the same)", line->frequency_hz,
             what);
}

static void found(struct lds_scout *scout, const struct lds_scout_line *line)
{
    scout->tone_hz = line->frequency_hz;
    scout->level = sqrt(line->power);
    scout->tones = 1;
}

/* The strongest line, unless it is hum: then the strongest beside it. */
static void choose(struct lds_stretch *look, size_t low, size_t high, struct lds_scout *scout)
{
    double mains_hz = 0.0;
    struct lds_scout_line line;
    for (int hum = 0; hum <= HUM_LINES; hum++) {
        if (!lds_scout_strongest(look, low, high, &line)) {
            if (hum == 0)
                snprintf(scout->why, sizeof scout->why, "no tone: the capture is silent");
            return;
        }
        int order = 0;
        bool belongs = mains_hz > 0.0 && lds_hum_belongs(look, &line, mains_hz);
        enum lds_hum_verdict verdict = belongs ? LDS_HUM_SURE : lds_hum_judge(look, &line, &order);
        if (verdict == LDS_HUM_SURE) {
            if (hum == 0)
                say_none(scout, &line, "is taken for mains hum");
            scout->hum = true;
            mains_hz = scout->mains_hz = belongs ? mains_hz : line.frequency_hz / order;
            lds_scout_remove(look, &line);
            continue;
        }
        if (!strong_enough(look, &line)) {
            if (hum == 0)
                say_none(scout, &line, "is too weak for a test tone");
            return;
        }
        found(scout, &line);
        scout->why[0] = '\0';
        scout->hum_order = verdict == LDS_HUM_MAYBE ? order : 0;
        lds_scout_second(look, &line, mains_hz, scout);
        return;
    }
}

double lds_scout_lowest_hz(size_t n, double rate_hz)
{
    return LDS_SCOUT_LOWEST * rate_hz / (double)n;
}

/* The strongest line about the one that was stated. */
static void choose_given(struct lds_stretch *look, double given_hz, size_t high, struct lds_scout *scout)
{
    double bin = given_hz / look->bin_hz;
    size_t low = bin > LDS_SCOUT_LOWEST + 4.0 ? (size_t)bin - 4 : LDS_SCOUT_LOWEST;
    high = (size_t)bin + 4 < high ? (size_t)bin + 4 : high;
    struct lds_scout_line line;
    if (lds_scout_strongest(look, low, high, &line))
        found(scout, &line);
    else
        snprintf(scout->why, sizeof scout->why, "no tone: the capture is silent at %.5g Hz", given_hz);
}

bool lds_scout_look(const double *x, size_t n, const struct lds_scout_request *request, struct lds_scout *scout)
{
    *scout = (struct lds_scout){.tone_hz = NAN, .level = NAN, .second_hz = NAN, .ratio = NAN};
    if (request->given_hz == 0.0) {
        snprintf(scout->why, sizeof scout->why, "the capture was said to hold no tone");
        return true;
    }
    struct lds_stretch look;
    bool ok = transform(x, n, request, &look);
    size_t high = look.bins > LDS_SCOUT_LOWEST + 1 ? look.bins - LDS_SCOUT_LOWEST - 1 : 0;
    if (ok && request->given_hz > 0.0)
        choose_given(&look, request->given_hz, high, scout);
    else if (ok)
        choose(&look, LDS_SCOUT_LOWEST, high, scout);
    free(look.power);
    return ok;
}
