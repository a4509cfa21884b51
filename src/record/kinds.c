/* The tables of series and of quantities. A new series needs a row here and the code that measures it; no output and no
 * comparison changes. Series are written in the order of the table. */
#include <string.h>

#include "record/quantities.h"

#define MOST 1e30 /* the fourth power of anything larger may overflow */

/* clang-format off */
static const struct lds_quantity_row quantities[] = {
    /* units, endings of members' names, least, most, stated, level */
    [LDS_QUANTITY_ORDER] = {{"", ""}, {"", "", ""}, 1.0, 1e6, true, false},
    [LDS_QUANTITY_NUMBER] = {{"", ""}, {"", "", ""}, 0.0, MOST, true, false},
    [LDS_QUANTITY_HZ] = {{"Hz", "Hz"}, {"_hz", "_hz", "_hz"}, 0.0, 1e9, true, false},
    [LDS_QUANTITY_SECONDS] = {{"s", "s"}, {"_s", "_s", "_s"}, 0.0, 1e12, true, false},
    [LDS_QUANTITY_MILLISECONDS] = {{"ms", "ms"}, {"_ms", "_ms", "_ms"}, 0.0, 1e15, true, false},
    [LDS_QUANTITY_DEGREES] = {{"deg", "deg"}, {"_deg", "_deg", "_deg"}, -360.0, 360.0, false, false},
    [LDS_QUANTITY_DB] = {{"dB", "dB"}, {"_db", "_db", "_db"}, -1e3, 1e3, false, false},
    [LDS_QUANTITY_OHM] = {{"ohm", "ohm"}, {"_ohm", "_ohm", "_ohm"}, 0.0, MOST, false, false},
    [LDS_QUANTITY_POWER] = {{"dBFS", "W"}, {"_w", "_dbfs", "_dbfs"}, -1e3, MOST, false, false},
    [LDS_QUANTITY_LEVEL] = {{"dBFS", "V"}, {"_v", "_dbfs", "_full_scale_rms"}, -MOST, MOST, false, true},
    [LDS_QUANTITY_DENSITY] = {{"dBFS", "V/√Hz"}, {"_v_rthz", "_dbfs_hz", "_full_scale_rms_rthz"},
                              -MOST, MOST, false, true},
    [LDS_QUANTITY_SAMPLE] = {{"full scale", "V"}, {"_v", "_dbfs", "_full_scale"}, -MOST, MOST, false, false},
};

#define HZ {"frequency", LDS_QUANTITY_HZ, false}
#define LINE {"order", LDS_QUANTITY_ORDER, false}, HZ, {"level", LDS_QUANTITY_LEVEL, true}

static const char thd_over_frequency[] =
    "Harmonics 2 to 9, added as powers, divided by the tone itself, for a tone of each frequency; found from one sweep "
    "(Farina 2000).";
static const char harmonic_over_frequency[] =
    "One harmonic, divided by the tone that makes it, over the frequency of that tone; found from one sweep (Farina 2000).";
#define EACH_POWER ", at each power of a tone that steps in level."
static const char thd_n_over_power[] =
    "Everything from 20 Hz to 20 kHz except the tone itself, divided by everything in that band" EACH_POWER
    " Power is the mean-square voltage in that band, divided by the load.";
static const char thd_over_power[] = "The harmonics, added as powers, divided by the tone itself" EACH_POWER;
static const char harmonic_over_power[] = "One harmonic, divided by the tone itself" EACH_POWER;
static const char crosstalk[] =
    "What a channel that is not driven shows of the sweep in the channel that is driven, divided by its level there.";

static const struct lds_series_kind kinds[] = {
    {.key = "harmonics", .id = LDS_SERIES_HARMONICS, .label = "harmonics", .row_key = "harmonic", .row_label = "harmonic", .line = "harmonic",
     .term = "harmonics",
     .definition = "The lines at whole multiples of the frequency of the tone. A harmonic is called by its order: the 2nd stands at "
                   "twice that frequency. The noise in a line is taken off its level.",
     .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT,
     .form = LDS_FORM_LINES, .match = LDS_MATCH_ORDER, .first_order = 2, .flags = true,
     .axis = LDS_LINE_HZ, .value = LDS_LINE_LEVEL, .columns = 5,
     .column = {LINE, {"relative", LDS_QUANTITY_DB, true}, {"phase", LDS_QUANTITY_DEGREES, false}}},
    {.key = "products", .id = LDS_SERIES_PRODUCTS, .label = "intermodulation products", .row_key = "product", .row_label = "product",
     .line = "product", .text = "product",
     .term = "intermodulation products",
     .definition = "The lines that two tones make together, at sums and differences of their multiples, such as f2 - f1. The noise in "
                   "a line is taken off its level.",
     .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP,
     .chain = LDS_CHAIN_COHERENT, .form = LDS_FORM_LINES, .match = LDS_MATCH_NAME, .first_order = 2, .flags = true, .later = true,
     .axis = LDS_LINE_HZ, .value = LDS_LINE_LEVEL, .columns = 4,
     .column = {LINE, {"relative", LDS_QUANTITY_DB, true}}},
    {.key = "mains", .id = LDS_SERIES_MAINS, .label = "mains orders", .row_key = "mains.line", .row_label = "mains order",
     .line = "mains", .value_alone = true,
     .term = "mains",
     .definition = "Hum: the lines at multiples of the mains frequency, up to order 40 or 2 kHz. A multiple is called by its order.",
     .section = LDS_MAINS, .family = LDS_FAMILY_MAINS, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT,
     .form = LDS_FORM_LINES, .match = LDS_MATCH_ORDER, .first_order = 1, .flags = true,
     .axis = LDS_LINE_HZ, .value = LDS_LINE_LEVEL, .columns = 3, .column = {LINE}},
    {.key = "spurs", .id = LDS_SERIES_SPURS, .label = "other lines", .row_key = "spur", .line = "other", .text = "origin",
     .term = "other lines",
     .definition = "Single lines that are listed neither with the tone nor with hum. Noise alone would show such a line in one capture "
                   "of a thousand.",
     .section = LDS_SPURS, .family = LDS_FAMILY_MAINS, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT,
     .form = LDS_FORM_LINES, .match = LDS_MATCH_NEAREST,
     .axis = LDS_SPUR_HZ, .value = LDS_SPUR_LEVEL, .columns = 3,
     .column = {HZ, {"level", LDS_QUANTITY_LEVEL, false}, {"margin", LDS_QUANTITY_DB, false}}},
    {.key = "floor", .id = LDS_SERIES_FLOOR, .label = "noise density over frequency", .part = "noise",
     .row_key = "noise.floor", .row_label = "noise floor", .change_label = "noise density",
     .region_key = "noise.region", .value_alone = true,
     .term = "noise over frequency",
     .definition = "The noise in a bandwidth of 1 Hz, band by band (a running median), with every single line taken out.",
     .section = LDS_NOISE, .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_POWER,
     .form = LDS_FORM_LINES, .match = LDS_MATCH_BANDS, .flags = true, .log_axis = true,
     .axis = LDS_FLOOR_HZ, .value = LDS_FLOOR_DENSITY, .columns = 6,
     .column = {HZ, {"low", LDS_QUANTITY_HZ, false}, {"high", LDS_QUANTITY_HZ, false},
                {"density", LDS_QUANTITY_DENSITY, false}, {"mean", LDS_QUANTITY_DENSITY, false},
                {"dof", LDS_QUANTITY_NUMBER, false}}},
    {.key = "spectrum", .id = LDS_SERIES_SPECTRUM, .label = "rms level of a bin",
     .term = "spectrum",
     .definition = "The rms level in narrow bands side by side, lines and noise together; of neighbouring bands the highest is drawn.",
     .section = LDS_SPURS, /* reduced to its peaks */
     .form = LDS_FORM_CURVE, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"level", LDS_QUANTITY_LEVEL, false}}},
    {.key = "density", .id = LDS_SERIES_DENSITY, .label = "noise density, lines in",
     .term = "density with lines",
     .definition = "The rms level in a bandwidth of 1 Hz over frequency, with hum and all other lines left in.",
     .section = LDS_NOISE,
     .form = LDS_FORM_CURVE, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"density", LDS_QUANTITY_DENSITY, false}}},
    {.key = "residual", .id = LDS_SERIES_RESIDUAL, .label = "residual",
     .term = "residual",
     .definition = "What the amplifier adds to the shape of the tone: the sum of the harmonics from the second up, over one period of "
                   "the tone.",
     .section = LDS_TONE, /* one period of the tone, peak scale */
     .form = LDS_FORM_CURVE, .value = LDS_CURVE_Y, .columns = 2,
     .column = {{"phase", LDS_QUANTITY_DEGREES, false}, {"residual", LDS_QUANTITY_SAMPLE, false}}},
    {.key = "mains_waveform", .id = LDS_SERIES_MAINS_WAVEFORM, .label = "mains waveform",
     .term = "mains waveform",
     .definition = "One period of the hum alone: the orders of the mains put together, mean over the capture.",
     .section = LDS_MAINS, /* one period of the mains */
     .form = LDS_FORM_CURVE, .value = LDS_CURVE_Y, .columns = 2,
     .column = {{"time", LDS_QUANTITY_MILLISECONDS, false}, {"waveform", LDS_QUANTITY_SAMPLE, false}}},
    {.key = "response.gain", .id = LDS_SERIES_GAIN, .label = "gain re 1 kHz over frequency", .part = "gain",
     .row_key = "response.gain", .row_label = "gain re 1 kHz", .region_key = "response.gain.region",
     .term = "gain over frequency",
     .definition = "The gain at each frequency, divided by the gain at 1 kHz.",
     .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .flags = true, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"gain", LDS_QUANTITY_DB, true}}},
    {.key = "response.phase", .label = "phase over frequency", .row_key = "response.phase", .row_label = "phase",
     .part = "phase", .region_key = "response.phase.region",
     .term = "phase over frequency",
     .definition = "The phase of the output against what was played, with the delay that fits all frequencies best taken out.",
     .section = LDS_LEVEL,
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"phase", LDS_QUANTITY_DEGREES, true}}},
    {.key = "response.coherence", .label = "coherence over frequency", .row_key = "response.coherence",
     .row_label = "coherence",
     .term = "coherence over frequency",
     .definition = "How much of the output at a frequency follows from what was played, from 0 to 1 (magnitude-squared coherence, of one "
                   "period of the noise): 1 where there is nothing else in it.",
     .section = LDS_LEVEL,
     .part = "coherence", .region_key = "response.coherence.region",
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"coherence", LDS_QUANTITY_NUMBER, true}}},
    {.key = "dc", .label = "DC over time", .row_key = "dc", .row_label = "DC",
     .term = "DC over time",
     .definition = "The voltage at the output after a low-pass of 10 Hz, which takes hum out.",
     .section = LDS_LEVEL, .settles = true, .pictured = true,
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_NONE, .value = LDS_CURVE_Y, .columns = 2,
     .column = {{"time", LDS_QUANTITY_SECONDS, false}, {"voltage", LDS_QUANTITY_SAMPLE, true}}},
    {.key = "impedance", .label = "source impedance over frequency", .row_key = "impedance",
     .row_label = "source impedance", .part = "source impedance",
     .region_key = "impedance.region",
     .term = "impedance over frequency",
     .definition = "Magnitude of the source impedance at each frequency, from captures of one sweep with two loads.",
     .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL, .worse = LDS_WORSE_UP,
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .log_axis = true, .value = LDS_CURVE_Y, .columns = 2,
     .column = {HZ, {"impedance", LDS_QUANTITY_OHM, true}}},
#define OVER_FREQUENCY(key_end, what, sum, name, means) \
    {.key = "distortion.by_frequency." key_end, .label = what " over frequency", \
     .part = what, .row_key = "distortion.by_frequency." key_end, .row_label = what, \
     .region_key = "distortion.by_frequency." key_end ".region", .part_of = sum, \
     .term = name, .definition = means, \
     .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT, \
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .flags = true, .log_axis = true, .value = LDS_CURVE_Y, \
     .columns = 2, .column = {HZ, {"level", LDS_QUANTITY_DB, true}}}
#define SUM "distortion.by_frequency.thd"
    OVER_FREQUENCY("thd", "THD", NULL, "THD over frequency", thd_over_frequency),
    OVER_FREQUENCY("order2", "2nd harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order3", "3rd harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order4", "4th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order5", "5th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order6", "6th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order7", "7th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order8", "8th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
    OVER_FREQUENCY("order9", "9th harmonic", SUM, "harmonics over frequency", harmonic_over_frequency),
#define OVER_POWER(key_end, name, what, sum, term_of, means) \
    {.key = "distortion.by_power." key_end, .id = name, .label = what " over power", .part = what, \
     .row_key = "distortion.by_power." key_end, .row_label = what, \
     .region_key = "distortion.by_power." key_end ".region", .part_of = sum, \
     .term = term_of, .definition = means, \
     .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT, \
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .flags = true, .log_axis = true, .value = LDS_CURVE_Y, \
     .columns = 2, .column = {WATTS, {"level", LDS_QUANTITY_DB, true}}}
#define WATTS {"power", LDS_QUANTITY_POWER, false}
#define ALL "distortion.by_power.thd_n"
    OVER_POWER("thd_n", LDS_SERIES_THD_N_BY_POWER, "THD+N", NULL, "THD+N over power", thd_n_over_power),
    OVER_POWER("thd", LDS_SERIES_THD_BY_POWER, "THD", ALL, "THD over power", thd_over_power),
    OVER_POWER("order2", LDS_SERIES_OTHER, "2nd harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order3", LDS_SERIES_OTHER, "3rd harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order4", LDS_SERIES_OTHER, "4th harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order5", LDS_SERIES_OTHER, "5th harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order6", LDS_SERIES_OTHER, "6th harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order7", LDS_SERIES_OTHER, "7th harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order8", LDS_SERIES_OTHER, "8th harmonic", ALL, "harmonics over power", harmonic_over_power),
    OVER_POWER("order9", LDS_SERIES_OTHER, "9th harmonic", ALL, "harmonics over power", harmonic_over_power),
    {.key = "distortion.by_power.gain", .label = "gain over power, re that at low power", .part = "gain",
     .row_key = "distortion.by_power.gain", .row_label = "gain re low power",
     .region_key = "distortion.by_power.gain.region",
     .term = "gain over power",
     .definition = "The gain for a tone at each power, divided by the mean gain of the three lowest steps that stand 40 dB above "
                   "the noise.",
     .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .flags = true, .log_axis = true, .value = LDS_CURVE_Y,
     .columns = 2, .column = {WATTS, {"gain", LDS_QUANTITY_DB, true}}},
#define CROSSTALK(key_end, which) \
    {.key = "crosstalk." key_end, .label = "crosstalk from the " which " channel over frequency", .part = "crosstalk", \
     .row_key = "crosstalk." key_end, .row_label = "crosstalk", .region_key = "crosstalk." key_end ".region", \
     .term = "crosstalk over frequency", .definition = crosstalk, \
     .section = LDS_PAIR, .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .chain = LDS_CHAIN_COHERENT, \
     .form = LDS_FORM_OVER_AXIS, .match = LDS_MATCH_AXIS, .flags = true, .log_axis = true, .value = LDS_CURVE_Y, \
     .columns = 2, .column = {HZ, {"level", LDS_QUANTITY_DB, true}}}
    CROSSTALK("from_first", "first"),
    CROSSTALK("from_second", "second"),
};
/* clang-format on */

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

const struct lds_series_kind *lds_series_kind_of(enum lds_series_id id)
{
    size_t i = 0;
    while (i < sizeof kinds / sizeof kinds[0] && kinds[i].id != id)
        i++;
    return &kinds[i];
}

const struct lds_quantity_row *lds_quantity_row(enum lds_quantity quantity)
{
    return &quantities[quantity];
}

const char *lds_quantity_unit(enum lds_quantity quantity, bool calibrated)
{
    return quantities[quantity].unit[calibrated];
}

const char *lds_series_change_unit(const struct lds_series_kind *kind)
{
    enum lds_quantity quantity = kind->column[kind->value].quantity;
    bool ratio = quantity == LDS_QUANTITY_DB || quantity == LDS_QUANTITY_OHM || quantities[quantity].level;
    return ratio ? "dB" : lds_quantity_unit(quantity, true);
}
