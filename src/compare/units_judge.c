/* Which of some units stands out. */
#include <math.h>
#include <stdlib.h>

#include "compare/outlier.h"
#include "compare/reading.h"
#include "compare/statistics.h"
#include "compare/units_work.h"

/* What a unit's figure scatters by through its own measurement, root mean square over the units; values on the scale
 * of changes into scratch. */
static double own_scatter(const struct lds_unit_work *work, const struct lds_unit_row *row, double *matters)
{
    const struct lds_key *key_row = lds_key_find(row->key);
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
        lds_reading_take(figure, lds_scale_of(row->key, figure->unit), &reading);
        work->scratch[u] = reading.value;
        double u_rep = lds_scatter_of(&work->scatter, &chosen, row->key, key_row);
        square += reading.u * reading.u + u_rep * u_rep;
        count++;
        *matters = lds_matters_of(work->options, row->key, figure->unit, key_row);
    }
    return count > 0 ? sqrt(square / (double)count) : 0.0;
}

static bool find_outliers(const struct lds_unit_work *work, struct lds_outlier *outlier, double *p)
{
    for (size_t r = 0; r < work->table->rows; r++) {
        double matters = 0.0;
        p[r] = NAN;
        outlier[r] = (struct lds_outlier){.which = -1};
        if (!work->judged[r] || work->table->units < LDS_UNITS_FEWEST)
            continue;
        double u = own_scatter(work, &work->table->row[r], &matters);
        lds_outlier_find(work->scratch, work->table->units, u, &outlier[r]);
        p[r] = outlier[r].p;
        if (fabs(outlier[r].apart) <= matters)
            outlier[r].which = -1;
    }
    return true;
}

static void call_out(struct lds_unit_work *const *work, size_t tables, const struct lds_outlier *outlier,
                     const double *adjusted)
{
    for (size_t t = 0, at = 0; t < tables; t++)
        for (size_t r = 0; r < work[t]->table->rows; r++, at++) {
            struct lds_unit_row *row = &work[t]->table->row[r];
            const struct lds_key *key_row = lds_key_find(row->key);
            row->p_adjusted = adjusted[at];
            if (!(adjusted[at] < work[t]->options->false_alarm) || outlier[at].which < 0)
                continue;
            row->stands_out = outlier[at].which;
            row->worse = key_row->worse == LDS_WORSE_UP     ? outlier[at].apart > 0.0
                         : key_row->worse == LDS_WORSE_DOWN ? outlier[at].apart < 0.0
                                                            : false;
            work[t]->table->worse = work[t]->table->worse || row->worse;
        }
}

bool lds_units_judge(struct lds_unit_work *const *work, size_t tables)
{
    size_t rows = 0;
    for (size_t t = 0; t < tables; t++)
        rows += work[t]->table->rows;
    double *p = calloc(2 * rows + 1, sizeof *p);
    struct lds_outlier *outlier = calloc(rows + 1, sizeof *outlier);
    bool ok = p && outlier;
    for (size_t t = 0, at = 0; ok && t < tables; t++) {
        ok = find_outliers(work[t], outlier + at, p + at);
        at += work[t]->table->rows;
    }
    ok = ok && lds_holm(p, p + rows, rows);
    if (ok)
        call_out(work, tables, outlier, p + rows);
    free(p);
    free(outlier);
    return ok;
}
