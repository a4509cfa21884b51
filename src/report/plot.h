/* Pictures of one channel: each writes its data and a gnuplot script of its own. */
#ifndef LDS_REPORT_PLOT_H
#define LDS_REPORT_PLOT_H

#include <stdio.h>

#include "loadside/compare.h"
#include "loadside/series.h"
#include "report/figures.h"
#include "report/words.h"

/* Colours that the colour-blind can distinguish (Okabe and Ito 2008, "Color Universal Design"); curves also differ in
 * line or point style, for print in grey. */
#define LDS_BLUE "#0072b2"
#define LDS_SKY "#56b4e9"
#define LDS_VERMILION "#d55e00"
#define LDS_GREEN "#009e73"
#define LDS_GREY "#9aa5b0"

enum { LDS_PLOT_BATCH = 40 };

/* Where pictures go. */
struct lds_plot_place {
    const char *folder;
    unsigned options;
    int *drawn; /* set to 0 if there is no gnuplot: then there are only data and scripts */
    struct lds_error *error;
    /* Pictures whose data and scripts are written, to be drawn by one gnuplot: starting it takes longer than drawing.
     */
    char *base[LDS_PLOT_BATCH]; /* "STEM-NAME" */
    size_t queued;
    struct lds_point_locale locale;
};

/* The files of a picture. */
struct lds_plot_sheet {
    FILE *data, *script;
    const char *file; /* name of the data file, in the folder */
    int curves;       /* written so far */
};

/* One picture: files STEM-NAME.dat, .gp, .png and .svg in a folder. */
struct lds_plot_page {
    const char *stem, *name;
    const char *title;
    const char *subject, *tail; /* second line: cut when too long, and its fixed end */
    const char *conditions;     /* third line */
    bool on_page;               /* the page of a job may show it */
    bool low;                   /* a little lower, for the page */
    /* Writes the data; then axes and the plot command. Frame and captions are already set. */
    void (*draw)(struct lds_plot_sheet *sheet, const void *context);
    const void *context;
};

/* Writes data and script, and queues the picture to be drawn unless the options leave it out. */
enum lds_status lds_plot_make(struct lds_plot_place *place, const struct lds_plot_page *page);

/* Creates the folder if necessary; the last of the pictures are drawn by finish, which is to be called in any case with
 * the status so far. *place->drawn: whether there are pictures. */
enum lds_status lds_plot_begin(struct lds_plot_place *place);
enum lds_status lds_plot_finish(struct lds_plot_place *place, enum lds_status status);

/* Creates the folder if necessary. */
enum lds_status lds_plot_folder(const char *folder, struct lds_error *error);

/* Adds a curve to the plot command. */
void lds_plot_curve(struct lds_plot_sheet *sheet, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A side of a comparison, or the only one. */
struct lds_plot_side {
    const char *word; /* "before", "after" */
    struct lds_side side;
    const struct lds_channel *channel; /* of the first capture that has it; NULL: none */
    /* Its name in the key, "before: NAME, the first of 3", and in a picture of all captures: "before: NAME and 2 more";
     * for one capture its file, and its conditions. */
    const char *name, *all;
};

/* What is being drawn. */
struct lds_picture;
struct lds_plot {
    struct lds_plot_side side[2];
    const struct lds_compared_channel *compared; /* NULL: one capture */
    const struct lds_series *series;             /* for one capture: the series of lds_picture_series */
    bool on_page;                                /* the page of a job may show it, if it may show such a picture */
    int pair[2];                                 /* the pair that has the series; 0: the channel */
    const struct lds_series_kind *kind;          /* for a picture of any compared series: its kind, and its key in the
                                                  * comparison */
    struct lds_short key;
};
/* Makes a picture, if there is anything to draw, with files named after `stem` and its channel. */
enum lds_status lds_plot_picture(struct lds_plot_place *place, const struct lds_plot *plot, const char *stem,
                                 const struct lds_picture *picture);

/* "channel 2", "channels 1 and 2", with a text between the word and the numbers. */
struct lds_short lds_plot_where(const struct lds_plot *plot, const char *between);

struct lds_picture {
    const char *name, *title;                    /* "spectrum", "Spectrum"; NULL: any series, named after it */
    bool (*wanted)(const struct lds_plot *plot); /* whether there is anything to draw; NULL: there is */
    void (*draw)(struct lds_plot_sheet *sheet, const struct lds_plot *plot);
    enum lds_series_id series; /* that the channel of each side must have, in the same units; LDS_SERIES_OTHER: none in
                                * particular */
    bool of_all;               /* it shows all captures of the sides, not the first of each */
    bool on_page;              /* the page of a job may show it */
};

/* Whether a series of that kind is drawn in the picture of the one that it is a part of. */
bool lds_plot_is_part(const struct lds_channel *channel, const struct lds_series_kind *kind);

extern const struct lds_picture lds_picture_spectrum, lds_picture_density, lds_picture_harmonics, lds_picture_residual,
    lds_picture_mains, lds_picture_series;
extern const struct lds_picture lds_picture_both_spectra, lds_picture_both_densities, lds_picture_both_series,
    lds_picture_change, lds_picture_both_harmonics, lds_picture_both_residuals, lds_picture_both_mains,
    lds_picture_changes;

/* Curves that several pictures have. */
#define LDS_PLOT_INTERVAL                                                                                              \
    " using 1:3:4 with filledcurves fillcolor rgb '" LDS_GREY "' fillstyle solid 0.45 noborder title '95 %% interval"
#define LDS_PLOT_LIMIT " with points pointtype 10 pointsize 1.5*mark linewidth 1.5 linecolor rgb "
#define LDS_PLOT_ORDERS                                                                                                \
    "set xlabel 'order of the harmonic' noenhanced\nset ylabel 'level re fundamental, dB' noenhanced\n"                \
    "unset grid\nset grid ytics linecolor rgb '#dddddd' linetype 1 linewidth 0.5\n"

/* Text as a gnuplot string in single quotes, in which gnuplot interprets only the quote itself. That is put between
 * double quotes and joined with points: doubling it is the documented way, but gnuplot 5.4 does not read a string that
 * begins with one. Controls must be escaped before. columns: longer text is cut, with an ellipsis. */
void lds_plot_string(FILE *out, const char *text, int columns);

/* The last part of a path (may be NULL). */
const char *lds_plot_base_name(const char *path);

/* The start of the names of all files of a capture: STEM-channel1-spectrum.svg. No other capture of the array has the
 * same. */
struct lds_label lds_plot_stem(const struct lds_measurement *measurement, size_t place);

/* dBV, or dBFS where not calibrated. */
double lds_plot_decibels(bool calibrated, double level);

/* A number of a series as drawn: levels in decibels, densities in V/√Hz or dBFS, everything else unchanged. */
double lds_plot_drawn(enum lds_quantity quantity, bool calibrated, double number);

/* The columns drawn for the floor. */
extern const int lds_plot_floor[4];

/* Rows of a data file: for each column its number, with its limits if it has any. Without rows, a row of unknowns,
 * since an empty block would change the numbers of the blocks after it. */
void lds_plot_rows(FILE *out, const struct lds_series *series, bool calibrated, int columns, const int *column);

/* Lowest and highest of the values above 0 in a column; INFINITY and -INFINITY when there are none. */
void lds_plot_range(const struct lds_series *series, int column, double *low, double *high);

/* The x of a curve's first and last row; it must have rows. */
void lds_plot_ends(const struct lds_series *series, double *first, double *last);

/* For any series over an axis: the name of its picture, "response-gain" plus an ending; its axis; its data, which
 * widens the range to draw, and the frame for it. */
struct lds_short lds_plot_series_name(const char *key, const char *end);
void lds_plot_axis(FILE *out, const struct lds_series_kind *kind, bool calibrated, double first, double last);
void lds_plot_series_data(FILE *out, const struct lds_series *series, bool calibrated);
/* Makes room for the band in which a series that settles counts as settled, and draws it: two thin lines. */
void lds_plot_settle_range(const struct lds_plot *plot, const struct lds_series_kind *kind, double *low, double *high);
void lds_plot_settle_band(struct lds_plot_sheet *sheet, const struct lds_plot *plot,
                          const struct lds_series_kind *kind);
void lds_plot_series_range(const struct lds_series *series, bool calibrated, double *low, double *high);
void lds_plot_series_frame(FILE *out, const struct lds_series_kind *kind, bool calibrated, double low, double high);

/* The curves of the first two blocks, named after the sides. */
void lds_plot_side_curves(struct lds_plot_sheet *sheet, const struct lds_plot *plot);

/* A logarithmic axis of frequency. */
void lds_plot_frequency_axis(FILE *out, double first_hz, double last_hz);

/* "gain, dB" beside an axis, 'x' or 'y'; "coherence" without a unit. */
void lds_plot_axis_title(FILE *out, char axis, const char *what, const char *unit);

/* From low to high, with a tenth of that as room on both sides. */
void lds_plot_y_range(FILE *out, double low, double high);

/* A row of a data file: "NaN" when a number is unknown, which gnuplot leaves out. */
void lds_plot_number(FILE *out, double number);
void lds_plot_numbers(FILE *out, const double *number, size_t count);

/* Ends a block; one without rows gets a row of unknowns, since an empty block would change the numbers of those after
 * it. */
void lds_plot_block_end(FILE *out, size_t written, const char *unknowns);

/* The prefix that makes a number, the largest of many, one of 1 to 999, and its factor. */
const char *lds_plot_prefix(double largest, double *factor);

/* Runs gnuplot on scripts in the folder, after a command. LDS_OK with *ran = false when there is no gnuplot; *state, as
 * waitpid has it, is 0 when it ran without an error. */
enum lds_status lds_gnuplot_run(const char *folder, const char *command, char *const *script, size_t scripts, bool *ran,
                                int *state, struct lds_error *error);

#endif
