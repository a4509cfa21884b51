/* The parts of the text report, in the order of the page. */
#ifndef LDS_REPORT_TEXT_H
#define LDS_REPORT_TEXT_H

#include <stdio.h>

#include "loadside/compare.h"
#include "loadside/error.h"
#include "loadside/measurement.h"
#include "report/figures.h"
#include "report/words.h"
#include "scrap.h"

/* Receives sentences, one at a time. */
struct lds_listener {
    void (*hear)(void *context, const char *sentence);
    void *context;
};
/* A listener that prints each as a paragraph. */
struct lds_listener lds_text_listener(FILE *out);

/* Says whether the recording can be trusted: what is wrong with it, where and how often. */
void lds_trust_say(const struct lds_channel *channel, const struct lds_listener *listener);

/* Tables of the series of a section. */
void lds_text_series(FILE *out, const struct lds_series *series, size_t count, bool calibrated,
                     enum lds_section section);

/* The rows of a section's figures, and why others are absent. */
void lds_text_section(FILE *out, const struct lds_figure *figure, size_t figures, const struct lds_absent *absent,
                      size_t absents, enum lds_section section);

/* A heading with a rule under it, after an empty line. */
void lds_text_heading(FILE *out, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A paragraph, escaped, to the right of its title, which is ASCII and already as wide as its column. */
void lds_text_titled(FILE *out, const char *title, const char *text);

/* The first column of a row: its label after two blanks. A label that is too wide gets a line of its own above. */
void lds_text_label_column(FILE *out, const char *label, int width);

/* A text that is first made in memory, and then printed completely or not at all. Memory that runs out meanwhile is
 * noted (scarce.h). begin returns where to print, NULL without memory; finish is to be called either way. */
struct lds_text_page { /* must not be moved between the two */
    struct lds_scrap scrap;
    struct lds_point_locale locale;
};
FILE *lds_text_begin(struct lds_text_page *page);
enum lds_status lds_text_finish(struct lds_text_page *page, FILE *out, struct lds_error *error);

/* One capture on such a page. */
void lds_capture_print(FILE *page, const struct lds_measurement *measurement);

/* The tables of a comparison as a report has them: without limits, and without what is still to do at the bench. */
void lds_comparison_tables(FILE *page, const struct lds_comparison *comparison);

/* Prints "WHAT A, B and C: reason.", once for each reason, for the keys of a section. */
enum { LDS_TEXT_ANY_SECTION = -1 };
void lds_absents_say(const char *what, const struct lds_absent *absent, size_t count, int section,
                     const struct lds_listener *listener);
void lds_text_absents(FILE *out, const char *what, const struct lds_absent *absent, size_t count, int section);

/* A line's frequency in a table, and its width in columns. */
enum { LDS_TEXT_FREQUENCY_COLUMNS = 13 };
struct lds_short lds_line_frequency(double frequency_hz);

/* "noise, lines out, 20 Hz to 20 kHz": the label of a key with the meaning of its suffix. figure may be NULL. */
struct lds_label lds_text_label(const char *key, const struct lds_figure *figure);
/* The same with names in place of the numbers of a pair's channels, where both have one. */
struct lds_label lds_named_label(const char *key, const struct lds_figure *figure, const char *const channel_name[2]);

/* Passes on the scrap, unless it is empty, and frees it. */
void lds_text_scrap_say(struct lds_scrap *scrap, const struct lds_listener *listener);
/* Prints the scrap as a paragraph, unless it is empty, and frees it. */
void lds_text_scrap_print(struct lds_scrap *scrap, FILE *out, int indent, int hanging);

/* "left", or "channel 1" without a name; to begin a line with; and as a heading. */
struct lds_label lds_channel_words(const char *name, int channel);
/* "left and right", or "channels 1 and 2" where a name is missing. */
struct lds_label lds_pair_words(const char *const name[2], const int channel[2]);
struct lds_label lds_pair_words_of(const struct lds_measurement *measurement, const int channel[2]);
struct lds_label lds_channel_title(const char *name, int channel);
void lds_text_channel_heading(FILE *out, const char *name, int channel);

/* "2nd". */
struct lds_short lds_text_ordinal(int order);

#endif
