/* Measurements made by hand, for the reports to write. */
#ifndef TESTS_REPORT_SAMPLE_H
#define TESTS_REPORT_SAMPLE_H

#include "loadside/measurement.h"

/* A capture of two channels of an invented amplifier, calibrated or not, with every kind of entry: figures with and
 * without intervals, below the floor, cut, flagged and absent ones; harmonics, mains, spurs, floor, problems, curves.
 */
struct lds_measurement sample_measurement(const char *file, bool calibrated);

/* Keeps only the first rows of its series of that key. */
void sample_cut(struct lds_channel *channel, const char *key, size_t rows);

/* Names that a report must survive: quotes, commas, line breaks, control characters, bytes that are not UTF-8. */
extern const char *const nasty_names[];
extern const size_t nasty_names_count;

/* The whole of a file, ended by a 0 byte; fails the test when it cannot be read. */
char *read_all(const char *path);

/* In the data of a picture: a column, counted from 0, of the row of a block whose first column is nearest to x. NAN:
 * the block has no such row within 1 %. */
double sample_plotted(const char *data, int block, double x, int column);

/* A new folder under the temporary directory; *path is to be freed. */
char *new_folder(void);

#endif
