#include "measure/power/crossing.h"

#include <math.h>

#include "constants.h"

/* DB: closer points, such as those of the way up and the way down, do not show a slope. */
static const double APART = 0.3;

static double at_level(const struct lds_crossing_point *a, const struct lds_crossing_point *b, double y)
{
    return a->x + (y - a->y) * (b->x - a->x) / (b->y - a->y);
}

/* The nearest point in that direction which is far enough from `from` to show a slope; NULL: there is none. */
static const struct lds_crossing_point *neighbour(const struct lds_crossing_point *point, size_t n, size_t from,
                                                  int step)
{
    for (long i = (long)from + step; i >= 0 && i < (long)n; i += step)
        if (fabs(point[i].x - point[from].x) >= APART)
            return &point[i];
    return NULL;
}

/* Where the line through two points beside the stretch from low to high reaches y, limited to the stretch; `otherwise`
 * if that line does not rise. */
static double continued(const struct lds_crossing_point *a, const struct lds_crossing_point *b, double y, double low,
                        double high, double otherwise)
{
    if (!a || !((b->y - a->y) * (b->x - a->x) > 0.0)) /* it does not rise */
        return otherwise;
    return fmin(fmax(at_level(a, b, y), low), high);
}

enum lds_crossing_kind lds_crossing_find(const struct lds_crossing_point *point, size_t n, double over,
                                         struct lds_crossing *crossing)
{
    size_t below = n;
    while (below > 0 && !(point[below - 1].y <= over))
        below--;
    if (below == 0)
        return LDS_ALWAYS_OVER;
    if (below == n) {
        for (size_t i = 0; i < n; i++)
            if (point[i].y > over)
                return LDS_OVER_BELOW;
        return LDS_NEVER_OVER;
    }
    const struct lds_crossing_point *a = &point[below - 1], *b = &point[below];
    const double part = (over - a->y) / (b->y - a->y), slope = (b->y - a->y) / fmax(b->x - a->x, 1e-9);
    const double value = at_level(a, b, over);
    const double before = continued(neighbour(point, n, below - 1, -1), a, over, a->x, b->x, b->x);
    const double after = continued(neighbour(point, n, below, 1), b, over, a->x, b->x, value);
    const double half = LDS_COVERAGE * hypot((1.0 - part) * a->u, part * b->u) / slope;
    const double low = fmin(value, fmin(before, after)), high = fmax(value, fmax(before, after));
    *crossing = (struct lds_crossing){.value = value,
                                      .low = value - hypot(value - low, half),
                                      .high = value + hypot(high - value, half),
                                      .below = below - 1};
    return LDS_CROSSED;
}
