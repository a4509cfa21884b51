/* Where a unit, or a capture without a unit, stands among all of its make and type. */
#include <math.h>
#include <stdlib.h>

#include "compare/statistics.h"
#include "ledger/history.h"

/* The values of the units, one array per series. */
struct population {
    struct lds_ledger_history *history;
    bool within;    /* the subject is one of the units */
    size_t room;    /* units plus the subject */
    double *value;  /* series x room */
    size_t *values; /* of each series */
};

static void add_other(struct lds_ledger_standing *standing, const struct lds_ledger_point *other)
{
    double low = isfinite(other->low) ? other->low : other->value;
    double high = isfinite(other->high) ? other->high : other->value;
    double own_low = isfinite(standing->low) ? standing->low : standing->value;
    double own_high = isfinite(standing->high) ? standing->high : standing->value;
    standing->units++;
    if (high < own_low) /* false where a limit is not known */
        standing->lower++;
    else if (low > own_high)
        standing->higher++;
    else
        standing->alike++;
}

static void add_value(struct population *population, size_t series, double value)
{
    if (isfinite(value))
        population->value[series * population->room + population->values[series]++] = value;
}

static void add_own(struct population *population)
{
    struct lds_ledger_history *history = population->history;
    for (size_t i = 0; i < history->series; i++) {
        const struct lds_ledger_point *own = lds_series_latest(&history->serie[i]);
        if (!own)
            continue;
        history->serie[i].standing = (struct lds_ledger_standing){
            .units = population->within ? 1 : 0, .value = own->value, .low = own->low, .high = own->high};
        if (population->within)
            add_value(population, i, own->value);
    }
}

static void add_unit(struct population *population, const struct lds_ledger_history *other)
{
    struct lds_ledger_history *history = population->history;
    for (size_t i = 0; i < history->series; i++)
        for (size_t k = 0; k < other->series; k++) {
            const struct lds_ledger_point *latest = lds_series_latest(&other->serie[k]);
            if (!latest || !lds_series_alike(&history->serie[i], &other->serie[k]))
                continue;
            add_other(&history->serie[i].standing, latest);
            add_value(population, i, latest->value);
            break;
        }
}

static void finish(struct population *population)
{
    for (size_t i = 0; i < population->history->series; i++) {
        struct lds_ledger_standing *standing = &population->history->serie[i].standing;
        standing->known = population->values[i];
        lds_middle_of(&population->value[i * population->room], standing->known, &standing->median, &standing->spread);
    }
}

static void add_other_unit(struct lds_ledger *ledger, struct population *population, int64_t id)
{
    struct lds_ledger_history other = {0};
    struct lds_kept kept = {.history = &other};
    lds_kept_read(ledger, id, &kept);
    lds_series_make(ledger, &kept);
    lds_kept_free(&kept);
    if (!ledger->status)
        add_unit(population, &other);
    lds_ledger_history_free(&other);
}

struct units { /* of the same make and type */
    struct lds_ledger_history *history;
    int64_t *id;
    size_t ids;
};

static void take_unit(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct units *units = context;
    int64_t *id = lds_sql_grow(ledger, &units->id, &units->ids, sizeof *id);
    if (!id)
        return;
    *id = sqlite3_column_int64(row, 0);
    units->history->unnamed += sqlite3_column_int(row, 1) ? 1 : 0;
}

void lds_standing_make(struct lds_ledger *ledger, struct lds_ledger_history *history)
{
    struct units units = {.history = history};
    if (!history->unit.type)
        return;
    lds_sql_each(ledger, "SELECT id, serial IS NULL FROM unit WHERE make IS ?1 AND type = ?2 ORDER BY id", take_unit,
                 &units, "tt", history->unit.make, history->unit.type);
    history->population = units.ids;
    struct population population = {.history = history, .within = history->unit.id != 0, .room = units.ids + 1};
    population.value = malloc((history->series + 1) * population.room * sizeof *population.value);
    population.values = calloc(history->series + 1, sizeof *population.values);
    if (!population.value || !population.values)
        lds_sql_no_memory(ledger);
    else
        add_own(&population);
    for (size_t i = 0; !ledger->status && i < units.ids; i++)
        if (units.id[i] != history->unit.id)
            add_other_unit(ledger, &population, units.id[i]);
    if (!ledger->status)
        finish(&population);
    free(population.value);
    free(population.values);
    free(units.id);
}
