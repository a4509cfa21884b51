/* The kinds: a row each, and a function that computes its figures in the order of the row. */
#include <math.h>
#include <string.h>

#include "expect/kinds.h"

static const double BOLTZMANN_J_K = 1.380649e-23; /* exact, SI of 2019 */

#define BIT(value) (1u << LDS_EXPECT_##value)
#define ALWAYS LDS_EXPECT_VALUES
#define SENTENCES(...) ((const char *const[]){__VA_ARGS__, NULL})

#define HIGH_PASS                                                                                                      \
    {"corner", "corner, 3.01 dB down", "Hz", ALWAYS, false}, {"droop.20", "response at 20 Hz", "dB", ALWAYS, false},   \
        {"phase.20", "phase at 20 Hz", "degrees", ALWAYS, false},                                                      \
    {                                                                                                                  \
        "phase.20k", "phase at 20 kHz", "degrees", ALWAYS, false                                                       \
    }

/* clang-format off */
static const struct lds_expect_kind_row rows[LDS_EXPECT_KINDS] = {
    [LDS_EXPECT_COUPLING] = {
        .name = "coupling", .what = "a coupling capacitor into a resistance", .needs = BIT(R) | BIT(C), .answers = 1,
        .assumptions = SENTENCES("R is all the resistance in series with the capacitor, source and load together.",
                                 "Stages in cascade do not load each other.",
                                 "Response and phase are relative to those far above the corner; a phase above 0 leads."),
        .figures = 4, .figure = {HIGH_PASS}},
    [LDS_EXPECT_SERVO] = {
        .name = "servo", .what = "a DC servo: an integrator in the feedback", .needs = BIT(R) | BIT(C),
        .may = BIT(GAIN), .answers = 1,
        .assumptions = SENTENCES("The servo is an ideal integrator of the output, with the time constant R C. Its own output reaches the amplifier's "
                                 "output with the gain; without one (0 dB) the corner is 1/(2 pi R C).",
                                 "Response and phase are relative to those far above the corner; a phase above 0 leads."),
        .figures = 4, .figure = {HIGH_PASS}},
    [LDS_EXPECT_RESISTOR] = {
        .name = "resistor", .what = "the thermal noise of a resistor", .needs = BIT(R), .may = BIT(GAIN) | BIT(TEMPERATURE),
        .band = true, .answers = 1,
        .assumptions = SENTENCES("Noise is thermal alone (4kTR), rms, in a band with sharp edges; a current through the resistor may add more.",
                                 "Nothing loads the resistor."),
        .figures = 4, .figure = {{"noise", "noise at the output, rms", "V", ALWAYS, false},
                                 {"noise.density", "its density", "V/√Hz", ALWAYS, false},
                                 {"noise.input", "noise at the resistor, rms", "V", ALWAYS, false},
                                 {"noise.input.density", "its density", "V/√Hz", ALWAYS, false}}},
    [LDS_EXPECT_DIVIDER] = {
        .name = "divider", .what = "two resistors between the load and an input", .needs = BIT(POWER) | BIT(LOAD) | BIT(INPUT),
        .may = BIT(R) | BIT(CABLE) | BIT(INPUT_RESISTANCE) | BIT(DISSIPATION) | BIT(TEMPERATURE), .band = true,
        .connects = true, .answers = 4,
        .assumptions = SENTENCES("The power is that of a steady sine; an output that clips swings further, up to its supply.",
                                 "Noise is the resistors' own, referred to the load; the bandwidth is where cable and divider are 3.01 dB down."),
        .figures = 12, .figure = {{"resistor.top", "top resistor", "ohm", ALWAYS, true},
                                 {"resistor.bottom", "bottom resistor", "ohm", ALWAYS, true},
                                 {"attenuation", "attenuation", "dB", ALWAYS, false},
                                 {"input.peak", "peak at the input", "V", ALWAYS, false},
                                 {"attenuation.ratio", "attenuation for the bench file", "", ALWAYS, false},
                                 {"load.peak", "peak at the load", "V", ALWAYS, false},
                                 {"dissipation", "dissipation of the top resistor", "W", ALWAYS, false},
                                 {"dissipation.bottom", "of the bottom resistor", "W", ALWAYS, false},
                                 {"loading", "its current over the load's", "%", ALWAYS, false},
                                 {"noise", "noise at the load, rms", "V", ALWAYS, false},
                                 {"noise.density", "its density", "V/√Hz", ALWAYS, false},
                                 {"bandwidth", "bandwidth", "Hz", LDS_EXPECT_CABLE, false}}},
    [LDS_EXPECT_OFFSET] = {
        .name = "offset", .what = "the offset of a bias current through a resistance", .needs = BIT(CURRENT) | BIT(R),
        .may = BIT(GAIN), .answers = 1,
        .assumptions = SENTENCES("The current flows in R alone; of two inputs it is the difference of their offsets that counts.",
                                 "The sign is that of the current."),
        .figures = 2, .figure = {{"offset", "offset at the output", "V", ALWAYS, false},
                                 {"offset.input", "offset at the resistance", "V", ALWAYS, false}}},
    [LDS_EXPECT_CAPACITOR_ESR] = {
        .name = "capacitor-esr", .what = "a capacitor with series resistance at twice the mains frequency",
        .needs = BIT(C) | BIT(ESR), .may = BIT(CURRENT) | BIT(MAINS), .answers = 2,
        .assumptions = SENTENCES("The capacitor is C in series with a constant ESR. Above the corner ESR counts for more than C.",
                                 "The ripple current is its rms value at twice the mains frequency."),
        .figures = 5, .figure = {{"corner", "corner: ESR equals the reactance", "Hz", ALWAYS, false},
                                 {"impedance", "impedance at twice the mains", "ohm", ALWAYS, false},
                                 {"reactance", "reactance at twice the mains", "ohm", ALWAYS, false},
                                 {"dissipation", "dissipation in the ESR", "W", LDS_EXPECT_CURRENT, false},
                                 {"ripple", "ripple voltage, rms", "V", LDS_EXPECT_CURRENT, false}}},
    [LDS_EXPECT_SUPPLY_RIPPLE] = {
        .name = "supply-ripple", .what = "the ripple of a reservoir capacitor behind a full-wave rectifier",
        .needs = BIT(C) | BIT(CURRENT), .may = BIT(GAIN) | BIT(MAINS), .answers = 1,
        .assumptions = SENTENCES("An upper limit: a steady current discharges the capacitor through a whole half period of the mains, "
                                 "and recharging takes no time. Real rectifiers conduct for part of the half period, which leaves less ripple.",
                                 "The capacitor has no series resistance. The rms values are those of the sawtooth."),
        .figures = 3, .figure = {{"ripple", "ripple at the supply, p-p", "V", ALWAYS, false},
                                 {"ripple.rms", "the same, rms", "V", ALWAYS, false},
                                 {"ripple.output", "what reaches the output, rms", "V", LDS_EXPECT_GAIN, false}}},
};
/* clang-format on */

const struct lds_expect_kind_row *lds_expect_kind_row(enum lds_expect_kind kind)
{
    return &rows[kind];
}

enum lds_expect_kind lds_expect_kind_find(const char *name)
{
    int kind = 0;
    while (kind < LDS_EXPECT_KINDS && strcmp(rows[kind].name, name) != 0)
        kind++;
    return (enum lds_expect_kind)kind;
}

/* ---- high-pass filters ---- */

static double decibels(double ratio)
{
    return 20.0 * log10(ratio);
}

static double factor(double db)
{
    return pow(10.0, (isnan(db) ? 0.0 : db) / 20.0);
}

/* Response of first-order high-pass stages with these corners at a frequency, in dB. */
static double response_db(const double *corner_hz, size_t stages, double hz)
{
    double db = 0.0;
    for (size_t i = 0; i < stages; i++)
        db -= 10.0 * log10(1.0 + corner_hz[i] / hz * (corner_hz[i] / hz));
    return db;
}

/* The frequency at which all stages together are 10 lg 2 = 3.01 dB down. It lies above the highest corner, and below
 * twice the sum of the corners, where the product of 1 + (fi/f)^2 is at most exp(1/4). */
static double corner_of(const double *corner_hz, size_t stages)
{
    double low_hz = 0.0, high_hz = 0.0;
    if (stages == 1)
        return corner_hz[0];
    for (size_t i = 0; i < stages; i++) {
        low_hz = fmax(low_hz, corner_hz[i]);
        high_hz += 2.0 * corner_hz[i];
    }
    for (int step = 0; step < 60; step++) {
        const double middle_hz = 0.5 * (low_hz + high_hz);
        if (response_db(corner_hz, stages, middle_hz) < -10.0 * log10(2.0))
            low_hz = middle_hz;
        else
            high_hz = middle_hz;
    }
    return 0.5 * (low_hz + high_hz);
}

static double phase_deg(const double *corner_hz, size_t stages, double hz)
{
    double phase = 0.0;
    for (size_t i = 0; i < stages; i++)
        phase += atan(corner_hz[i] / hz);
    return phase * 180.0 / M_PI;
}

/* The corner of a stage is 1/(2 pi R C); that of a servo is the same times the gain from its output to the amplifier's
 * output. */
static void high_pass(const struct lds_expect_spec *spec, double *figure)
{
    const size_t stages = spec->count[LDS_EXPECT_R];
    const double gain = factor(lds_expect_one(spec, LDS_EXPECT_GAIN));
    double corner_hz[LDS_EXPECT_STAGES_MAX];
    for (size_t i = 0; i < stages; i++)
        corner_hz[i] = gain / (2.0 * M_PI * spec->value[LDS_EXPECT_R][i] * spec->value[LDS_EXPECT_C][i]);
    figure[0] = corner_of(corner_hz, stages);
    figure[1] = response_db(corner_hz, stages, 20.0);
    figure[2] = phase_deg(corner_hz, stages, 20.0);
    figure[3] = phase_deg(corner_hz, stages, 20e3);
}

/* ---- the other kinds ---- */

/* V/sqrt(Hz): Johnson and Nyquist, Physical Review 32 (1928), pages 97 and 110. */
static double thermal(double ohm, double kelvin)
{
    return sqrt(4.0 * BOLTZMANN_J_K * kelvin * ohm);
}

static void resistor(const struct lds_expect_spec *spec, double *figure)
{
    const double density = thermal(spec->value[LDS_EXPECT_R][0], lds_expect_one(spec, LDS_EXPECT_TEMPERATURE));
    const double gain = factor(lds_expect_one(spec, LDS_EXPECT_GAIN)), width = sqrt(spec->high_hz - spec->low_hz);
    figure[0] = density * width * gain;
    figure[1] = density * gain;
    figure[2] = density * width;
    figure[3] = density;
}

static void divider(const struct lds_expect_spec *spec, double *figure)
{
    const struct lds_divider d = lds_divider_of(spec);
    const double square_a2 = 0.5 * d.load_peak_v * d.load_peak_v / (d.total_ohm * d.total_ohm);
    /* The input's resistance does not count in the noise: it divides the noise as it divides the signal. */
    const double both_ohm = d.top_ohm * d.bottom_ohm / (d.top_ohm + d.bottom_ohm);
    const double density =
        thermal(both_ohm, lds_expect_one(spec, LDS_EXPECT_TEMPERATURE)) * (d.top_ohm + d.bottom_ohm) / d.bottom_ohm;
    const double load_ohm = lds_expect_one(spec, LDS_EXPECT_LOAD);
    figure[0] = d.top_ohm;
    figure[1] = d.bottom_ohm;
    figure[2] = decibels(d.ratio);
    figure[3] = d.input_peak_v;
    figure[4] = d.ratio;
    figure[5] = d.load_peak_v;
    figure[6] = square_a2 * d.top_ohm;
    figure[7] = square_a2 * d.below_ohm * d.below_ohm / d.bottom_ohm;
    figure[8] = 100.0 * load_ohm / d.total_ohm;
    figure[9] = density * sqrt(spec->high_hz - spec->low_hz);
    figure[10] = density;
    figure[11] = 1.0 / (2.0 * M_PI * d.source_ohm * lds_expect_one(spec, LDS_EXPECT_CABLE));
}

static void offset(const struct lds_expect_spec *spec, double *figure)
{
    figure[1] = lds_expect_one(spec, LDS_EXPECT_CURRENT) * spec->value[LDS_EXPECT_R][0];
    figure[0] = figure[1] * factor(lds_expect_one(spec, LDS_EXPECT_GAIN));
}

static void capacitor_esr(const struct lds_expect_spec *spec, double *figure)
{
    const double c_f = spec->value[LDS_EXPECT_C][0], esr_ohm = lds_expect_one(spec, LDS_EXPECT_ESR);
    const double current_a = lds_expect_one(spec, LDS_EXPECT_CURRENT);
    const double reactance_ohm = 1.0 / (4.0 * M_PI * lds_expect_one(spec, LDS_EXPECT_MAINS) * c_f);
    figure[0] = 1.0 / (2.0 * M_PI * c_f * esr_ohm);
    figure[1] = hypot(esr_ohm, reactance_ohm);
    figure[2] = reactance_ohm;
    figure[3] = current_a * current_a * esr_ohm;
    figure[4] = current_a * figure[1];
}

/* dV = I/(2 f C); the rms of a sawtooth is its peak-to-peak value over 2 sqrt(3). */
static void supply_ripple(const struct lds_expect_spec *spec, double *figure)
{
    const double gain_db = lds_expect_one(spec, LDS_EXPECT_GAIN);
    figure[0] = lds_expect_one(spec, LDS_EXPECT_CURRENT) /
                (2.0 * lds_expect_one(spec, LDS_EXPECT_MAINS) * spec->value[LDS_EXPECT_C][0]);
    figure[1] = figure[0] / (2.0 * sqrt(3.0));
    figure[2] = isnan(gain_db) ? NAN : figure[1] * factor(gain_db);
}

void lds_expect_compute(const struct lds_expect_spec *spec, double figure[LDS_EXPECTED_MAX])
{
    static void (*const compute[LDS_EXPECT_KINDS])(const struct lds_expect_spec *,
                                                   double *) = {[LDS_EXPECT_COUPLING] = high_pass,
                                                                [LDS_EXPECT_SERVO] = high_pass,
                                                                [LDS_EXPECT_RESISTOR] = resistor,
                                                                [LDS_EXPECT_DIVIDER] = divider,
                                                                [LDS_EXPECT_OFFSET] = offset,
                                                                [LDS_EXPECT_CAPACITOR_ESR] = capacitor_esr,
                                                                [LDS_EXPECT_SUPPLY_RIPPLE] = supply_ripple};
    compute[spec->kind](spec, figure);
}
