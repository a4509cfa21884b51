#include "measure/signal/scout_look.h"

#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"
#include "spectrum/fft.h"
#include "spectrum/window.h"

/* Common practice, no source. */
static const double SILENT = 1e-40;
static const double STANDS_OUT = 10.0, STANDS_OUT_LOW = 15.0,
                    STANDS_OUT_FAR = 1e4; /* of power, relative to the noise in its lobe */
static const double SHAPE = 0.8; /* share of a line's power in the HALF_LOBE bins on each side; for noise it is half */
enum { BESIDE = 24, HALF_LOBE = 3, LOW_BINS = 64 };

bool lds_scout_transform(const double *x, size_t n, const struct lds_scout_request *request, struct lds_stretch *look)
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

/* Power of the line at a bin, from the bins of the lobe. */
static double lobe_power(const struct lds_stretch *look, const double *power, size_t bin)
{
    double sum = 0.0;
    for (size_t i = bin > LDS_SCOUT_LOBE ? bin - LDS_SCOUT_LOBE : 0; i <= bin + LDS_SCOUT_LOBE && i < look->bins; i++)
        sum += power[i];
    return sum / lds_window_enbw(&lds_window_analysis);
}

/* The offset of a line from its strongest bin: the log of the window's transform is close to a parabola; a few Newton
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

/* Noise in a lobe, from the median of the bins on both sides of it. */
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

/* At low frequencies, where noise falls with frequency, the lobe must also have the shape of a line. */
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

void lds_scout_stretch_free(struct lds_stretch *look)
{
    free(look->power);
}
