#include "measure/noise/reference.h"

#include <math.h>

#include "measure/statistics/interval.h"
#include "measure/statistics/median.h"

enum {
    REACH = LDS_REFERENCE_REACH,
    LOW_REACH = 12, /* at the low end, where 1/f bends, the reach shrinks to this */
    FINE_BINS = 64, /* up to here from the low end a node at every bin, then one in STRIDE */
    STRIDE = 16,
    FEW = 8, /* with fewer values than this the median reaches farther */
    FAR_REACH = 4 * REACH,
    LOWEST_BIN = 2 /* below it a bin holds remains of the mean */
};

/* The bins used for a median about bin k: [left, k - skip] and [k + skip, right]. */
struct span {
    int lowest, end; /* of the usable bins: [lowest, end) */
    int left, right, skip;
};

static struct span level_span(const struct lds_level *level)
{
    int half = level->n / 2;
    struct span span = {.lowest = level->first - LDS_REFERENCE_MARGIN, .end = level->last < half ? level->last : half};
    if (span.lowest < LOWEST_BIN)
        span.lowest = LOWEST_BIN;
    return span;
}

/* A median over a span symmetric about k is right for any straight slope. So the reach to the right equals the reach to
 * the left at the low end, where slopes per bin are steep. At the high end they are not, and the span may be
 * asymmetric. */
static void centre_span(struct span *span, int k, int reach, int skip)
{
    int left = k - span->lowest < reach ? k - span->lowest : reach;
    int least = (skip ? LOW_REACH : LOW_REACH / 2) + skip;
    int right = left < least ? least : left;
    span->left = k - left;
    span->right = k + right < span->end ? k + right : span->end - 1;
    span->skip = skip;
}

static int gather(const struct span *span, int k, const double *power, const unsigned char *taken, const double *trend,
                  double *value)
{
    int count = 0;
    for (int j = span->left; j <= span->right; j++) {
        if (taken[j] || (j > k - span->skip && j < k + span->skip))
            continue;
        if (!trend)
            value[count++] = power[j];
        else if (trend[j] > 0.0)
            value[count++] = power[j] / trend[j];
    }
    return count;
}

static double median_about(struct span *span, int k, int skip, const struct lds_level *level,
                           const unsigned char *taken, const double *trend)
{
    double value[2 * FAR_REACH + LOW_REACH + 64];
    for (int reach = REACH; reach <= FAR_REACH; reach *= 2) {
        centre_span(span, k, reach, skip);
        int count = gather(span, k, level->power, taken, trend, value);
        if (count >= FEW)
            return lds_median(value, (size_t)count);
    }
    return NAN;
}

/* Between nodes at bins a < b the logarithm of the density is linear. */
static void join(double *curve, int a, int b)
{
    double from = curve[a], to = curve[b];
    bool logarithmic = from > 0.0 && to > 0.0;
    double step = logarithmic ? pow(to / from, 1.0 / (b - a)) : (to - from) / (b - a);
    for (int j = a + 1; j < b; j++)
        curve[j] = logarithmic ? curve[j - 1] * step : curve[j - 1] + step;
}

/* One running median of power (relative to the trend, if there is one), times `scale`, into curve. */
static void running_median(const struct lds_level *level, const unsigned char *taken, const double *trend, double scale,
                           double *curve)
{
    struct span span = level_span(level);
    for (int j = 0; j <= level->n / 2; j++)
        curve[j] = NAN;
    int known = -1;
    for (int k = span.lowest; k < span.end;) {
        bool fine = k < FINE_BINS;
        /* Nodes are STRIDE apart: leave out a bin's own lobe at its nearest node. */
        int skip = !trend ? 0 : LDS_LOBE_BINS + 1 + (fine ? 0 : STRIDE / 2);
        double median = median_about(&span, k, skip, level, taken, trend) * scale;
        if (trend)
            median *= trend[k];
        if (!isnan(median)) {
            curve[k] = median;
            if (known >= 0)
                join(curve, known, k);
            else
                for (int j = span.lowest; j < k; j++)
                    curve[j] = median;
            known = k;
        }
        int next = k + (fine ? 1 : STRIDE);
        k = next >= span.end && k < span.end - 1 ? span.end - 1 : next;
    }
    for (int j = known + 1; known >= 0 && j < span.end; j++)
        curve[j] = curve[known];
}

/* The first pass follows the spectrum's trend, but is biased where it bends. The second takes the median relative to
 * that trend, without the bin's own lobe, and so follows 1/f and steeper slopes (Tukey's "twicing"). */
void lds_reference_find(const struct lds_level *level, const unsigned char *taken, bool quick, double *reference,
                        double *scratch)
{
    /* median over mean of a chi-square */
    double scale = 1.0 / lds_chi_square_quantile(0.5, level->bin_dof);
    if (quick) {
        running_median(level, taken, NULL, scale, reference);
        return;
    }
    running_median(level, taken, NULL, 1.0, scratch);
    running_median(level, taken, scratch, scale, reference);
}

/* A median of m independent bins has the variance (pi/2) (2/nu)/m, nearly (Kenney and Keeping 1962, for normal values);
 * bins of one window are correlated, so that m is in proportion to the band's degrees of freedom; twicing with a box
 * of the same length multiplies the variance by the integral of (2 box - box*box)^2, 5/3. */
double lds_reference_sd(const struct lds_level *level, const unsigned char *taken, int bin)
{
    struct span span = level_span(level);
    centre_span(&span, bin, REACH, LDS_LOBE_BINS + 1);
    int count = 0;
    for (int j = span.left; j <= span.right; j++)
        count += !taken[j] && (j <= bin - span.skip || j >= bin + span.skip);
    double dof = fmax(count * level->bin_hz * level->band_dof, level->bin_dof);
    return sqrt(M_PI_2 * 2.0 / dof * 5.0 / 3.0);
}
