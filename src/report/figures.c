#include "report/figures.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "scarce.h"

/* Compares by the row of the table, and within a row by the order in which they were added: both are elements of one
 * list. name: offset of the name. */
static bool is_before(const void *one, const void *other, size_t name)
{
    const struct lds_figure_name *first = (const void *)((const char *)one + name),
                                 *second = (const void *)((const char *)other + name);
    return first->row != second->row ? first->row < second->row : (uintptr_t)one < (uintptr_t)other;
}

static const void *next_of(const void *last, const void *list, size_t count, size_t size, size_t name)
{
    const char *next = NULL;
    for (size_t i = 0; i < count; i++) {
        const char *one = (const char *)list + i * size;
        if ((!last || is_before(last, one, name)) && (!next || is_before(one, next, name)))
            next = one;
    }
    return next;
}

const struct lds_figure *lds_next_figure(const struct lds_figure *last, const struct lds_figure *figure, size_t count)
{
    return next_of(last, figure, count, sizeof *figure, offsetof(struct lds_figure, name));
}

const struct lds_absent *lds_next_absent(const struct lds_absent *last, const struct lds_absent *absent, size_t count)
{
    return next_of(last, absent, count, sizeof *absent, offsetof(struct lds_absent, name));
}

const struct lds_change *lds_next_change(const struct lds_change *last, const struct lds_change *change, size_t count)
{
    return next_of(last, change, count, sizeof *change, offsetof(struct lds_change, name));
}

const struct lds_unit_row **lds_unit_rows_sorted(const struct lds_unit_row *row, size_t count)
{
    const struct lds_unit_row **sorted = malloc((count + 1) * sizeof *sorted), *last = NULL;
    if (!sorted)
        lds_scarce_note();
    for (size_t i = 0; sorted && i < count; i++)
        sorted[i] = last = next_of(last, row, count, sizeof *row, offsetof(struct lds_unit_row, name));
    return sorted;
}

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
