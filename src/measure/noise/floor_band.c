/* Bands and local densities of the composite spectrum. */
#include <math.h>
#include <string.h>

#include "measure/spurs/lines.h"
#include "spectrum/window.h"

/* Relative error of a line's power in bins that are not counted, when it is estimated from the shape of the rest. */
static const double HIDDEN_ERROR = 0.05;
static const double HIDDEN_LITTLE = 0.01;

/* The integration of one band, while it goes over the bins. */
struct integral {
    const struct lds_floor *floor;
    unsigned keep;
    double (*weight)(double frequency_hz, const void *context);
    const void *context;
    double low_hz, high_hz;
    struct lds_band_power *band;
};

/* One bin's share of the band. */
struct cell {
    int bin;
    double middle_hz, width_hz;
    double weight;             /* power gain x width */
    const struct lds_gap *gap; /* not NULL: filled */
    bool line;                 /* under a line that is kept, which is added separately */
};

double lds_floor_edge(const struct lds_density *density, int i)
{
    if (i >= density->levels) {
        const struct lds_level *top = &density->level[density->levels - 1];
        return (top->last - 0.5) * top->bin_hz;
    }
    return fmax((density->level[i].first - 0.5) * density->level[i].bin_hz, 0.0);
}

/* The estimate of a bin's density S has the variance 2 S^2/nu, so its square is too large by the factor 1 + 2/nu on
 * average. */
static double squared(const struct lds_level *level, const struct cell *cell, double power, double filled)
{
    if (cell->gap)
        return filled * filled * (cell->line ? 1.0 : cell->gap->spread);
    return power * power / (1.0 + 2.0 / level->bin_dof);
}

static void add_cell(const struct integral *integral, int i, const struct cell *cell)
{
    const struct lds_level *level = &integral->floor->density->level[i];
    struct lds_band_power *band = integral->band;
    double power = level->power[cell->bin], filled = integral->floor->filled[i][cell->bin];
    band->power += cell->weight * (cell->gap ? filled : power);
    if (cell->gap && !cell->line)
        band->removed_hz += cell->width_hz;
    double variance = 0.0;
    if (cell->width_hz > 0.0 && level->band_dof > 0.0)
        variance = 2.0 / level->band_dof * squared(level, cell, power, filled) * cell->weight *
                   (cell->weight / cell->width_hz);
    band->variance += variance;
    const double shared = variance * level->frames;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        if (level->block_frames[b] < 1) {
            band->block[b] = NAN;
            continue;
        }
        band->block_variance[b] += shared / level->block_frames[b];
        band->block[b] += cell->weight * (cell->gap ? filled * cell->gap->block[b] : level->block[b][cell->bin]);
    }
}

/* The last cell of a level reaches up to the start of the next level. */
static void add_level(const struct integral *integral, int i)
{
    const struct lds_density *density = integral->floor->density;
    const struct lds_level *level = &density->level[i];
    double low = fmax(lds_floor_edge(density, i), integral->low_hz);
    double top = lds_floor_edge(density, i + 1), high = fmin(top, integral->high_hz);
    int last = level->last <= level->n / 2 ? level->last : level->n / 2 + 1;
    int from = (int)fmax(floor(low / level->bin_hz + 0.5), level->first);
    int gap = 0, gaps = integral->floor->gaps[i];
    for (int k = from; k < last && low < high; k++) {
        double upper = fmin(k == last - 1 ? top : (k + 0.5) * level->bin_hz, high);
        double lower = fmax((k - 0.5) * level->bin_hz, low);
        if (upper <= lower) {
            if (lower >= high)
                break;
            continue;
        }
        struct cell cell = {.bin = k, .middle_hz = 0.5 * (upper + lower), .width_hz = upper - lower};
        cell.weight = cell.width_hz * (integral->weight ? integral->weight(cell.middle_hz, integral->context) : 1.0);
        unsigned taken = integral->floor->taken[i][k];
        if (taken) {
            cell.line = integral->keep & 1u << (taken - 1);
            while (gap < gaps - 1 && integral->floor->gap[i][gap].last < k)
                gap++;
            cell.gap = &integral->floor->gap[i][gap];
        }
        add_cell(integral, i, &cell);
    }
}

static const struct lds_gap *gap_about(const struct lds_floor *floor, int i, int bin)
{
    for (int g = 0; g < floor->gaps[i]; g++)
        if (bin >= floor->gap[i][g].first && bin <= floor->gap[i][g].last)
            return &floor->gap[i][g];
    return NULL;
}

/* Whether the lobe of a line that is not kept is stronger at this bin. */
static bool hidden_bin(const struct integral *integral, const struct lds_floor_line *line, int bin)
{
    unsigned taken = integral->floor->taken[line->level][bin];
    return taken && !(integral->keep & 1u << (taken - 1));
}

/* Whether the line is in the zoomed stretch. */
static bool is_zoomed(const struct lds_floor *floor, const struct lds_floor_line *line)
{
    return floor->zoom && line->frequency_hz >= floor->zoom->low_hz && line->frequency_hz <= floor->zoom->high_hz;
}

/* Whether a bin past the end of this line belongs to the line beside it, and that line is not kept or is in the zoomed
 * stretch. */
static bool beside_stays_out(const struct integral *integral, const struct lds_floor_line *line, int bin)
{
    const struct lds_floor *floor = integral->floor;
    bool below = bin < line->from;
    if (below ? line == floor->line : line + 1 == floor->line + floor->lines)
        return false;
    const struct lds_floor_line *beside = below ? line - 1 : line + 1;
    return beside->level == line->level && bin >= beside->from && bin <= beside->to &&
           (!(integral->keep & 1u << beside->kind) || is_zoomed(floor, beside));
}

/* The share of a steady line's power in bins that are not counted. */
static double hidden_share(const struct integral *integral, const struct lds_floor_line *line)
{
    const struct lds_level *level = &integral->floor->density->level[line->level];
    double centre = line->frequency_hz / level->bin_hz, hidden = 0.0;
    for (int k = (int)ceil(centre - LDS_LOBE_BINS); k <= centre + LDS_LOBE_BINS; k++) {
        if (k < 0 || k > level->n / 2)
            continue;
        bool inside = k >= line->from && k <= line->to;
        if (inside ? hidden_bin(integral, line, k) : beside_stays_out(integral, line, k)) {
            double w = lds_window_transform(&lds_window_analysis, k - centre);
            hidden += w * w / level->enbw_bins;
        }
    }
    return hidden;
}

/* The whole power of a line of which only part was seen. For a spur it is the power that the search found, which allows
 * for what hid the line; for other lines it follows from the shape, as long as half of the line can be seen. */
static double whole_power(const struct lds_floor_line *line, double seen, double hidden)
{
    if (line->kind == LDS_LINE_SPUR && hidden > HIDDEN_LITTLE)
        return line->power;
    return hidden < 0.5 ? seen / (1.0 - hidden) : seen;
}

/* Adds the power of a line above the floor beneath it, from all its bins on its own level. Line and noise beat: 4 P S
 * over the degrees of freedom. */
static void add_line(const struct integral *integral, const struct lds_floor_line *line)
{
    const struct lds_floor *floor = integral->floor;
    const struct lds_level *level = &floor->density->level[line->level];
    struct lds_band_power *band = integral->band;
    int centre = (int)fmin(fmax(round(line->frequency_hz / level->bin_hz), level->first), level->last - 1);
    double under = floor->filled[line->level][centre], power = 0.0;
    double weight = integral->weight ? integral->weight(line->frequency_hz, integral->context) : 1.0;
    const struct lds_gap *gap = gap_about(floor, line->level, centre);
    double block[LDS_BLOCKS] = {0}, hidden = hidden_share(integral, line);
    for (int k = line->from; k <= line->to; k++) {
        if (hidden_bin(integral, line, k))
            continue;
        bool inside = k >= level->first && k < level->last;
        double base = inside ? floor->filled[line->level][k] : under;
        power += (level->power[k] - base) * level->bin_hz;
        for (int b = 0; b < LDS_BLOCKS; b++)
            block[b] += (level->block[b][k] - base * (gap ? gap->block[b] : 1.0)) * level->bin_hz;
    }
    double whole = whole_power(line, power, hidden);
    weight *= power != 0.0 ? whole / power : 1.0;
    band->power += weight * power;
    double variance = level->band_dof > 0.0 ? 4.0 / level->band_dof * under * fmax(power, 0.0) * weight * weight : 0.0;
    variance += pow(HIDDEN_ERROR * hidden * weight * power, 2.0);
    band->variance += variance;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        if (level->block_frames[b] < 1)
            continue; /* it is NAN already */
        band->block[b] += weight * block[b];
        band->block_variance[b] += variance * level->frames / level->block_frames[b];
    }
}

/* The window smooths the density over its main lobe. Second moment of |W|^2/sum |W|^2 in bins^2: sum d^2 W(d)^2 over
 * sum W(d)^2 with the coefficients of the 7-term window. */
static const double LOBE_MOMENT = 1.083;
enum { SMEARED_BINS = 64 }; /* above this bin 1/f is straight enough for the lobe not to matter */

/* Seen through the window, a band's edge is a step blurred by the lobe (nearly normal, standard deviation s bins). The
 * variance goes with the square of that, and is smaller than a sharp step's by half of what this gives for a band of B
 * bins: B - I(B), where I(B) is the integral over the band, in both variables, of a normal density of their difference
 * with variance 2 s^2. Wide bands lose s/sqrt(pi) at each edge; a band far narrower than a bin ends up with the
 * variance of one bin. */
static double edge_loss_bins(double band_bins)
{
    double s = sqrt(LOBE_MOMENT);
    double inside = band_bins * erf(band_bins / (2.0 * s)) -
                    2.0 * s / sqrt(M_PI) * (1.0 - exp(-band_bins * band_bins / (4.0 * s * s)));
    return 0.5 * (band_bins - inside);
}

/* By how much an edge reduces the variance, and by how much the lobe raises the power there: to second order the mean
 * of a bin is S + (moment/2) S'', and S'' integrates to S' at the edge. */
static void edge(const struct integral *integral, double at_hz, double *variance, double *lift)
{
    const struct lds_level *level = lds_density_level(integral->floor->density, at_hz);
    const double *reference = integral->floor->reference[level - integral->floor->density->level];
    int top = (level->last < level->n / 2 ? level->last : level->n / 2) - 1;
    int k = (int)fmin(round(at_hz / level->bin_hz), top);
    *variance = *lift = 0.0;
    if (k < 0 || !(level->band_dof > 0.0) || !(reference[k] > 0.0))
        return;
    double weight = integral->weight ? integral->weight(at_hz, integral->context) : 1.0;
    double power = weight * reference[k], band_bins = (integral->high_hz - integral->low_hz) / level->bin_hz;
    *variance = 2.0 / level->band_dof * power * power * edge_loss_bins(band_bins) * level->bin_hz;
    int below = k - 2 > 2 ? k - 2 : 2, above = below + 4;
    if (k < SMEARED_BINS && above <= top && reference[above] > 0.0)
        *lift = 0.5 * LOBE_MOMENT * weight * (reference[below] - reference[above]) / (above - below) * level->bin_hz;
}

static void finish(const struct integral *integral)
{
    struct lds_band_power *band = integral->band;
    double low_variance, high_variance, low_lift, high_lift;
    edge(integral, integral->low_hz, &low_variance, &low_lift);
    edge(integral, fmin(integral->high_hz, lds_floor_edge(integral->floor->density, integral->floor->density->levels)),
         &high_variance, &high_lift);
    /* On a steep slope the first-order loss may be too large: limit it to half, or to the loss in white noise. */
    double bins =
        (integral->high_hz - integral->low_hz) / lds_density_level(integral->floor->density, integral->low_hz)->bin_hz;
    double most = bins > 0.0 ? fmax(0.5, 2.0 * edge_loss_bins(bins) / bins) : 0.5;
    double sharper = fmin(low_variance + high_variance, most * band->variance);
    double lift = fmin(fmax(low_lift - high_lift, 0.0), 0.05 * band->power), scale = 1.0;
    if (band->power > 0.0)
        scale = 1.0 - lift / band->power;
    band->variance -= sharper;
    band->power *= scale;
    band->dof = band->variance > 0.0 ? 2.0 * band->power * band->power / band->variance : 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        band->block[b] *= scale;
        band->blocks += isfinite(band->block[b]);
    }
}

static void add_lines(const struct integral *integral)
{
    for (size_t l = 0; l < integral->floor->lines; l++) {
        const struct lds_floor_line *line = &integral->floor->line[l];
        if (!is_zoomed(integral->floor, line) && integral->keep & 1u << line->kind &&
            line->frequency_hz >= integral->low_hz && line->frequency_hz <= integral->high_hz)
            add_line(integral, line);
    }
}

static void add_levels(const struct integral *integral, double low_hz, double high_hz)
{
    struct integral part = *integral;
    part.low_hz = fmax(low_hz, integral->low_hz);
    part.high_hz = fmin(high_hz, integral->high_hz);
    for (int i = 0; part.low_hz < part.high_hz && i < integral->floor->density->levels; i++)
        add_level(&part, i);
}

struct from_origin {
    const struct integral *integral;
    double origin_hz;
};

static double weight_from_origin(double frequency_hz, const void *context)
{
    const struct from_origin *from = context;
    double at_hz = from->origin_hz + frequency_hz;
    return from->integral->weight ? from->integral->weight(at_hz, from->integral->context) : 1.0;
}

/* The zoomed stretch has no blocks of its own; how its power varied over the capture comes from the levels. */
static void add_zoom(const struct integral *integral)
{
    const struct lds_floor_zoom *zoom = integral->floor->zoom;
    double low = fmax(zoom->low_hz, integral->low_hz), high = fmin(zoom->high_hz, integral->high_hz);
    if (low >= high)
        return;
    const struct from_origin from = {integral, zoom->origin_hz};
    struct lds_band_power part, course = {0}, *band = integral->band;
    lds_floor_band(&zoom->floor, low - zoom->origin_hz, high - zoom->origin_hz, integral->keep, weight_from_origin,
                   &from, &part);
    struct integral levels = *integral;
    levels.keep = 0;
    levels.band = &course;
    add_levels(&levels, low, high);
    band->power += part.power;
    band->variance += part.variance;
    band->removed_hz += part.removed_hz;
    double scale = course.power > 0.0 ? part.power / course.power : 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        band->block[b] += scale * course.block[b];
        band->block_variance[b] += fmax(scale * scale * course.block_variance[b], part.variance * LDS_BLOCKS);
    }
}

void lds_floor_band(const struct lds_floor *floor, double low_hz, double high_hz, unsigned keep,
                    double (*weight)(double frequency_hz, const void *context), const void *context,
                    struct lds_band_power *band)
{
    memset(band, 0, sizeof *band);
    struct integral integral = {floor, keep, weight, context, low_hz, high_hz, band};
    add_levels(&integral, low_hz, floor->zoom ? floor->zoom->low_hz : high_hz);
    if (floor->zoom)
        add_levels(&integral, floor->zoom->high_hz, high_hz);
    finish(&integral);
    add_lines(&integral);
    if (floor->zoom)
        add_zoom(&integral);
    if (band->variance > 0.0)
        band->dof = 2.0 * band->power * band->power / band->variance;
}

double lds_floor_density(const struct lds_floor *floor, double frequency_hz, double span_hz, double *dof)
{
    double low = fmax(frequency_hz - span_hz, 0.0);
    double high = fmin(frequency_hz + span_hz, lds_floor_edge(floor->density, floor->density->levels));
    if (high <= low) {
        low = fmax(high - span_hz, 0.0); /* above the end: use the density at the end */
    }
    struct lds_band_power band;
    lds_floor_band(floor, low, high, 0, NULL, NULL, &band);
    if (dof)
        *dof = band.dof;
    return high > low ? band.power / (high - low) : NAN;
}
