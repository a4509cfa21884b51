/* How each series is shown to people. Series over an axis without a view of their own share one. */
#include "report/series_cells.h"

enum { FREQUENCY = LDS_TEXT_FREQUENCY_COLUMNS };

static const struct lds_table_view views[] = {
    {
        .id = LDS_SERIES_HARMONICS,
        .caption = "Harmonics",
        .heading = "\n  order    frequency     level        re fundamental, dB                   phase\n",
        .flags_below = true,
        .cells = 8,
        .cell = {{"harmonic", LDS_CELL_LABEL, LDS_LINE_ORDER, LDS_CELL_VALUE, 7, 0, NULL},
                 {"frequency", LDS_CELL_RIGHT, LDS_LINE_HZ, LDS_CELL_VALUE, FREQUENCY, 0, NULL},
                 {"level", LDS_CELL_POINT, LDS_LINE_LEVEL, LDS_CELL_VALUE, 6, 6, NULL},
                 {"unit", LDS_CELL_LEFT, LDS_LINE_LEVEL, LDS_CELL_UNIT, 4, 0, NULL},
                 {"re fundamental, dB", LDS_CELL_POINT, LDS_LINE_RELATIVE, LDS_CELL_VALUE, 6, 7, NULL},
                 {"95 % interval", LDS_CELL_LEFT, LDS_LINE_RELATIVE, LDS_CELL_INTERVAL, 11, 0, NULL},
                 {"per cent", LDS_CELL_RIGHT, LDS_LINE_RELATIVE, LDS_CELL_PERCENT, 13, 0, NULL},
                 {"phase", LDS_CELL_RIGHT, LDS_LINE_PHASE, LDS_CELL_VALUE, 7, 0, NULL}},
        .screen = {"harmonics, dB", 8, LDS_LINE_RELATIVE, 14, true, true, true},
    },
    {
        .id = LDS_SERIES_PRODUCTS,
        .caption = "Intermodulation products",
        .heading = "\n  order    frequency     level        re tones, dB        product\n",
        .more = "weaker products",
        .cells = 6,
        .cell = {{"order", LDS_CELL_LABEL, LDS_LINE_ORDER, LDS_CELL_VALUE, 7, 0, NULL},
                 {"frequency", LDS_CELL_RIGHT, LDS_LINE_HZ, LDS_CELL_VALUE, FREQUENCY, 0, NULL},
                 {"level", LDS_CELL_POINT, LDS_LINE_LEVEL, LDS_CELL_VALUE, 6, 6, NULL},
                 {"unit", LDS_CELL_LEFT, LDS_LINE_LEVEL, LDS_CELL_UNIT, 4, 0, NULL},
                 {"re tones, dB", LDS_CELL_POINT, LDS_LINE_RELATIVE, LDS_CELL_VALUE, 6, 7, NULL},
                 {"95 % interval", LDS_CELL_LEFT, LDS_LINE_RELATIVE, LDS_CELL_INTERVAL, 11, 0, NULL}},
        .screen = {"products, dB", 6, LDS_LINE_RELATIVE, 18, false, true, false},
    },
    {
        .id = LDS_SERIES_MAINS,
        .caption = "Mains orders",
        .heading = "\n  order    frequency     level\n",
        .more = "weaker orders",
        .cells = 5,
        .cell = {{"mains order", LDS_CELL_LABEL, LDS_LINE_ORDER, LDS_CELL_VALUE, 7, 0, NULL},
                 {"frequency", LDS_CELL_RIGHT, LDS_LINE_HZ, LDS_CELL_VALUE, FREQUENCY, 0, NULL},
                 {"level", LDS_CELL_POINT, LDS_LINE_LEVEL, LDS_CELL_VALUE, 8, 7, NULL},
                 {"95 % interval", LDS_CELL_LEFT, LDS_LINE_LEVEL, LDS_CELL_INTERVAL, 14, 0, NULL},
                 {"unit", LDS_CELL_LEFT, LDS_LINE_LEVEL, LDS_CELL_UNIT, 0, 0, NULL}},
        .screen = {"hum, strongest", 6, LDS_LINE_LEVEL, 19, false, false, false},
    },
    {
        .id = LDS_SERIES_SPURS,
        .caption = "Other lines",
        .heading = "      frequency     level        over threshold   origin\n",
        .more = "weaker ones",
        .none = "none found above the floor.",
        .cells = 4,
        .cell = {{"other line", LDS_CELL_LABEL, LDS_SPUR_HZ, LDS_CELL_VALUE, 2 + FREQUENCY, 0, NULL},
                 {"level", LDS_CELL_POINT, LDS_SPUR_LEVEL, LDS_CELL_VALUE, 6, 4, NULL},
                 {"unit", LDS_CELL_LEFT, LDS_SPUR_LEVEL, LDS_CELL_UNIT, 6, 0, NULL},
                 {"over threshold, dB", LDS_CELL_POINT, LDS_SPUR_MARGIN, LDS_CELL_VALUE, 6, 2, " dB"}},
        .screen = {"other lines", 4, LDS_SPUR_LEVEL, 22, false, false, false},
    },
};

static const struct lds_table_view over_axis = {
    .more = "points between them",
    .cells = 4,
    .cell = {{"at", LDS_CELL_LABEL, LDS_CURVE_X, LDS_CELL_VALUE, 2 + FREQUENCY, 0, NULL},
             {"value", LDS_CELL_POINT, LDS_CURVE_Y, LDS_CELL_VALUE, 8, 7, NULL},
             {"95 % interval", LDS_CELL_LEFT, LDS_CURVE_Y, LDS_CELL_INTERVAL, 14, 0, NULL},
             {"unit", LDS_CELL_LEFT, LDS_CURVE_Y, LDS_CELL_UNIT, 0, 0, NULL}},
};

const struct lds_table_view *lds_table_view_of(const struct lds_series_kind *kind)
{
    for (size_t i = 0; i < sizeof views / sizeof views[0]; i++)
        if (views[i].id == kind->id)
            return &views[i];
    return kind->form == LDS_FORM_OVER_AXIS ? &over_axis : NULL;
}
