/* Writers: one measurement record in, one format out. None of them knows what a figure means. */
#ifndef LOADSIDE_REPORT_H
#define LOADSIDE_REPORT_H

#include <stdio.h>

#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Text for people, 80 columns, UTF-8. */
enum lds_status lds_report_text(const struct lds_measurement *measurement, size_t count, FILE *out,
                                struct lds_error *error);

/* The JSON contract "loadside-measurement" version 1, all captures in one object. path "-": standard output.
 * Written whole or not at all. */
enum lds_status lds_report_json(const struct lds_measurement *measurement, size_t count, const char *path,
                                struct lds_error *error);

/* One row a figure, RFC 4180, header with units. path "-": standard output. Written whole or not at all. */
enum lds_status lds_report_csv(const struct lds_measurement *measurement, size_t count, const char *path,
                               struct lds_error *error);

enum { LDS_PLOT_PDF = 1 };

/* gnuplot scripts, their data and, when gnuplot is there, PNG and SVG (and PDF when asked) of every channel of every
 * capture into folder, which is made when missing. *drawn tells whether gnuplot ran. */
enum lds_status lds_report_plots(const struct lds_measurement *measurement, size_t count, const char *folder,
                                 unsigned options, int *drawn, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
