/* The inputs on the command line: captures, which are measured, and saved results, which are read. */
#ifndef CLI_SOURCES_H
#define CLI_SOURCES_H

#include "common.h"

struct measured {
    struct lds_measurement *measurement;
    size_t count;
};
void measured_free(struct measured *measured);

struct source {
    const char *path;
    struct lds_capture *capture; /* NULL: a saved result, or measured already */
    struct measured saved;
};

/* Opens a capture, or reads a saved result. Prints what is wrong; close the source in either case. */
bool source_open(struct source *source, const char *path, const struct common *common);
void source_close(struct source *source);

/* Appends the source's measurements to the list: measures a capture, up to end_hz at most (INFINITY: as far as it
 * goes), or takes what was read. Prints what is wrong. */
bool source_measure(struct source *source, const struct common *common, struct lds_measure_options *options,
                    double end_hz, struct measured *measured);

/* Room at the end of the list for so many more; count them when they are there. NULL: no memory, which has been
 * reported. */
struct lds_measurement *measured_room(struct measured *measured, size_t count);

/* Several of them, all opened before any is measured, to know how far all of them reach; with everything needed to
 * measure them. */
struct sources {
    const struct common *common;
    struct lds_measure_options measure;
    struct measured chains; /* the recordings of the chain, measured */
    struct source *source;
    size_t count;
    double end_hz, farthest_hz; /* Hz: the lowest and the highest end */
    bool good;                  /* none had to be left out */
};

/* Opens those that can be opened, prints what is wrong with the others and leaves them out; measures the chain's
 * recordings. false: the bench or the options do not suit them, a chain cannot be measured, or no memory, which has
 * been reported. Close the sources in either case. */
bool sources_open(struct sources *sources, const struct common *common, int count, char *const *paths);
void sources_close(struct sources *sources);

/* Measures the sources from first to before last up to where all of them reach, so that all figures cover the same
 * bands. false: one could not be measured, which has been reported. */
bool sources_measure(struct sources *sources, size_t first, size_t last, struct measured *measured);

/* An option that was given and applies only to captures, or NULL. */
const char *sources_option(const struct common *common);

/* Whether options that apply only to captures were given although none of the sources is one (captures: their number);
 * prints which. */
bool sources_check(const struct common *common, size_t captures);

/* Measures the recordings of the chain that were named. Prints what is wrong. */
bool chains_measure(const struct common *common, struct lds_measure_options *options, double end_hz,
                    struct measured *chains);

/* Marks what the chains explain in each measurement; prints where they do not fit. */
bool chains_apply(const struct measured *chains, struct measured *measured);

#endif
