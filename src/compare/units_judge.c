/* Which of several units stands out. */
#include <math.h>
#include <stdlib.h>

#include "compare/outlier.h"
#include "compare/reading.h"
#include "compare/statistics.h"
#include "compare/units_work.h"

/* Scatter of a unit's figure from its own measurement, root mean square over the units; the values on the scale of
 * changes go into scratch. */
static double own_scatter(const struct lds_unit_work *work, const struct lds_unit_row *row, double *matters)
{
    double square = 0.0;
    size_t count = 0;
    for (size_t u = 0; u < row->count; u++) {
        const struct lds_seen *seen = &work->seen[u];
        const struct lds_figure *figure = lds_seen_figure(seen, row->key);
        work->scratch[u] = NAN;
        if (!figure || isnan(figure->value))
            continue;
        struct lds_reading reading;
        const struct lds_chosen chosen = {.seen = &seen, .figure = &figure, .count = {1, 0}, .all = 1};
        lds_reading_take(figure, lds_scale_of(figure->name.row, figure->unit), &reading);
        work->scratch[u] = reading.value;
        double u_rep = lds_scatter_of(&work->scatter, &chosen);
        square += reading.u * reading.u + u_rep * u_rep;
        count++;
        *matters = lds_matters_of(work->options, figure);
    }
    return count > 0 ? sqrt(square / (double)count) : 0.0;
}

void lds_units_look(const struct lds_unit_work *work, struct lds_unit_row *row)
{
    const enum lds_worse worse = row->name.row->worse;
    double matters = 0.0, u = own_scatter(work, row, &matters);
    struct lds_outlier outlier;
    lds_outlier_find(work->scratch, row->count, u, &outlier);
    row->p_adjusted = outlier.p;
    if (outlier.which < 0 || fabs(outlier.apart) <= matters)
        return;
    row->stands_out = outlier.which;
    row->worse = (worse == LDS_WORSE_UP && outlier.apart > 0.0) || (worse == LDS_WORSE_DOWN && outlier.apart < 0.0);
}

bool lds_units_judge(struct lds_unit_table *table, size_t tables, double false_alarm)
{
    size_t rows = 0, at = 0;
    for (size_t t = 0; t < tables; t++)
        rows += table[t].rows;
    double *p = calloc(2 * rows + 1, sizeof *p);
    for (size_t t = 0; p && t < tables; t++)
        for (size_t r = 0; r < table[t].rows; r++)
            p[at++] = table[t].row[r].p_adjusted;
    bool ok = p && lds_holm(p, p + rows, rows);
    for (size_t t = 0; ok && t < tables; t++)
        for (size_t r = 0; r < table[t].rows; r++) {
            struct lds_unit_row *row = &table[t].row[r];
            row->p_adjusted = p[at++];
            if (!(row->p_adjusted < false_alarm))
                row->stands_out = -1;
            row->worse = row->worse && row->stands_out >= 0;
            table[t].worse = table[t].worse || row->worse;
        }
    free(p);
    return ok;
}
