/* Figures as they leave lds_measure, compared with known truths over the captures of a scene: value, interval and
 * degrees of freedom. A program of such tests is a list of scenes; each figure of each is a separate test, named by its
 * key. */
#ifndef TESTS_JUDGE_H
#define TESTS_JUDGE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/measurement.h"

enum judged_kind {
    JUDGED_SCATTER, /* u_a is the scatter of the error over the captures */
    JUDGED_CLOSED,  /* the standard uncertainty follows a closed form, `u`, and is not that scatter */
    JUDGED_EXACT,   /* a count, or a certain property of the samples: value, low and high are the truth */
    JUDGED_BARE,    /* a number without an interval */
    JUDGED_LIMIT,   /* below the floor: only an upper limit, near `u` (in dB: within that many dB of it), above the
                     * truth */
    JUDGED_OPEN,    /* without limits, but with degrees of freedom and the scatter that they imply */
};

/* A figure of a scene. A row names its key and how it is judged; the scene sets the truths of each capture. */
struct judged {
    const char *key;  /* or of a line: "harmonics.2.level", "mains.3.level", "spurs.margin", "floor.mean", ... */
    bool pair;        /* of the first pair of channels */
    int channel;      /* counted from 0 */
    double at_hz;     /* spurs and floor: the one at this frequency */
    double bias;      /* what the mean may be off by, in the figure's unit, besides what scatter explains */
    double dof;       /* 0: infinite */
    bool or_infinite; /* or that */
    double
        share[2]; /* limits of degrees of freedom over `dof`; {0, 0}: 0.7 to 1.15, as frames stop short of the ends */
    double spread[2]; /* limits of scatter over u_a; {0, 0}: 0.72 to 1.4 */
    double width[2];  /* limits of the half interval over its coverage times u; {0, 0}: 0.9 to 1.12 */
    enum judged_kind kind;

    double truth; /* for the current capture */
    double u;     /* JUDGED_CLOSED: u_a and u_b together; JUDGED_LIMIT: the limit */

    int seen, missing, held, unsteady, finite, odd_dof;
    double error_sum, error_squares, error_most, u_squares, u_ratio, half_ratio, dof_sum;
};

#define FIGURE(name, ...)                                                                                              \
    {                                                                                                                  \
        .key = (name), __VA_ARGS__                                                                                     \
    }

struct scene {
    const char *name;
    struct judged *row;
    size_t rows;
    void (*run)(struct scene *scene);
};

/* Degrees of freedom of the power of noise in a band over a time: 2 T (int w S)^2/int (w S)^2/c, with the constant of
 * docs/figures.md for the analysis window. NULL: no weighting, white. */
double judge_band_dof(double seconds, double low_hz, double high_hz, double (*density)(double, const void *),
                      const void *context, double (*weighting_db)(double));

/* The row of that key, to set its truth. The program ends when there is none. */
struct judged *judge_row(struct scene *scene, const char *key);
void judge_truth(struct scene *scene, const char *key, double truth);

/* Collects the results of a capture for every row. */
void judge_capture(struct scene *scene, const struct lds_measurement *measurement);

/* The number of a line that a row's key names, as a figure: "harmonics.2.level", "mains.3.level", "spurs.margin",
 * "floor.mean", ... Without u_a; without limits where it has none; its value NAN where there is no such line. false:
 * the key is not one of a line. */
bool judge_line(const struct lds_measurement *measurement, const struct judged *row, struct lds_figure *figure);

/* --list: the keys judged; --keys: all rows of the table of keys; --only KEY: the scenes and tests of that key alone.
 */
int judge_main(int argc, char **argv, struct scene *scenes, size_t count);

#endif
