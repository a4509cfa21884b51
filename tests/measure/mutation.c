#include "measure/mutation.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct mutation {
    char kind[16];
    const char *key; /* NULL: all */
    FILE *told;
};

static bool asked(const struct mutation *m, const char *key)
{
    return !m->key || strcmp(m->key, key) == 0;
}

static bool is(const struct mutation *m, const char *kind)
{
    return strcmp(m->kind, kind) == 0;
}

static void tell(const struct mutation *m, const char *key, bool changed)
{
    if (changed && m->told)
        fprintf(m->told, "%s\n", key);
}

/* Not a number and infinity stay what they are. */
static bool scale(double *number, double factor)
{
    const double before = *number;
    *number *= factor;
    return isfinite(before) && *number != before;
}

static bool narrow(double value, double *low, double *high)
{
    const double low_before = *low, high_before = *high;
    if (isfinite(value)) {
        *low = value - 0.5 * (value - *low);
        *high = value + 0.5 * (*high - value);
    }
    return *low != low_before && *high != high_before && !isnan(low_before) && !isnan(high_before);
}

static bool is_db(const char *unit)
{
    return strcmp(unit, "dB") == 0 || strcmp(unit, "dBFS") == 0;
}

static bool move(double *value, double *low, double *high, double by)
{
    *value += by;
    *low += by;
    *high += by;
    return isfinite(*value) && by != 0.0;
}

static bool change_figure(const struct mutation *m, struct lds_figure *figure)
{
    if (is(m, "value")) {
        const double u = isnan(figure->u_a) ? 0.0 : figure->u_a;
        const double by = is_db(figure->unit) ? 0.5 : fmax(0.05 * fabs(figure->value), u);
        return move(&figure->value, &figure->low, &figure->high, by);
    }
    if (is(m, "interval"))
        return narrow(figure->value, &figure->low, &figure->high);
    if (is(m, "u_a"))
        return scale(&figure->u_a, 0.5);
    if (is(m, "u_b"))
        return scale(&figure->u_b, 0.5);
    return is(m, "dof") && scale(&figure->dof, 4.0);
}

static void change_figures(const struct mutation *m, struct lds_figure *figure, size_t *count)
{
    size_t kept = 0;
    for (size_t i = 0; i < *count; i++) {
        const bool mine = asked(m, figure[i].key), away = mine && is(m, "absent");
        tell(m, figure[i].key, away || (mine && change_figure(m, &figure[i])));
        if (away)
            free(figure[i].key);
        else
            figure[kept++] = figure[i];
    }
    *count = kept;
}

/* ---- lines: each number has a key of its own ---- */

struct number {
    const char *name;
    double *value, *low, *high; /* low and high: NULL without limits */
    bool db;
};

static void change_number(const struct mutation *m, const char *key, const struct number *number)
{
    double low = NAN, high = NAN, *to_low = number->low ? number->low : &low,
           *to_high = number->high ? number->high : &high;
    bool changed = false;
    if (!asked(m, key))
        return;
    if (is(m, "value"))
        changed = move(number->value, to_low, to_high, number->db ? 0.5 : 0.05 * fabs(*number->value));
    else if (is(m, "interval"))
        changed = narrow(*number->value, to_low, to_high);
    else if (is(m, "absent")) {
        changed = isfinite(*number->value);
        *number->value = NAN;
    }
    tell(m, key, changed);
}

static void change_lines(const struct mutation *m, const char *kind, struct lds_line *line, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct number numbers[] = {
            {"level", &line[i].level, &line[i].low, &line[i].high, false},
            {"relative", &line[i].relative_db, &line[i].low_db, &line[i].high_db, true},
            {"phase", &line[i].phase_deg, NULL, NULL, false},
            {"frequency", &line[i].frequency_hz, NULL, NULL, false},
        };
        for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++) {
            char key[64];
            snprintf(key, sizeof key, "%s.%d.%s", kind, line[i].order, numbers[k].name);
            change_number(m, key, &numbers[k]);
        }
    }
}

static void change_channel(const struct mutation *m, struct lds_channel *channel)
{
    change_figures(m, channel->figure, &channel->figures);
    change_lines(m, "harmonics", channel->harmonic, channel->harmonics);
    change_lines(m, "mains", channel->main, channel->mains);
    for (size_t i = 0; i < channel->spurs; i++) {
        struct lds_spur *spur = &channel->spur[i];
        change_number(m, "spurs.frequency", &(struct number){"", &spur->frequency_hz, NULL, NULL, false});
        change_number(m, "spurs.level", &(struct number){"", &spur->level, NULL, NULL, false});
        change_number(m, "spurs.margin", &(struct number){"", &spur->margin_db, NULL, NULL, true});
    }
    for (size_t i = 0; i < channel->floor_bands; i++) {
        struct lds_floor_band *band = &channel->floor[i];
        change_number(m, "floor.density", &(struct number){"", &band->density, NULL, NULL, false});
        change_number(m, "floor.mean", &(struct number){"", &band->mean, NULL, NULL, false});
        if (is(m, "dof") && asked(m, "floor.mean"))
            tell(m, "floor.mean", scale(&band->dof, 4.0));
    }
}

void mutate_measurement(struct lds_measurement *measurement)
{
    const char *wanted = getenv("LDS_MUTATE"), *told = getenv("LDS_MUTATE_TOLD");
    if (!wanted)
        return;
    const char *colon = strchr(wanted, ':');
    struct mutation m = {.key = colon ? colon + 1 : NULL, .told = told ? fopen(told, "a") : NULL};
    snprintf(m.kind, sizeof m.kind, "%.*s", (int)(colon ? colon - wanted : (ptrdiff_t)strlen(wanted)), wanted);
    for (size_t i = 0; i < measurement->channels; i++)
        change_channel(&m, &measurement->channel[i]);
    for (size_t i = 0; i < measurement->pairs; i++)
        change_figures(&m, measurement->pair[i].figure, &measurement->pair[i].figures);
    if (m.told)
        fclose(m.told);
}
