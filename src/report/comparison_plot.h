/* Pictures of one channel before and after. */
#ifndef LDS_REPORT_COMPARISON_PLOT_H
#define LDS_REPORT_COMPARISON_PLOT_H

#include <stdio.h>

#include "loadside/compare.h"

/* One side of the channel. */
struct lds_plot_side {
    const char *word; /* "before", "after" */
    struct lds_side side;
    const struct lds_channel *channel; /* of the first capture that has it; NULL: none */
    char *name;                        /* what the key calls it: "before: NAME, the first of 3" */
    char *all;                         /* what a picture of all captures calls it: "before: NAME and 2 more" */
};

struct lds_comparison_plot {
    const struct lds_compared_channel *compared;
    struct lds_plot_side side[2];
    /* Of a picture of any series: its kind, the pair that has it (0: the channel), its key in the comparison. */
    const struct lds_series_kind *kind;
    int pair[2];
    char key[64];
};

struct lds_comparison_picture {
    const char *name, *title; /* NULL: of any series, named after it */
    bool (*wanted)(const struct lds_comparison_plot *plot);
    void (*write_data)(FILE *out, const struct lds_comparison_plot *plot);
    void (*write_script)(FILE *out, const char *data, const struct lds_comparison_plot *plot);
    bool of_all; /* it shows what all captures of the sides say, not the first of each */
};

extern const struct lds_comparison_picture lds_picture_both_spectra, lds_picture_both_densities,
    lds_picture_both_series, lds_picture_change, lds_picture_both_harmonics, lds_picture_changes;

#endif
