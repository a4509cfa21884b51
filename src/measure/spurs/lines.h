/* Lines that are known to stand in a spectrum, and the spectrum without them. */
#ifndef LDS_MEASURE_SPURS_LINES_H
#define LDS_MEASURE_SPURS_LINES_H

#include <stdbool.h>
#include <stddef.h>

#include "spectrum/density.h"

enum lds_line_kind { LDS_LINE_TONE, LDS_LINE_HARMONIC, LDS_LINE_MAINS, LDS_LINE_SPUR };

struct lds_known_line {
    enum lds_line_kind kind;
    int order;
    double frequency_hz;
    double spread_hz; /* half-width that its wander adds */
    double power;     /* mean square; for lines only suspected at that place, NAN (looked at in the spectrum);
                       * INFINITY takes the bins within spread_hz and a lobe whatever stands there */
};

struct lds_lines {
    size_t count;
    struct lds_known_line *line; /* rising in frequency */
};

enum { LDS_TAKEN_MEAN = 1 + LDS_LINE_SPUR + 1 }; /* the capture's mean at 0 Hz; never kept */

/* Bins [first, last] taken in one run. */
struct lds_gap {
    int first, last;
    double spread;            /* how many times its own width the gap adds to the variance of a band */
    double block[LDS_BLOCKS]; /* power on its two sides per eighth of the capture, over that of all of it */
};

/* A line that is believed: the bins [from, to] of the level that holds its frequency, up to half way to its neighbours.
 */
struct lds_floor_line {
    enum lds_line_kind kind;
    double frequency_hz;
    double power; /* as known before */
    int level, from, to;
};

struct lds_floor_zoom;

/* What a bin of a level holds once lines are told from noise: per level, n/2 + 1 entries. */
struct lds_floor {
    const struct lds_density *density;
    double *reference[LDS_LEVELS_MAX];    /* robust local density (running median, bias corrected, lines left out) */
    unsigned char *taken[LDS_LEVELS_MAX]; /* 0 noise; else 1 + the lds_line_kind whose lobe stands there */
    double *filled[LDS_LEVELS_MAX];       /* density with taken bins filled log-log from both sides */
    struct lds_gap *gap[LDS_LEVELS_MAX];  /* rising */
    int gaps[LDS_LEVELS_MAX];
    struct lds_floor_line *line; /* rising in frequency */
    size_t lines;
    const struct lds_floor_zoom
        *zoom; /* what takes the place of the levels close beside the tone; NULL: nothing does */
};

/* A stretch seen finer than the levels show it: one level, whose frequencies count from origin_hz. */
struct lds_floor_zoom {
    struct lds_floor floor;
    double origin_hz;
    double low_hz, high_hz; /* where it takes the place of the levels */
};

/* Power, and what its interval needs, of a band [low_hz, high_hz] by brick-wall integration over the composite spectrum
 * (bins cut in proportion at the edges). */
struct lds_band_power {
    double power;             /* mean square */
    double variance;          /* of power, from the spectrum's own degrees of freedom (steady noise) */
    double dof;               /* 2 power^2 / variance */
    double removed_hz;        /* width of taken bins that were filled */
    double block[LDS_BLOCKS]; /* the same power per eighth of the capture; NAN where a level has no frame in it */
    double block_variance[LDS_BLOCKS]; /* what steady noise of so many frames would give each */
    int blocks;
};

/* keep: bit mask of 1 << lds_line_kind; lines of those kinds stay in, all other lines are filled. A line that stays in
 * belongs to the band by its frequency and counts whole, whatever of its lobe an edge of the band or of a level cuts.
 * weight: power gain at a frequency (NULL: 1; a line's is that at its own frequency); context is handed to it. */
void lds_floor_band(const struct lds_floor *floor, double low_hz, double high_hz, unsigned keep,
                    double (*weight)(double frequency_hz, const void *context), const void *context,
                    struct lds_band_power *band);

/* Local noise density about a frequency, from the filled spectrum over +-span_hz, and its degrees of freedom. */
double lds_floor_density(const struct lds_floor *floor, double frequency_hz, double span_hz, double *dof);

/* Debiased mean square of a line at a frequency, from the bins within its lobe and spread: may be negative. Bins that
 * are barred (not 0; NULL: none are) hold something else and are left out; NAN where they leave less than half of it.
 */
double lds_floor_line_power(const struct lds_floor *floor, double frequency_hz, double spread_hz,
                            const unsigned char *barred);

/* The same of a line that stands beside another, both fitted together to the bins about them; *fits is false when they
 * are closer than two bins and cannot be told apart. */
double lds_floor_line_power_beside(const struct lds_floor *floor, double frequency_hz, double other_hz, bool *fits);

/* Where the composite spectrum goes over to level i: the lower edge of that level's first bin (0 for the slowest); for
 * i == levels, the upper edge of the last bin. */
double lds_floor_edge(const struct lds_density *density, int i);

/* Appends a line, keeping them in order. false: no memory. */
bool lds_lines_add(struct lds_lines *lines, const struct lds_known_line *line);

/* Finds the floor given the known lines. Suspected lines (power NAN) are taken only when they stand out. false: no
 * memory. lds_floor_free frees what it made. */
bool lds_floor_find(struct lds_floor *floor, const struct lds_density *density, const struct lds_lines *known);
void lds_floor_free(struct lds_floor *floor);

#endif
