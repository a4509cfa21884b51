#include "report/figures.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "scarce.h"

/* By the row of the table; of one row, as they were added: both are elements of one list. */
static int by_place(const void *row, const void *other_row, const void *element, const void *other)
{
    uintptr_t one = (uintptr_t)(row != other_row ? row : element),
              two = (uintptr_t)(row != other_row ? other_row : other);
    return (one > two) - (one < two);
}

#define SORTED(function, type)                                                                                         \
    static int function##_order(const void *left, const void *right)                                                   \
    {                                                                                                                  \
        const type *const *a = left, *const *b = right;                                                                \
        return by_place((*a)->name.row, (*b)->name.row, *a, *b);                                                       \
    }                                                                                                                  \
    const type **function(const type *element, size_t count)                                                           \
    {                                                                                                                  \
        const type **sorted = malloc((count + 1) * sizeof *sorted);                                                    \
        for (size_t i = 0; sorted && i < count; i++)                                                                   \
            sorted[i] = &element[i];                                                                                   \
        if (sorted)                                                                                                    \
            qsort(sorted, count, sizeof *sorted, function##_order);                                                    \
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
