/* Sentences about units side by side. */
#include <stdio.h>
#include <stdlib.h>

#include "compare/units_work.h"
#include "loadside/capture.h"
#include "scrap.h"

bool lds_units_notes(const struct lds_unit_work *work)
{
    struct lds_unit_table *table = work->table;
    for (size_t a = 0; a < table->units; a++) {
        size_t b = 0;
        while (b < a && (work->seen[a].capture == work->seen[b].capture ||
                         !lds_same_capture(work->seen[a].capture, work->seen[b].capture)))
            b++;
        if (b < a && !lds_note(table, "%s and %s are the same recording", table->name[b], table->name[a]))
            return false;
    }
    return true;
}

static void put_rows(FILE *out, const struct lds_unit_table *table, size_t unit)
{
    size_t named = 0;
    for (size_t r = 0; r < table->rows; r++) {
        char words[96];
        if (table->row[r].stands_out != (int)unit)
            continue;
        lds_name_words(&table->row[r].name, words, sizeof words);
        fprintf(out, "%s%s%s", named++ ? ", " : "", words, table->row[r].worse ? " (worse)" : "");
    }
}

bool lds_units_summary(struct lds_unit_table *table)
{
    size_t units = 0;
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return false;
    FILE *out = scrap.out;
    for (size_t u = 0; u < table->units; u++) {
        bool any = false;
        for (size_t r = 0; r < table->rows; r++)
            any = any || table->row[r].stands_out == (int)u;
        if (!any)
            continue;
        fprintf(out, "%s%s stands out in ", units++ ? " " : "", table->name[u]);
        put_rows(out, table, u);
        fprintf(out, ".");
    }
    if (units == 0 && table->units < LDS_UNITS_FEWEST)
        fprintf(out,
                "%zu units side by side: none can be called out, because the spread of so few is not known well "
                "enough; four are needed.",
                table->units);
    else if (units == 0)
        fprintf(out, "None of the %zu units stands out.", table->units);
    if (!lds_scrap_close(&scrap))
        return false;
    table->summary = scrap.text;
    return true;
}

bool lds_units_balance(struct lds_unit_table *table, struct lds_side units)
{
    for (size_t i = 0; i < units.captures; i++)
        for (size_t p = 0; p < units.measurement[i].pairs; p++) {
            const struct lds_pair *pair = &units.measurement[i].pair[p];
            const struct lds_figure *balance = lds_pair_find(pair, LDS_FIGURE_BALANCE);
            if (balance && !lds_note(table, "%s: balance, channel %d over channel %d: %.3f dB",
                                     units.measurement[i].file ? units.measurement[i].file : "", pair->channels[1],
                                     pair->channels[0], balance->value))
                return false;
        }
    return true;
}
