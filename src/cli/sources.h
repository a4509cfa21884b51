/* What is named on the command line: captures, which are measured, and saved results, which are read. */
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

/* Opens a capture, or reads a saved result. Says what is wrong; the source is to be closed either way. */
bool source_open(struct source *source, const char *path, const struct common *common);
void source_close(struct source *source);

/* Puts the source's measurements at the end of the list: measures a capture, no farther than end_hz (INFINITY: as far
 * as it goes), or takes what was read. Says what is wrong. */
bool source_measure(struct source *source, const struct common *common, struct lds_measure_options *options,
                    double end_hz, struct measured *measured);

/* Several of them, open at once so that it is known how far all of them reach before any is measured, with all that
 * measuring them takes. */
struct sources {
    const struct common *common;
    struct lds_measure_options measure;
    struct measured chains; /* the recordings of the chain, measured */
    struct source *source;
    size_t count;
    double end_hz, farthest_hz; /* Hz: the lowest and the highest end */
    bool good;                  /* none had to be left out */
};

/* Opens those that can be, says what is wrong with the others and leaves them out; measures the chain's recordings.
 * false: the bench or the options do not suit them, a chain cannot be measured, or memory ran out, which was said. The
 * sources are to be closed either way. */
bool sources_open(struct sources *sources, const struct common *common, int count, char *const *paths);
void sources_close(struct sources *sources);

/* Measures the sources from first to before last up to where all of them reach, so that all figures cover the same
 * bands. false: one could not be measured, which was said. */
bool sources_measure(struct sources *sources, size_t first, size_t last, struct measured *measured);

/* An option that was given and that only captures can follow, or NULL. */
const char *sources_option(const struct common *common);

/* Whether options that only captures can follow were given although there is none among `captures` of the sources; says
 * which. */
bool sources_check(const struct common *common, size_t captures);

/* Measures the recordings of the chain that were asked for. Says what is wrong. */
bool chains_measure(const struct common *common, struct lds_measure_options *options, double end_hz,
                    struct measured *chains);

/* Marks what the chains explain in each measurement; says where they do not fit. */
bool chains_apply(const struct measured *chains, struct measured *measured);

#endif
