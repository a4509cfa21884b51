/* The history of one unit: its stored figures as series, and where they stand among units of its type. */
#include "ledger/history.h"

#include <stdlib.h>
#include <string.h>

#include "fail.h"

static char *copy_text(const char *text, bool *enough)
{
    char *copy = text ? strdup(text) : NULL;
    *enough = *enough && (copy || !text);
    return copy;
}

static bool copy_unit(struct lds_ledger_unit *to, const struct lds_ledger_unit *from)
{
    bool enough = true;
    *to = (struct lds_ledger_unit){.id = from->id,
                                   .jobs = from->jobs,
                                   .make = copy_text(from->make, &enough),
                                   .type = copy_text(from->type, &enough),
                                   .serial = copy_text(from->serial, &enough),
                                   .first_date = copy_text(from->first_date, &enough),
                                   .last_date = copy_text(from->last_date, &enough)};
    return enough;
}

enum lds_status lds_ledger_history(struct lds_ledger *ledger, const struct lds_ledger_unit *unit,
                                   struct lds_ledger_history *history, struct lds_error *error)
{
    struct lds_kept kept = {.history = history};
    *history = (struct lds_ledger_history){0};
    if (!copy_unit(&history->unit, unit))
        return lds_fail_memory(error, "the ledger");
    lds_sql_start(ledger, error);
    lds_sql_run(ledger, "BEGIN"); /* so that everything is read from one state of the file */
    lds_kept_read(ledger, unit->id, &kept);
    lds_series_make(ledger, &kept);
    lds_kept_free(&kept);
    lds_standing_make(ledger, history);
    return lds_sql_end(ledger);
}
