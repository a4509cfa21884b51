#include "spectrum/sliding.h"

#include <string.h>

void lds_sliding_init(struct lds_sliding *sliding, double *buffer, size_t length, size_t hop)
{
    *sliding = (struct lds_sliding){.length = length, .hop = hop, .buffer = buffer};
}

const double *lds_sliding_push(struct lds_sliding *sliding, const double *x, size_t n, size_t *taken)
{
    struct lds_sliding *s = sliding;
    if (s->filled == s->length) { /* the window was returned last time */
        s->first += s->hop;
        s->filled -= s->hop;
        if (s->first + s->length > 2 * s->length) {
            memmove(s->buffer, s->buffer + s->first, s->filled * sizeof *s->buffer);
            s->first = 0;
        }
    }
    size_t room = s->length - s->filled;
    *taken = n < room ? n : room;
    memcpy(s->buffer + s->first + s->filled, x, *taken * sizeof *x);
    s->filled += *taken;
    return s->filled == s->length ? s->buffer + s->first : NULL;
}
