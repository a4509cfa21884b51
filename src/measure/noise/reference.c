#include "measure/noise/reference.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
        if ((taken && taken[j]) || (j > k - span->skip && j < k + span->skip))
            continue;
        if (!trend)
            value[count++] = power[j];
        else if (trend[j] > 0.0)
            value[count++] = power[j] / trend[j];
    }
    return count;
}

/* A median about a bin, and how far it reaches; reach 0: not computed yet. */
struct lds_reference_node {
    double median;
    int reach;
};

/* Computes a node again if anything changed within its reach. */
static void find_node(struct lds_reference_node *node, struct span *span, int k, int skip,
                      const struct lds_level *level, const unsigned char *taken, const double *trend,
                      const unsigned char *changed)
{
    int from = k > node->reach ? k - node->reach : 0,
        to = k + node->reach < span->end ? k + node->reach : span->end - 1;
    if (node->reach > 0 && !memchr(changed + from, 1, (size_t)(to - from) + 1))
        return;
    double value[2 * FAR_REACH + LOW_REACH + 64];
    node->median = NAN;
    for (node->reach = REACH;; node->reach *= 2) {
        centre_span(span, k, node->reach, skip);
        int count = gather(span, k, level->power, taken, trend, value);
        if (count >= FEW)
            node->median = lds_median(value, (size_t)count);
        if (count >= FEW || node->reach == FAR_REACH)
            return;
    }
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
static void running_median(const struct lds_reference_past *past, struct lds_reference_node *node,
                           const struct lds_level *level, const unsigned char *taken, const double *trend, double scale,
                           double *curve)
{
    struct span span = level_span(level);
    for (int j = 0; j <= level->n / 2; j++)
        curve[j] = NAN;
    int known = -1;
    for (int k = span.lowest; k < span.end; node++) {
        bool fine = k < FINE_BINS;
        /* Nodes are STRIDE apart: leave out a bin's own lobe at its nearest node. */
        int skip = !trend ? 0 : LDS_LOBE_BINS + 1 + (fine ? 0 : STRIDE / 2);
        find_node(node, &span, k, skip, level, taken, trend, past->changed);
        double median = node->median * scale;
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

static size_t nodes_of(const struct lds_level *level)
{
    return (size_t)level->n / 2 / STRIDE + FINE_BINS + 2;
}

bool lds_reference_past_make(struct lds_reference_past *past, const struct lds_level *level)
{
    size_t bins = (size_t)level->n / 2 + 1, nodes = nodes_of(level);
    *past = (struct lds_reference_past){.trend = calloc(bins, sizeof *past->trend),
                                        .taken = calloc(bins, 1),
                                        .changed = calloc(bins, 1),
                                        .rough = calloc(nodes, sizeof *past->rough),
                                        .first = calloc(nodes, sizeof *past->first),
                                        .second = calloc(nodes, sizeof *past->second)};
    return past->trend && past->taken && past->changed && past->rough && past->first && past->second;
}

void lds_reference_past_free(struct lds_reference_past *past)
{
    free(past->trend);
    free(past->taken);
    free(past->changed);
    free(past->rough);
    free(past->first);
    free(past->second);
    *past = (struct lds_reference_past){0};
}

/* Median over mean of a chi-square. */
static double mean_of_median(const struct lds_level *level)
{
    return 1.0 / lds_chi_square_quantile(0.5, level->bin_dof);
}

void lds_reference_rough(struct lds_reference_past *past, const struct lds_level *level, double *reference)
{
    bool fresh = past->first->reach == 0;
    memset(past->changed, 0, (size_t)level->n / 2 + 1);
    running_median(past, past->rough, level, NULL, NULL, mean_of_median(level), reference);
    if (fresh)
        memcpy(past->first, past->rough, nodes_of(level) * sizeof *past->first);
}

/* The first pass follows the spectrum's trend, but is biased where it bends. The second takes the median relative to
 * that trend, without the bin's own lobe, and so follows 1/f and steeper slopes (Tukey's "twicing"). */
void lds_reference_find(struct lds_reference_past *past, const struct lds_level *level, const unsigned char *taken,
                        double *reference)
{
    size_t bins = (size_t)level->n / 2 + 1;
    for (size_t k = 0; k < bins; k++)
        past->changed[k] = !past->taken[k] != !taken[k];
    memcpy(past->taken, taken, bins);
    running_median(past, past->first, level, taken, NULL, 1.0, reference);
    for (size_t k = 0; k < bins; k++)
        past->changed[k] |= memcmp(&past->trend[k], &reference[k], sizeof *reference) != 0;
    memcpy(past->trend, reference, bins * sizeof *reference);
    running_median(past, past->second, level, taken, past->trend, mean_of_median(level), reference);
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
