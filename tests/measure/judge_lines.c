/* Numbers of lines and of the floor as figures. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "measure/judge.h"

static void set(struct lds_figure *figure, double value, double low, double high)
{
    figure->value = value;
    figure->low = low;
    figure->high = high;
}

static void from_line(const struct lds_line *line, const char *what, struct lds_figure *figure)
{
    if (strcmp(what, "level") == 0)
        set(figure, line->level, line->low, line->high);
    else if (strcmp(what, "relative") == 0)
        set(figure, line->relative_db, line->low_db, line->high_db);
    else if (strcmp(what, "phase") == 0)
        set(figure, line->phase_deg, NAN, NAN);
    else if (strcmp(what, "frequency") == 0)
        set(figure, line->frequency_hz, NAN, NAN);
}

static void from_lines(const struct lds_line *lines, size_t count, int order, const char *what,
                       struct lds_figure *figure)
{
    for (size_t i = 0; i < count; i++)
        if (lines[i].order == order)
            from_line(&lines[i], what, figure);
}

static void from_spurs(const struct lds_channel *channel, double seconds, double at_hz, const char *what,
                       struct lds_figure *figure)
{
    for (size_t i = 0; i < channel->spurs; i++) {
        const struct lds_spur *spur = &channel->spur[i];
        if (fabs(spur->frequency_hz - at_hz) > 4.0 / seconds)
            continue;
        figure->value = strcmp(what, "frequency") == 0 ? spur->frequency_hz
                        : strcmp(what, "level") == 0   ? spur->level
                                                       : spur->margin_db;
    }
}

/* Degrees of freedom over their closed form for the band, since the bands are the program's own. */
static void from_floor(const struct lds_channel *channel, double seconds, double at_hz, const char *what,
                       struct lds_figure *figure)
{
    for (size_t i = 0; i < channel->floor_bands; i++) {
        const struct lds_floor_band *band = &channel->floor[i];
        if (at_hz < band->low_hz || at_hz >= band->high_hz)
            continue;
        figure->dof = band->dof / judge_band_dof(seconds, band->low_hz, band->high_hz, NULL, NULL, NULL);
        figure->u_a = band->mean * sqrt(0.5 / band->dof);
        set(figure, strcmp(what, "density") == 0 ? band->density : band->mean, NAN, NAN);
    }
}

bool judge_line(const struct lds_measurement *measurement, const struct judged *row, struct lds_figure *figure)
{
    const struct lds_channel *channel = &measurement->channel[row->channel];
    int order;
    char kind[16], what[16];
    *figure = (struct lds_figure){
        .value = NAN, .low = NAN, .high = NAN, .u_a = NAN, .u_b = NAN, .dof = INFINITY, .removed_hz = NAN};
    if (sscanf(row->key, "%15[a-z].%d.%15[a-z]", kind, &order, what) == 3) {
        const bool harmonics = strcmp(kind, "harmonics") == 0;
        from_lines(harmonics ? channel->harmonic : channel->main, harmonics ? channel->harmonics : channel->mains,
                   order, what, figure);
        return true;
    }
    if (sscanf(row->key, "spurs.%15[a-z]", what) == 1) {
        from_spurs(channel, measurement->seconds, row->at_hz, what, figure);
        return true;
    }
    if (sscanf(row->key, "floor.%15[a-z]", what) == 1) {
        from_floor(channel, measurement->seconds, row->at_hz, what, figure);
        return true;
    }
    return false;
}
