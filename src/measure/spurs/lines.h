/* The known lines in a spectrum, and the spectrum without them. */
#ifndef LDS_MEASURE_SPURS_LINES_H
#define LDS_MEASURE_SPURS_LINES_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/noise/reference.h"
#include "spectrum/density.h"

enum lds_line_kind { LDS_LINE_TONE, LDS_LINE_HARMONIC, LDS_LINE_MAINS, LDS_LINE_SPUR };

struct lds_known_line {
    enum lds_line_kind kind;
    int order;
    double frequency_hz;
    double spread_hz; /* half-width added by its wander */
    double power;     /* mean square; NAN: only suspected, to be looked for in the spectrum; INFINITY: takes the bins
                       * within spread_hz and a lobe, whatever is there */
};

struct lds_lines {
    size_t count;
    struct lds_known_line *line; /* in order of frequency */
};

enum { LDS_TAKEN_MEAN = 1 + LDS_LINE_SPUR + 1 }; /* the capture's mean at 0 Hz; never kept */

/* Bins [first, last], taken in one run. */
struct lds_gap {
    int first, last;
    double spread;            /* how many times its own width the gap adds to the variance of a band */
    double block[LDS_BLOCKS]; /* power on its two sides per eighth of the capture, relative to the whole capture */
};

/* An accepted line: the bins [from, to] on the level of its frequency, up to half way to its neighbours. */
struct lds_floor_line {
    enum lds_line_kind kind;
    double frequency_hz;
    double power; /* as known beforehand */
    int level, from, to;
};

struct lds_floor_zoom;

/* What the bins of a level hold after separating lines and noise: per level, n/2 + 1 entries. */
struct lds_floor {
    const struct lds_density *density;
    double *reference[LDS_LEVELS_MAX];    /* robust local density (running median, bias corrected, lines left out) */
    unsigned char *taken[LDS_LEVELS_MAX]; /* 0: noise; else 1 + the lds_line_kind whose lobe is there */
    double *filled[LDS_LEVELS_MAX];       /* density, with taken bins filled log-log from both sides */
    struct lds_gap *gap[LDS_LEVELS_MAX];  /* in order of bins */
    int gaps[LDS_LEVELS_MAX];
    struct lds_floor_line *line; /* in order of frequency */
    size_t lines;
    struct lds_reference_past past[LDS_LEVELS_MAX];
    const struct lds_floor_zoom *zoom; /* replaces the levels close to the tone; NULL: nothing does */
};

/* A stretch with finer bins than the levels have: one level, whose frequencies count from origin_hz. */
struct lds_floor_zoom {
    struct lds_floor floor;
    double origin_hz;
    double low_hz, high_hz; /* where it replaces the levels */
};

/* Power, and what its interval needs, of a band [low_hz, high_hz] by brick-wall integration over the composite spectrum
 * (bins cut in proportion at the edges). */
struct lds_band_power {
    double power;             /* mean square */
    double variance;          /* of power, from the spectrum's own degrees of freedom (steady noise) */
    double dof;               /* 2 power^2 / variance */
    double removed_hz;        /* total width of the taken bins that were filled */
    double block[LDS_BLOCKS]; /* the same power per eighth of the capture; NAN where a level has no frame in it */
    double block_variance[LDS_BLOCKS]; /* its variance for steady noise over as many frames */
    int blocks;
};

/* keep: bit mask of 1 << lds_line_kind; lines of those kinds are kept, all others are filled. A kept line belongs to
 * the band by its frequency and counts in full, even if an edge of the band or of a level cuts its lobe. weight: power
 * gain at a frequency (NULL: 1; for a line, at its own frequency); context is passed to it. */
void lds_floor_band(const struct lds_floor *floor, double low_hz, double high_hz, unsigned keep,
                    double (*weight)(double frequency_hz, const void *context), const void *context,
                    struct lds_band_power *band);

/* Local noise density around a frequency, from the filled spectrum over +-span_hz, and its degrees of freedom. */
double lds_floor_density(const struct lds_floor *floor, double frequency_hz, double span_hz, double *dof);

/* Debiased mean square of a line at a frequency, from the bins within its lobe and spread; may be negative. barred:
 * bins that are not 0 hold something else and are left out (NULL: none). NAN when less than half of the line is
 * left. */
double lds_floor_line_power(const struct lds_floor *floor, double frequency_hz, double spread_hz,
                            const unsigned char *barred);

/* The same for a line close to another one: both are fitted together to the bins around them; *fits is false when they
 * are closer than two bins and cannot be separated. */
double lds_floor_line_power_beside(const struct lds_floor *floor, double frequency_hz, double other_hz, bool *fits);

/* Where the composite spectrum changes to level i: the lower edge of that level's first bin (0 for the slowest); for i
 * == levels, the upper edge of the last bin. */
double lds_floor_edge(const struct lds_density *density, int i);

/* Adds a line, in order of frequency. false: no memory. */
bool lds_lines_add(struct lds_lines *lines, const struct lds_known_line *line);

/* Finds the floor given the known lines. Suspected lines (power NAN) are taken only when they stand out. false: no
 * memory. Free *floor with lds_floor_free. */
bool lds_floor_find(struct lds_floor *floor, const struct lds_density *density, const struct lds_lines *known);
/* The same with other lines, in a floor that was found: costs little where only a few differ. */
bool lds_floor_find_again(struct lds_floor *floor, const struct lds_lines *known);
void lds_floor_free(struct lds_floor *floor);

#endif
