/* The units of a ledger, and the one that a user means. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "fail.h"
#include "ledger/sql.h"
#include "loadside/quantity.h"

struct units {
    struct lds_ledger_unit *unit;
    size_t count;
};

static void take_unit(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    struct units *units = context;
    struct lds_ledger_unit *unit = lds_sql_grow(ledger, &units->unit, &units->count, sizeof *unit);
    if (unit)
        *unit = (struct lds_ledger_unit){.id = sqlite3_column_int64(row, 0),
                                         .make = lds_sql_text(ledger, row, 1),
                                         .type = lds_sql_text(ledger, row, 2),
                                         .serial = lds_sql_text(ledger, row, 3),
                                         .first_date = lds_sql_text(ledger, row, 4),
                                         .last_date = lds_sql_text(ledger, row, 5),
                                         .jobs = (size_t)sqlite3_column_int64(row, 6)};
}

enum lds_status lds_ledger_units(struct lds_ledger *ledger, struct lds_ledger_unit **unit, size_t *units,
                                 struct lds_error *error)
{
    struct units found = {0};
    lds_sql_start(ledger, error);
    lds_sql_each(ledger,
                 "SELECT unit.id, make, type, serial, min(date), max(date), count(*) FROM unit JOIN job "
                 "ON job.unit_id = unit.id "
                 "GROUP BY unit.id ORDER BY make, type, serial IS NULL, serial, min(date), unit.id",
                 take_unit, &found, "");
    if (ledger->status) {
        lds_ledger_units_free(found.unit, found.count);
        found = (struct units){0};
    }
    *unit = found.unit;
    *units = found.count;
    return ledger->status;
}

void lds_ledger_units_free(struct lds_ledger_unit *unit, size_t units)
{
    for (size_t i = 0; i < units; i++) {
        free(unit[i].make);
        free(unit[i].type);
        free(unit[i].serial);
        free(unit[i].first_date);
        free(unit[i].last_date);
    }
    free(unit);
}

/* The possible names of a unit, shortest first. */
enum { NAMES = 3, NAME_SIZE = 512 };
struct names {
    char name[NAMES][NAME_SIZE];
};

static void name_unit(const struct lds_ledger_unit *unit, struct names *names)
{
    const char *type = unit->type ? unit->type : "", *make = unit->make ? unit->make : "";
    const char *last = unit->serial ? unit->serial : unit->first_date ? unit->first_date : "";
    /* A date alone is not a name. */
    snprintf(names->name[0], NAME_SIZE, "%s", unit->serial ? last : "");
    snprintf(names->name[1], NAME_SIZE, "%s/%s", type, last);
    snprintf(names->name[2], NAME_SIZE, "%s/%s/%s", make, type, last);
}

static void name_type(const struct lds_ledger_unit *unit, struct names *names)
{
    *names = (struct names){0};
    if (!unit->type)
        return;
    snprintf(names->name[0], NAME_SIZE, "%s", unit->type);
    snprintf(names->name[1], NAME_SIZE, "%s/%s", unit->make ? unit->make : "", unit->type);
}

/* What a name may refer to. */
struct kind {
    void (*name)(const struct lds_ledger_unit *unit, struct names *names);
    bool shared; /* by several units, like a type: they count once */
    const char *word, *clearer, *list;
};

static const struct kind units_by_name = {name_unit, false, "unit", "TYPE/SERIAL or MAKE/TYPE/SERIAL",
                                          "leave UNIT out to list them"};
static const struct kind types_by_name = {name_type, true, "type", "MAKE/TYPE",
                                          "'loadside ledger FILE' lists the units with their types"};

/* How many have that name; *last: the last of them. */
static size_t count_named(const struct kind *kind, const struct lds_ledger_unit *unit, size_t units, const char *name,
                          int (*compare)(const char *, const char *), const struct lds_ledger_unit **found)
{
    struct names last = {0};
    size_t count = 0;
    for (size_t i = 0; i < units; i++) {
        struct names names;
        bool named = false;
        kind->name(&unit[i], &names);
        for (int k = 0; k < NAMES; k++)
            named = named || (names.name[k][0] && compare(names.name[k], name) == 0);
        if (named && !(kind->shared && strcmp(names.name[1], last.name[1]) == 0)) {
            *found = &unit[i];
            last = names;
            count++;
        }
    }
    return count;
}

/* The name of the same kind with the fewest edits from the one requested. */
static void find_nearest(const struct kind *kind, const struct lds_ledger_unit *unit, size_t units, const char *name,
                         char nearest[NAME_SIZE])
{
    int parts = 0;
    for (const char *c = name; *c; c++)
        parts += *c == '/' && parts < NAMES - 1;
    struct names *names = calloc(units + 1, sizeof *names);
    const char **word = calloc(units + 1, sizeof *word);
    size_t count = 0;
    for (size_t i = 0; names && word && i < units; i++) {
        kind->name(&unit[i], &names[i]);
        if (names[i].name[parts][0])
            word[count++] = names[i].name[parts];
    }
    const char *found = count ? lds_nearest(name, word, count) : NULL;
    snprintf(nearest, NAME_SIZE, "%s", found ? found : "");
    free(names);
    free(word);
}

static const struct lds_ledger_unit *find(const struct kind *kind, const struct lds_ledger_unit *unit, size_t units,
                                          const char *name, struct lds_error *error)
{
    const struct lds_ledger_unit *found = NULL;
    char nearest[NAME_SIZE];
    size_t count = count_named(kind, unit, units, name, strcmp, &found);
    if (count == 0)
        count = count_named(kind, unit, units, name, strcasecmp, &found);
    if (count == 1)
        return found;
    if (count > 1) {
        (void)lds_fail(error, LDS_BAD_USE, "%s: %zu %ss of that name: expected one; name it as %s", name, count,
                       kind->word, kind->clearer);
        return NULL;
    }
    find_nearest(kind, unit, units, name, nearest);
    if (nearest[0])
        (void)lds_fail(error, LDS_BAD_USE, "%s: no such %s in the ledger; the nearest is %s", name, kind->word,
                       nearest);
    else
        (void)lds_fail(error, LDS_BAD_USE, "%s: no such %s in the ledger; %s", name, kind->word, kind->list);
    return NULL;
}

const struct lds_ledger_unit *lds_ledger_find(const struct lds_ledger_unit *unit, size_t units, const char *name,
                                              struct lds_error *error)
{
    return find(&units_by_name, unit, units, name, error);
}

const struct lds_ledger_unit *lds_ledger_find_type(const struct lds_ledger_unit *unit, size_t units, const char *name,
                                                   struct lds_error *error)
{
    return find(&types_by_name, unit, units, name, error);
}
