#include "report/figures.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "scarce.h"

static size_t rank(const char *key)
{
    size_t count;
    const struct lds_key *first = lds_keys(&count);
    const struct lds_key *row = lds_key_find(key);
    return row ? (size_t)(row - first) : count;
}

/* qsort is not stable, but both arrays are pointers into one list: the address decides between equals. */
static int by_place(size_t left, size_t right, const void *a, const void *b)
{
    if (left != right)
        return left < right ? -1 : 1;
    return (uintptr_t)a < (uintptr_t)b ? -1 : (uintptr_t)a > (uintptr_t)b;
}

/* Both point at pointers to a struct that begins with its key. */
static int compare_keys(const void *left, const void *right)
{
    const char *const *a, *const *b;
    memcpy(&a, left, sizeof a);
    memcpy(&b, right, sizeof b);
    return by_place(rank(*a), rank(*b), a, b);
}

#define SORTED(function, type)                                                                                         \
    const type **function(const type *element, size_t count)                                                           \
    {                                                                                                                  \
        _Static_assert(offsetof(type, key) == 0, "compare_keys looks for the key there");                              \
        const type **sorted = malloc((count + 1) * sizeof *sorted);                                                    \
        for (size_t i = 0; sorted && i < count; i++)                                                                   \
            sorted[i] = &element[i];                                                                                   \
        if (sorted)                                                                                                    \
            qsort(sorted, count, sizeof *sorted, compare_keys);                                                        \
        else                                                                                                           \
            lds_scarce_note();                                                                                         \
        return sorted;                                                                                                 \
    }

SORTED(lds_figures_sorted, struct lds_figure)
SORTED(lds_absents_sorted, struct lds_absent)
SORTED(lds_changes_sorted, struct lds_change)
SORTED(lds_unit_rows_sorted, struct lds_unit_row)

const char *lds_label_of(const char *key)
{
    const struct lds_key *row = lds_key_find(key);
    const struct lds_series_kind *kind = lds_series_kind_find(key);
    return row ? row->label : kind ? kind->label : NULL;
}

enum lds_section lds_section_of(const char *key)
{
    const struct lds_key *row = lds_key_find(key);
    const struct lds_series_kind *kind = lds_series_kind_find(key);
    return row ? row->section : kind ? kind->section : LDS_SPURS;
}

bool lds_pairs_calibrated(const struct lds_measurement *measurement)
{
    return measurement->channels > 0 && measurement->channel[0].calibrated;
}

double lds_dbfs(double linear)
{
    return 20.0 * log10(linear * M_SQRT2);
}

double lds_percent(double ratio_db)
{
    return 100.0 * pow(10.0, ratio_db / 20.0);
}

void lds_flags_print(FILE *out, unsigned flags, const char *between)
{
    const char *before = "";
    for (int i = 0; i < LDS_FLAGS; i++)
        if (flags & 1u << i) {
            fprintf(out, "%s%s", before, lds_flag_name((enum lds_flag)(1u << i)));
            before = between;
        }
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
