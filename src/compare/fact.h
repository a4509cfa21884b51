/* The change from one side to the other: its size, interval and p, and, if it is judged, its word. */
#ifndef LDS_COMPARE_FACT_H
#define LDS_COMPARE_FACT_H

#include "compare/reading.h"
#include "loadside/compare.h"

struct lds_delta {
    double change, low, high; /* NAN: not known, open */
    double u, dof;            /* of the change; NAN when a side is below the floor */
    double p;                 /* two-sided, of no change */
    double u_data, u_fixed;   /* the part that a longer capture reduces, and the part that it does not; NAN like u */
};

/* u_rep: standard uncertainty from one capture to the next, on the scale; 0: none. shared_bench: the bench's part
 * cancels. from_repeats: Welch's t over the captures of both sides, each of which has a value, instead of u_rep.
 * inverted: the figure falls when the chain adds more. */
struct lds_delta_way {
    double u_rep;
    bool shared_bench, from_repeats, inverted;
};

/* Does the chain alone explain this side? Then the side only limits the amplifier's part from above, and the change is
 * open at one end. */
bool lds_is_hidden(const struct lds_pooled *side);

void lds_delta_find(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                    struct lds_delta *delta);

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
