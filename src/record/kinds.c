/* The table of series: one row for each, in the order in which they are written. A new series is a row here and the
 * code that measures it; no output and no comparison changes. */
#include <string.h>

#include "loadside/series.h"

#define LINE_COLUMNS                                                                                                   \
    {"order", LDS_QUANTITY_ORDER, false}, {"frequency", LDS_QUANTITY_HZ, false},                                       \
    {                                                                                                                  \
        "level", LDS_QUANTITY_LEVEL, true                                                                              \
    }

static const struct lds_series_kind kinds[] = {
    {
        .key = "harmonics",
        .label = "harmonics",
        .row_key = "harmonic",
        .row_label = "harmonic",
        .section = LDS_TONE,
        .family = LDS_FAMILY_DISTORTION,
        .worse = LDS_WORSE_UP,
        .chain = LDS_CHAIN_COHERENT,
        .form = LDS_FORM_LINES,
        .match = LDS_MATCH_ORDER,
        .first_order = 2,
        .flags = true,
        .axis = LDS_LINE_HZ,
        .value = LDS_LINE_LEVEL,
        .columns = 5,
        .column = {LINE_COLUMNS, {"relative", LDS_QUANTITY_DB, true}, {"phase", LDS_QUANTITY_DEGREES, false}},
    },
    {
        .key = "mains",
        .label = "mains orders",
        .row_key = "mains.line",
        .row_label = "mains order",
        .value_alone = true,
        .section = LDS_MAINS,
        .family = LDS_FAMILY_MAINS,
        .worse = LDS_WORSE_UP,
        .chain = LDS_CHAIN_COHERENT,
        .form = LDS_FORM_LINES,
        .match = LDS_MATCH_ORDER,
        .first_order = 1,
        .flags = true,
        .axis = LDS_LINE_HZ,
        .value = LDS_LINE_LEVEL,
        .columns = 3,
        .column = {LINE_COLUMNS},
    },
    {
        .key = "spurs",
        .label = "other lines",
        .row_key = "spur",
        .section = LDS_SPURS,
        .family = LDS_FAMILY_MAINS,
        .worse = LDS_WORSE_UP,
        .chain = LDS_CHAIN_COHERENT,
        .form = LDS_FORM_LINES,
        .match = LDS_MATCH_NEAREST,
        .text = "origin",
        .axis = LDS_SPUR_HZ,
        .value = LDS_SPUR_LEVEL,
        .columns = 3,
        .column = {{"frequency", LDS_QUANTITY_HZ, false},
                   {"level", LDS_QUANTITY_LEVEL, false},
                   {"margin", LDS_QUANTITY_DB, false}},
    },
    {
        .key = "floor",
        .label = "noise density over frequency",
        .row_key = "noise.floor",
        .row_label = "noise floor",
        .change_label = "noise density",
        .region_key = "noise.region",
        .part = "noise along the frequency axis",
        .value_alone = true,
        .section = LDS_NOISE,
        .family = LDS_FAMILY_NOISE,
        .worse = LDS_WORSE_UP,
        .chain = LDS_CHAIN_POWER,
        .form = LDS_FORM_LINES,
        .match = LDS_MATCH_BANDS,
        .log_axis = true,
        .axis = LDS_FLOOR_HZ,
        .value = LDS_FLOOR_DENSITY,
        .columns = 6,
        .column = {{"frequency", LDS_QUANTITY_HZ, false},
                   {"low", LDS_QUANTITY_HZ, false},
                   {"high", LDS_QUANTITY_HZ, false},
                   {"density", LDS_QUANTITY_DENSITY, false},
                   {"mean", LDS_QUANTITY_DENSITY, false},
                   {"dof", LDS_QUANTITY_NUMBER, false}},
    },
    {
        .key = "spectrum", /* thinned to peaks */
        .label = "rms level of a bin",
        .section = LDS_SPURS,
        .form = LDS_FORM_CURVE,
        .log_axis = true,
        .value = LDS_CURVE_Y,
        .columns = 2,
        .column = {{"frequency", LDS_QUANTITY_HZ, false}, {"level", LDS_QUANTITY_LEVEL, false}},
    },
    {
        .key = "density", /* lines in */
        .label = "noise density with lines",
        .section = LDS_NOISE,
        .form = LDS_FORM_CURVE,
        .log_axis = true,
        .value = LDS_CURVE_Y,
        .columns = 2,
        .column = {{"frequency", LDS_QUANTITY_HZ, false}, {"density", LDS_QUANTITY_DENSITY, false}},
    },
    {
        .key = "residual", /* one period of the tone, peak scale */
        .label = "residual",
        .section = LDS_TONE,
        .form = LDS_FORM_CURVE,
        .value = LDS_CURVE_Y,
        .columns = 2,
        .column = {{"phase", LDS_QUANTITY_DEGREES, false}, {"residual", LDS_QUANTITY_SAMPLE, false}},
    },
    {
        .key = "mains_waveform", /* one period of the mains */
        .label = "mains waveform",
        .section = LDS_MAINS,
        .form = LDS_FORM_CURVE,
        .value = LDS_CURVE_Y,
        .columns = 2,
        .column = {{"time", LDS_QUANTITY_MILLISECONDS, false}, {"waveform", LDS_QUANTITY_SAMPLE, false}},
    },
    {
        .key = "response.gain",
        .label = "gain re 1 kHz over frequency",
        .row_key = "response.gain",
        .row_label = "gain re 1 kHz",
        .region_key = "response.gain.region",
        .part = "gain along the frequency axis",
        .section = LDS_LEVEL,
        .family = LDS_FAMILY_LEVEL,
        .form = LDS_FORM_OVER_AXIS,
        .match = LDS_MATCH_AXIS,
        .log_axis = true,
        .value = LDS_CURVE_Y,
        .columns = 2,
        .column = {{"frequency", LDS_QUANTITY_HZ, false}, {"gain", LDS_QUANTITY_DB, true}},
    },
};

const struct lds_series_kind *lds_series_kinds(size_t *count)
{
    *count = sizeof kinds / sizeof kinds[0];
    return kinds;
}

const struct lds_series_kind *lds_series_kind_find(const char *key)
{
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (strcmp(kinds[i].key, key) == 0)
            return &kinds[i];
    return NULL;
}

const char *lds_quantity_unit(enum lds_quantity quantity, bool calibrated)
{
    switch (quantity) {
    case LDS_QUANTITY_ORDER:
    case LDS_QUANTITY_NUMBER:
        return "";
    case LDS_QUANTITY_HZ:
        return "Hz";
    case LDS_QUANTITY_SECONDS:
        return "s";
    case LDS_QUANTITY_MILLISECONDS:
        return "ms";
    case LDS_QUANTITY_DEGREES:
        return "deg";
    case LDS_QUANTITY_DB:
        return "dB";
    case LDS_QUANTITY_OHM:
        return "ohm";
    case LDS_QUANTITY_POWER:
        return calibrated ? "W" : "dBFS";
    case LDS_QUANTITY_LEVEL:
        return calibrated ? "V" : "dBFS";
    case LDS_QUANTITY_DENSITY:
        return calibrated ? "V/√Hz" : "dBFS";
    case LDS_QUANTITY_SAMPLE:
        return calibrated ? "V" : "full scale";
    }
    return "";
}

const char *lds_series_change_unit(const struct lds_series_kind *kind)
{
    enum lds_quantity quantity = kind->column[kind->value].quantity;
    bool ratio = quantity == LDS_QUANTITY_DB || quantity == LDS_QUANTITY_LEVEL || quantity == LDS_QUANTITY_DENSITY ||
                 quantity == LDS_QUANTITY_OHM;
    return ratio ? "dB" : lds_quantity_unit(quantity, true);
}
