/* From the rows of a unit to its history. */
#ifndef LDS_LEDGER_HISTORY_H
#define LDS_LEDGER_HISTORY_H

#include "ledger/sql.h"

/* A stored figure and its capture. */
struct lds_kept_figure {
    size_t job, capture; /* indices in the history */
    size_t series;       /* filled by lds_series_make, before the series are sorted */
    int channel, other, place;
    struct lds_figure figure;
};

struct lds_kept {
    struct lds_ledger_history *history; /* its jobs and captures are filled */
    size_t figures;
    struct lds_kept_figure *figure;
};

/* Reads a unit's jobs, captures and figures, without those of recordings of the chain. kept->history is filled and must
 * be freed, and so must the array of figures, with lds_kept_free. */
void lds_kept_read(struct lds_ledger *ledger, int64_t unit, struct lds_kept *kept);
void lds_kept_free(struct lds_kept *kept);

/* Makes the series of the history from the stored figures, without standing. */
void lds_series_make(struct lds_ledger *ledger, struct lds_kept *kept);

/* The point of a series that represents the unit: of the latest job, after the work if there is an "after". NULL: the
 * series has none. */
const struct lds_ledger_point *lds_series_latest(const struct lds_ledger_series *series);

/* Whether two series, of the same unit or not, are of the same figure under the same conditions. */
bool lds_series_alike(const struct lds_ledger_series *one, const struct lds_ledger_series *other);

/* Fills the standing of every series among the units of the same make and type. */
void lds_standing_make(struct lds_ledger *ledger, struct lds_ledger_history *history);

#endif
