#include "compare/axis.h"

#include <math.h>
#include <string.h>

/* Neighbours differ if they are this many standard deviations apart. Noise in a hundred values seldom makes two halves
 * of them, however they are split, differ by more than 3.5; one value among them stands out by 4 once in two hundred
 * times. */
static const double APART = 4.0;

static double apart(const struct lds_stretch *a, const struct lds_stretch *b)
{
    return fabs(a->mean - b->mean) / sqrt(1.0 / a->weight + 1.0 / b->weight);
}

static void take_in(struct lds_stretch *a, const struct lds_stretch *b)
{
    double weight = a->weight + b->weight;
    a->mean = (a->weight * a->mean + b->weight * b->mean) / weight;
    a->weight = weight;
    a->last = b->last;
}

size_t lds_stretches_join(struct lds_stretch *stretch, size_t count)
{
    for (;;) {
        size_t best = 0;
        double least = APART;
        for (size_t i = 1; i < count; i++) {
            double distance = stretch[i].touches ? apart(&stretch[i - 1], &stretch[i]) : (double)INFINITY;
            if (distance < least) {
                least = distance;
                best = i;
            }
        }
        if (best == 0)
            return count;
        take_in(&stretch[best - 1], &stretch[best]);
        count--;
        memmove(&stretch[best], &stretch[best + 1], (count - best) * sizeof *stretch);
    }
}
