/* The data of a comparison while it is made. */
#ifndef LDS_COMPARE_WORK_H
#define LDS_COMPARE_WORK_H

#include "compare/fact.h"
#include "compare/scatter.h"
#include "compare/view.h"

struct lds_part { /* of one channel, with the pairs in which it is the second */
    struct lds_compared_channel *out;
    struct lds_view view;
    struct lds_fact *change; /* parallel to out->change; for those only shown, matters is NAN */
    struct lds_fact *line;   /* parallel to out->line */
};

struct lds_pair_part { /* of a pair of channels */
    struct lds_view view;
    struct lds_part *of[2];
};

struct lds_work {
    const struct lds_compare_options *options;
    struct lds_captures captures;
    bool repeats;
    struct lds_scatter scatter;
    struct lds_comparison *out;
    struct lds_part *part; /* with both out->channels */
    size_t pairs;
    struct lds_pair_part *pair;
};

/* Each returns false when there is no memory. */
bool lds_changes_find(struct lds_work *work, struct lds_part *part, const struct lds_view *view);
bool lds_lines_find_changes(struct lds_work *work, struct lds_part *part);
bool lds_axis_find(struct lds_work *work);
bool lds_limits_judge(struct lds_work *work, struct lds_part *part);
bool lds_hints_find(struct lds_part *part);
bool lds_notes_find(struct lds_work *work, struct lds_side before, struct lds_side after);

/* Are they the same recording: the same file, or figures equal to the last digit? */
bool lds_same_capture(const struct lds_measurement *a, const struct lds_measurement *b);

/* Has a figure an interval and a family to be judged by? */
bool lds_is_judged(const struct lds_figure *figure);

/* Names captures that differ from the other repeats of their side. */
bool lds_odd_repeats_find(struct lds_work *work);

/* "noise without hum, 20-20k": the name as people read it. */
void lds_name_words(const struct lds_figure_name *name, char *words, size_t size);

/* Adds a sentence to a list, or to the notes of a comparison or of a table of units. */
bool lds_say(char ***list, size_t *count, const char *format, ...) __attribute__((format(printf, 3, 4)));
#define lds_note(owner, ...) lds_say(&(owner)->note, &(owner)->notes, __VA_ARGS__)

#endif
