#include "report/figures.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

static size_t rank(const char *key)
{
    size_t count;
    const struct lds_key *first = lds_keys(&count);
    const struct lds_key *row = lds_key_find(key);
    return row ? (size_t)(row - first) : count;
}

/* qsort is not stable, but both arrays are pointers into one list: the address settles a tie. */
static int by_place(size_t left, size_t right, const void *a, const void *b)
{
    if (left != right)
        return left < right ? -1 : 1;
    return (uintptr_t)a < (uintptr_t)b ? -1 : (uintptr_t)a > (uintptr_t)b;
}

static int compare_figures(const void *left, const void *right)
{
    const struct lds_figure *a = *(const struct lds_figure *const *)left;
    const struct lds_figure *b = *(const struct lds_figure *const *)right;
    return by_place(rank(a->key), rank(b->key), a, b);
}

static int compare_absents(const void *left, const void *right)
{
    const struct lds_absent *a = *(const struct lds_absent *const *)left;
    const struct lds_absent *b = *(const struct lds_absent *const *)right;
    return by_place(rank(a->key), rank(b->key), a, b);
}

const struct lds_figure **lds_figures_sorted(const struct lds_figure *figure, size_t count)
{
    const struct lds_figure **sorted = malloc((count + 1) * sizeof *sorted);
    if (!sorted)
        return NULL;
    for (size_t i = 0; i < count; i++)
        sorted[i] = &figure[i];
    qsort(sorted, count, sizeof *sorted, compare_figures);
    return sorted;
}

const struct lds_absent **lds_absents_sorted(const struct lds_absent *absent, size_t count)
{
    const struct lds_absent **sorted = malloc((count + 1) * sizeof *sorted);
    if (!sorted)
        return NULL;
    for (size_t i = 0; i < count; i++)
        sorted[i] = &absent[i];
    qsort(sorted, count, sizeof *sorted, compare_absents);
    return sorted;
}

double lds_dbfs(double linear)
{
    return 20.0 * log10(linear * M_SQRT2);
}

double lds_percent(double ratio_db)
{
    return 100.0 * pow(10.0, ratio_db / 20.0);
}

bool lds_point_locale_enter(struct lds_point_locale *locale)
{
    locale->ours = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    locale->before = locale->ours ? uselocale(locale->ours) : (locale_t)0;
    return locale->ours != (locale_t)0;
}

void lds_point_locale_leave(struct lds_point_locale *locale)
{
    uselocale(locale->before);
    freelocale(locale->ours);
}
