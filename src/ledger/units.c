/* The units of a ledger, and the one that a person means. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "fail.h"
#include "ledger/sql.h"
#include "loadside/quantity.h"

static bool read_unit(sqlite3_stmt *statement, struct lds_ledger_unit *unit)
{
    bool enough = true;
    *unit = (struct lds_ledger_unit){.id = sqlite3_column_int64(statement, 0),
                                     .make = lds_sql_text(statement, 1, &enough),
                                     .type = lds_sql_text(statement, 2, &enough),
                                     .serial = lds_sql_text(statement, 3, &enough),
                                     .first_date = lds_sql_text(statement, 4, &enough),
                                     .last_date = lds_sql_text(statement, 5, &enough),
                                     .jobs = (size_t)sqlite3_column_int64(statement, 6)};
    return enough;
}

enum lds_status lds_ledger_units(struct lds_ledger *ledger, struct lds_ledger_unit **unit, size_t *units,
                                 struct lds_error *error)
{
    static const char sql[] = "SELECT unit.id, make, type, serial, min(date), max(date), count(*) FROM unit JOIN job "
                              "ON job.unit_id = unit.id "
                              "GROUP BY unit.id ORDER BY make, type, serial IS NULL, serial, min(date), unit.id";
    sqlite3_stmt *statement;
    bool row = true;
    *unit = NULL;
    *units = 0;
    enum lds_status status = lds_sql_prepare(ledger, sql, &statement, error);
    while (status == LDS_OK) {
        status = lds_sql_step(ledger, statement, &row, error);
        if (status != LDS_OK || !row)
            break;
        struct lds_ledger_unit *grown = realloc(*unit, (*units + 1) * sizeof **unit);
        if (grown)
            *unit = grown;
        if (!grown || !read_unit(statement, &grown[(*units)++]))
            status = lds_fail_memory(error, "the ledger");
    }
    sqlite3_finalize(statement);
    if (status != LDS_OK) {
        lds_ledger_units_free(*unit, *units);
        *unit = NULL;
        *units = 0;
    }
    return status;
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

/* How a unit may be called, from the shortest on. */
enum { NAMES = 3, NAME_SIZE = 512 };
struct names {
    char name[NAMES][NAME_SIZE];
};

static void name_unit(const struct lds_ledger_unit *unit, struct names *names)
{
    const char *type = unit->type ? unit->type : "", *make = unit->make ? unit->make : "";
    const char *last = unit->serial ? unit->serial : unit->first_date ? unit->first_date : "";
    /* A date alone is no name. */
    snprintf(names->name[0], NAME_SIZE, "%s", unit->serial ? last : "");
    snprintf(names->name[1], NAME_SIZE, "%s/%s", type, last);
    snprintf(names->name[2], NAME_SIZE, "%s/%s/%s", make, type, last);
}

/* The units with that name; the last of them. */
static size_t count_named(const struct lds_ledger_unit *unit, size_t units, const char *name,
                          int (*compare)(const char *, const char *), const struct lds_ledger_unit **found)
{
    size_t count = 0;
    for (size_t i = 0; i < units; i++) {
        struct names names;
        bool named = false;
        name_unit(&unit[i], &names);
        for (int k = 0; k < NAMES; k++)
            named = named || (names.name[k][0] && compare(names.name[k], name) == 0);
        if (named) {
            *found = &unit[i];
            count++;
        }
    }
    return count;
}

/* The name, of the same kind as the one that was asked for, that is fewest edits away. */
static void find_nearest(const struct lds_ledger_unit *unit, size_t units, const char *name, char nearest[NAME_SIZE])
{
    int kind = 0;
    for (const char *c = name; *c; c++)
        kind += *c == '/' && kind < NAMES - 1;
    struct names *names = calloc(units + 1, sizeof *names);
    const char **word = calloc(units + 1, sizeof *word);
    size_t count = 0;
    for (size_t i = 0; names && word && i < units; i++) {
        name_unit(&unit[i], &names[i]);
        if (names[i].name[kind][0])
            word[count++] = names[i].name[kind];
    }
    const char *found = count ? lds_nearest(name, word, count) : NULL;
    snprintf(nearest, NAME_SIZE, "%s", found ? found : "");
    free(names);
    free(word);
}

const struct lds_ledger_unit *lds_ledger_find(const struct lds_ledger_unit *unit, size_t units, const char *name,
                                              struct lds_error *error)
{
    const struct lds_ledger_unit *found = NULL;
    char nearest[NAME_SIZE];
    size_t count = count_named(unit, units, name, strcmp, &found);
    if (count == 0)
        count = count_named(unit, units, name, strcasecmp, &found);
    if (count == 1)
        return found;
    if (count > 1) {
        (void)lds_fail(error, LDS_BAD_USE,
                       "%s: %zu units of that name: expected one; name it as TYPE/SERIAL or MAKE/TYPE/SERIAL", name,
                       count);
        return NULL;
    }
    find_nearest(unit, units, name, nearest);
    if (nearest[0])
        (void)lds_fail(error, LDS_BAD_USE, "%s: no such unit in the ledger; the nearest is %s", name, nearest);
    else
        (void)lds_fail(error, LDS_BAD_USE, "%s: no such unit in the ledger; leave UNIT out to list them", name);
    return NULL;
}
