/* One judged change until it has its word. */
#ifndef LDS_COMPARE_FACT_H
#define LDS_COMPARE_FACT_H

#include "compare/delta.h"
#include "loadside/compare.h"

struct lds_fact {
    struct lds_delta delta;
    double matters;
    double margin_db; /* with one side below the floor: how far the other is above its upper limit */
    bool below[2];    /* before, after: below the floor */
    bool hidden[2];   /* before, after: the chain alone explains it, so delta has an open end */
    bool from_repeats;
    double seconds; /* length of a capture */
    /* decided: */
    double p_adjusted;
    enum lds_word word;
    bool at_least;
    double resolve_seconds;
};

/* The change between two sides, not decided yet. matters NAN: it is only shown. seconds: length of a capture. */
void lds_fact_make(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                   double matters, double seconds, struct lds_fact *fact);

/* The word, from p_adjusted. false_alarm: over all `judged` changes. */
void lds_fact_decide(struct lds_fact *fact, double false_alarm, size_t judged);

/* Holm over all that are judged, and their words. false: no memory. */
bool lds_facts_decide(struct lds_fact *const *fact, size_t count, double false_alarm);

#endif
