/* Writers: from one measurement record to one format. None of them knows what a figure means. */
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

/* What matters of each capture, on one screen a channel (40 lines of 80 columns, UTF-8). options: LDS_SCREEN_KEYS puts
 * the key of each figure beside its label. */
enum { LDS_SCREEN_KEYS = 1 }; /* of units and histories: keys in place of labels */
enum lds_status lds_report_screen(const struct lds_measurement *measurement, size_t count, unsigned options, FILE *out,
                                  struct lds_error *error);

/* All of it: text for people, 80 columns, UTF-8. */
enum lds_status lds_report_text(const struct lds_measurement *measurement, size_t count, FILE *out,
                                struct lds_error *error);

/* The JSON contract "loadside-measurement" version 1, with all captures in one object. path "-": standard output.
 * Written completely or not at all. */
enum lds_status lds_report_json(const struct lds_measurement *measurement, size_t count, const char *path,
                                struct lds_error *error);

/* One row per figure, RFC 4180, with a header that has units. path "-": standard output. Written completely or not at
 * all. */
enum lds_status lds_report_csv(const struct lds_measurement *measurement, size_t count, const char *path,
                               struct lds_error *error);

enum {
    LDS_PLOT_PDF = 1,
    LDS_PLOT_PAGE = 2,   /* draw only what the page of a job may show, as SVG */
    LDS_PLOT_SCRIPTS = 4 /* draw nothing */
};

/* gnuplot scripts, their data and, if gnuplot is installed, PNG and SVG (and PDF on request) of every channel of every
 * capture, into folder, which is created if missing. Scripts and data are always those of all pictures. *drawn: 0 when
 * there is no gnuplot. */
enum lds_status lds_report_plots(const struct lds_measurement *measurement, size_t count, const char *folder,
                                 unsigned options, int *drawn, struct lds_error *error);

/* The same for a comparison: the answer on one screen (LDS_SCREEN_KEYS: keys in place of labels); all of it as text;
 * the JSON contract "loadside-comparison" version 1; CSV; and plots of both sides (the measurements are those that were
 * compared; without curves, what needs them is left out).
 */
enum lds_status lds_comparison_screen(const struct lds_comparison *comparison, unsigned options, FILE *out,
                                      struct lds_error *error);
enum lds_status lds_comparison_text(const struct lds_comparison *comparison, FILE *out, struct lds_error *error);
enum lds_status lds_comparison_json(const struct lds_comparison *comparison, const char *path, struct lds_error *error);
enum lds_status lds_comparison_csv(const struct lds_comparison *comparison, const char *path, struct lds_error *error);
enum lds_status lds_comparison_plots(const struct lds_comparison *comparison, struct lds_side before,
                                     struct lds_side after, const char *folder, unsigned options, int *drawn,
                                     struct lds_error *error);

/* The same for units side by side ("loadside-units" version 1). */
enum lds_status lds_units_text(const struct lds_unit_table *table, size_t tables, unsigned options, FILE *out,
                               struct lds_error *error);
enum lds_status lds_units_json(const struct lds_unit_table *table, size_t tables, const char *path,
                               struct lds_error *error);
enum lds_status lds_units_csv(const struct lds_unit_table *table, size_t tables, const char *path,
                              struct lds_error *error);

/* The same for a ledger: its units ("loadside-ledger" version 1), and the history of one unit with its standing
 * ("loadside-history" version 1), whose plots show the main figures over the dates. */
enum lds_status lds_ledger_units_text(const struct lds_ledger_unit *unit, size_t units, FILE *out,
                                      struct lds_error *error);
enum lds_status lds_ledger_units_json(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                      struct lds_error *error);
enum lds_status lds_ledger_units_csv(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                     struct lds_error *error);
enum lds_status lds_history_text(const struct lds_ledger_history *history, unsigned options, FILE *out,
                                 struct lds_error *error);
/* The result of lds_ledger_place, without the table over time. */
enum lds_status lds_standing_text(const struct lds_ledger_history *placed, unsigned options, FILE *out,
                                  struct lds_error *error);
enum lds_status lds_history_json(const struct lds_ledger_history *history, const char *path, struct lds_error *error);
enum lds_status lds_history_csv(const struct lds_ledger_history *history, const char *path, struct lds_error *error);
enum lds_status lds_history_plots(const struct lds_ledger_history *history, const char *folder, unsigned options,
                                  int *drawn, struct lds_error *error);

/* A copy of text from outside that is safe on a terminal and in a text file: each byte that is not UTF-8 becomes
 * U+FFFD, and all controls and characters that change the writing direction are escaped as \x1b or \u202e, so that a
 * name can neither control a terminal nor reverse a line. To be freed; NULL: no memory. */
char *lds_words_escape(const char *text);

/* Remarks as a list for people, 80 columns. */
enum lds_status lds_remarks_text(const struct lds_remarks *remarks, FILE *out, struct lds_error *error);

/* The report of a job: text for people, 80 columns, UTF-8; and its summary alone. */
enum lds_status lds_job_text(const struct lds_job *job, FILE *out, struct lds_error *error);
enum lds_status lds_job_summary(const struct lds_job *job, FILE *out, struct lds_error *error);

/* The same as one HTML file to read and print. plots_folder: where the pictures are (of lds_report_plots and
 * lds_comparison_plots), those of each group in a folder named after its slug; NULL: no pictures. Written completely or
 * not at all. */
enum lds_status lds_job_html(const struct lds_job *job, const char *plots_folder, const char *path,
                             struct lds_error *error);

struct lds_folder_options {
    int threads;    /* 0: as many as cores. The report does not depend on it */
    bool all_plots; /* draw every picture, as PNG too; without it those that the page may show, as SVG */
    /* Called now and then from the thread that called lds_job_folder; NULL: not wanted. */
    void (*progress)(void *context, const char *doing, double fraction);
    void *progress_context;
};

/* Everything of a job in one folder: report.html, report.txt, figures.json, figures.csv, changes-SLUG.json for each
 * group compared, and plots/SLUG for each group, plots/chain. Made next to its place and moved there as a whole: a run
 * that is stopped leaves the old folder or none, and the next run removes what it left. Files in the old folder that
 * loadside did not make are kept. options may be NULL. *drawn: whether gnuplot ran. LDS_IO: cannot be written;
 * LDS_BAD_USE: as for lds_job_folder_check, or a file that loadside did not make has the name of a new one. */
enum lds_status lds_job_folder(const struct lds_job *job, const char *folder, const struct lds_folder_options *options,
                               int *drawn, struct lds_error *error);

/* Whether a report can be written there; call it before measuring. LDS_BAD_USE: the folder has files, but no report of
 * loadside; LDS_IO: it is not a folder, or cannot be read. */
enum lds_status lds_job_folder_check(const char *folder, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
