/* Writers: one measurement record in, one format out. None of them knows what a figure means. */
#ifndef LOADSIDE_REPORT_H
#define LOADSIDE_REPORT_H

#include <stdio.h>

#include "loadside/compare.h"
#include "loadside/job.h"
#include "loadside/ledger.h"
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

/* The same for a comparison: text beginning with the answer; the JSON contract "loadside-comparison" version 1; CSV;
 * and plots of both sides (the measurements are those that were compared; without curves, what needs them is left out).
 */
enum lds_status lds_comparison_text(const struct lds_comparison *comparison, FILE *out, struct lds_error *error);
enum lds_status lds_comparison_json(const struct lds_comparison *comparison, const char *path, struct lds_error *error);
enum lds_status lds_comparison_csv(const struct lds_comparison *comparison, const char *path, struct lds_error *error);
enum lds_status lds_comparison_plots(const struct lds_comparison *comparison, struct lds_side before,
                                     struct lds_side after, const char *folder, unsigned options, int *drawn,
                                     struct lds_error *error);

/* The same for units side by side ("loadside-units" version 1). */
enum lds_status lds_units_text(const struct lds_unit_table *table, size_t tables, FILE *out, struct lds_error *error);
enum lds_status lds_units_json(const struct lds_unit_table *table, size_t tables, const char *path,
                               struct lds_error *error);
enum lds_status lds_units_csv(const struct lds_unit_table *table, size_t tables, const char *path,
                              struct lds_error *error);

/* The same for a ledger: its units ("loadside-ledger" version 1), and the history of one unit with its standing
 * ("loadside-history" version 1), for which plots show the main figures over the dates. */
enum lds_status lds_ledger_units_text(const struct lds_ledger_unit *unit, size_t units, FILE *out,
                                      struct lds_error *error);
enum lds_status lds_ledger_units_json(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                      struct lds_error *error);
enum lds_status lds_ledger_units_csv(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                     struct lds_error *error);
enum lds_status lds_history_text(const struct lds_ledger_history *history, FILE *out, struct lds_error *error);
enum lds_status lds_history_json(const struct lds_ledger_history *history, const char *path, struct lds_error *error);
enum lds_status lds_history_csv(const struct lds_ledger_history *history, const char *path, struct lds_error *error);
enum lds_status lds_history_plots(const struct lds_ledger_history *history, const char *folder, unsigned options,
                                  int *drawn, struct lds_error *error);

/* The report of a job. Text for people, 80 columns, UTF-8. */
enum lds_status lds_job_text(const struct lds_job *job, FILE *out, struct lds_error *error);

/* The same as one HTML file to read and print. plots_folder: where pictures of the captures and comparisons stand, to
 * be taken in; NULL or without pictures: none. Written whole or not at all. */
enum lds_status lds_job_html(const struct lds_job *job, const char *plots_folder, const char *path,
                             struct lds_error *error);

/* Everything of a job in one folder: report.html, report.txt, figures.json, figures.csv, changes-SLUG.json of each
 * group compared, and plots. Made beside its place and put there as a whole: a run that is stopped leaves the old
 * folder or none. What loadside did not make in the old folder moves into the new one. *drawn tells whether gnuplot
 * ran. LDS_IO: cannot be written; LDS_BAD_USE: the folder holds files, but no report of loadside. */
enum lds_status lds_job_folder(const struct lds_job *job, const char *folder, int *drawn, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
