/* One judged change on its way to a word. */
#ifndef LDS_COMPARE_FACT_H
#define LDS_COMPARE_FACT_H

#include "compare/delta.h"
#include "loadside/compare.h"

struct lds_fact {
    struct lds_delta delta;
    double matters;
    double margin_db; /* a side below the floor: by how much the other clears its upper limit */
    bool below[2];    /* before, after: below the floor */
    bool hidden[2];   /* before, after: the chain alone explains it, so that delta has an open end */
    bool from_repeats;
    double seconds; /* length of a capture */
    /* decided: */
    double p_adjusted;
    enum lds_word word;
    bool at_least;
    double resolve_seconds;
};

/* The word, from p_adjusted. false_alarm: over all `judged` changes. */
void lds_fact_decide(struct lds_fact *fact, double false_alarm, size_t judged);

/* That of a change which is shown: whether it changed is one question, whether by more than matters another. */
enum lds_word lds_word_of_size(double change, double matters);

#endif
