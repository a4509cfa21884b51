/* The table of keys: one row per figure, in the order of printing, with everything known about it
 * (loadside/measurement.h). A new figure needs a row here and the code that measures it; no report and no comparison
 * changes. What a row leaves out is none, no, or the first of its enumeration. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "loadside/measurement.h"
#include "loadside/quantity.h"
#include "record/record.h"

static const char residual[] =
    "What the amplifier adds to the shape of the tone: the sum of the harmonics from the second up, over one period of "
    "the tone. Its crest is its peak over its rms; at the crossings: its rms near the zero crossings of the tone, over "
    "its whole rms.";
static const char difference[] =
    "Two equal tones f1 and f2, the second above the first. Second order: the level of f2 - f1; third order: the "
    "levels of 2 f1 - f2 and 2 f2 - f1 added; each divided by the sum of both tones' levels (IEC 60268-3, from "
    "memory).";
static const char tau[] =
    "Time constants of the exponentials by which the output settles after the thump: the faster one "
    "first; a second one only where two fit better.";
static const char mains[] =
    "Hum: the lines at multiples of the mains frequency, up to order 40 or 2 kHz. A multiple is called by its order: "
    "odd is orders 1, 3, 5 and so on; even is 2, 4, 6; buzz is all orders above 10.";

/* clang-format off */
#define POWER                                                                                                          \
    .unit = "W", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL, .worse = LDS_WORSE_DOWN, .print = LDS_PRINT_WATTS,  \
    .of = LDS_OF_TONE, .tone = LDS_SAME_FREQUENCY, .history = true, .term = "power at a THD+N",                        \
    .definition = "The lowest power above which THD+N stays over that limit. It holds for the frequency, load, channels " \
                  "driven and time that stand beside it."
#define SLOPE                                                                                                          \
    .unit = "dB/dB", .section = LDS_LEVEL, .of = LDS_OF_TONE, .tone = LDS_SAME_FREQUENCY, .either_sign = true,         \
    .term = "growth of a harmonic",                                                                                    \
    .definition = "Decibels by which the harmonic, relative to the fundamental, rises for each decibel of level: 1 "   \
                  "for the 2nd and 2 for the 3rd of a smooth curve.", .glance = LDS_GLANCE_THERE
static const struct lds_key keys[] = {
    {.stem = "capture.clipped", .label = "clipped runs", .unit = "count", .section = LDS_TRUST,
     .id = LDS_FIGURE_CLIPPED, .of = LDS_OF_RECORDING, .compared = LDS_NOT_COMPARED},
    {.stem = "capture.gaps", .label = "gaps", .unit = "count", .section = LDS_TRUST,
     .id = LDS_FIGURE_GAPS, .of = LDS_OF_RECORDING, .compared = LDS_NOT_COMPARED},
    {.stem = "capture.bits", .label = "bits really used", .unit = "bit", .section = LDS_TRUST,
     .id = LDS_FIGURE_BITS, .of = LDS_OF_RECORDING, .compared = LDS_NOT_COMPARED},
    {.stem = "capture.bandwidth", .label = "bandwidth really held", .unit = "Hz", .section = LDS_TRUST,
     .print = LDS_PRINT_HZ, .of = LDS_OF_RECORDING, .compared = LDS_NOT_COMPARED},
    {.stem = "capture.identical", .label = "identical channels", .unit = "", .section = LDS_TRUST,
     .of = LDS_OF_RECORDING, .share = true, .compared = LDS_NOT_COMPARED},
    {.stem = "tone.drift", .label = "drift of the tone's level", .unit = "dB", .section = LDS_TRUST,
     .print = LDS_PRINT_DB, .id = LDS_FIGURE_TONE_DRIFT, .of = LDS_OF_TONE, .compared = LDS_NOT_COMPARED},
    {.stem = "tone.wander", .label = "wander of its frequency", .unit = "ppm", .section = LDS_TRUST,
     .of = LDS_OF_TONE, .compared = LDS_NOT_COMPARED},

    {.stem = "signal.delay", .label = "beginning of the signal", .unit = "s", .section = LDS_TRUST,
     .of = LDS_OF_RECORDING, .compared = LDS_NOT_COMPARED},
    {.stem = "signal.clock", .label = "clock of the recorder against the player's", .unit = "ppm",
     .section = LDS_TRUST, .id = LDS_FIGURE_SIGNAL_CLOCK, .of = LDS_OF_RECORDING, .either_sign = true, .compared = LDS_NOT_COMPARED},

    {.stem = "level.rms", .label = "rms", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .print = LDS_PRINT_VOLTS, .id = LDS_FIGURE_RMS, .of = LDS_OF_VOLTAGE, .tone = LDS_SAME_FREQUENCY,
     .holds = LDS_HOLDS_ALL, .to_half_rate = true, .term = "rms",
     .definition = "The effective voltage (root of the mean square) over the whole capture, without DC.",
     .glance = LDS_GLANCE_ALONE},
    {.stem = "level.peak", .label = "peak", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .of = LDS_OF_VOLTAGE, .compared = LDS_SHOWN /* a largest sample has no interval */,
     .tone = LDS_SAME_FREQUENCY, .to_half_rate = true},
    {.stem = "level.crest", .label = "crest", .unit = "dB", .section = LDS_LEVEL, .print = LDS_PRINT_DB,
     .of = LDS_OF_VOLTAGE, .tone = LDS_SAME_FREQUENCY, .to_half_rate = true},
    {.stem = "level.headroom", .label = "headroom of the capture", .unit = "dB", .section = LDS_LEVEL,
     .print = LDS_PRINT_DB, .of = LDS_OF_VOLTAGE, .compared = LDS_NOT_COMPARED},
    {.stem = "level.dc", .label = "DC", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .worse = LDS_WORSE_UP, .id = LDS_FIGURE_DC, .of = LDS_OF_VOLTAGE, .either_sign = true, .tone = LDS_SAME_FREQUENCY,
     .history = true, .term = "DC",
     .definition = "The mean voltage. It is given only where the capture's input passes DC.",
     .glance = LDS_GLANCE_THERE, .rank = 8, .noun = "DC offset"},
    {.stem = "dc.thump", .label = "thump", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_DC,
     .worse = LDS_WORSE_UP, .of = LDS_OF_VOLTAGE, .history = true, .term = "thump",
     .definition = "Largest voltage, of either sign, in the first second after switching on, hum taken out.",
     .glance = LDS_GLANCE_THERE, .rank = 18, .noun = "thump"},
    {.stem = "dc.settle", .label = "time to settle", .unit = "s", .section = LDS_LEVEL, .family = LDS_FAMILY_DC,
     .worse = LDS_WORSE_UP, .id = LDS_FIGURE_SETTLE, .of = LDS_OF_VOLTAGE, .as_ratio = true, .history = true,
     .term = "time to settle",
     .definition = "Time from switching on until the output stays within the settling band about 0 V (+-50 mV unless "
                   "another was asked for), hum taken out.",
     .glance = LDS_GLANCE_THERE, .rank = 19, .noun = "time to settle"},
    {.stem = "dc.final", .label = "final DC", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .worse = LDS_WORSE_UP, .id = LDS_FIGURE_DC_FINAL, .of = LDS_OF_VOLTAGE, .either_sign = true, .tone = LDS_SAME_FREQUENCY, .history = true,
     .term = "final DC", .definition = "Mean of the voltage over the last tenth of the capture, at least 1 s.",
     .glance = LDS_GLANCE_THERE, .rank = 23, .noun = "final DC"},
    {.stem = "dc.wander", .label = "wander of DC, p-p", .unit = "V", .section = LDS_LEVEL, .family = LDS_FAMILY_DC,
     .worse = LDS_WORSE_UP, .of = LDS_OF_VOLTAGE, .tone = LDS_SAME_FREQUENCY, .term = "wander of DC",
     .definition = "Range of the settled output between 0.01 and 1 Hz, the fitted exponential taken out.",
     .glance = LDS_GLANCE_THERE},
    {.stem = "dc.tau", .label = "time constant", .unit = "s", .section = LDS_LEVEL, .family = LDS_FAMILY_DC,
     .of = LDS_OF_VOLTAGE, .as_ratio = true, .term = "time constant", .definition = tau, .glance = LDS_GLANCE_THERE},
    {.stem = "dc.tau.2", .label = "second time constant", .unit = "s", .section = LDS_LEVEL, .family = LDS_FAMILY_DC,
     .of = LDS_OF_VOLTAGE, .as_ratio = true, .term = "time constant", .definition = tau, .glance = LDS_GLANCE_THERE},
    {.stem = "dc.bias_current", .label = "bias current", .unit = "A", .section = LDS_LEVEL,
     .family = LDS_FAMILY_NONE, .of = LDS_OF_VOLTAGE, .either_sign = true, .term = "bias current",
     .definition = "Final DC over the resistance that was stated.", .glance = LDS_GLANCE_THERE},
    {.stem = "tone.frequency", .label = "frequency of the tone", .unit = "Hz", .section = LDS_LEVEL,
     .print = LDS_PRINT_HZ, .id = LDS_FIGURE_TONE_FREQUENCY, .of = LDS_OF_TONE, .tone = LDS_SAME_FREQUENCY,
     .glance = LDS_GLANCE_THERE},
    {.stem = "tone.level", .label = "level of the tone", .unit = "V", .section = LDS_LEVEL,
     .family = LDS_FAMILY_LEVEL, .print = LDS_PRINT_VOLTS, .id = LDS_FIGURE_TONE_LEVEL, .of = LDS_OF_TONE,
     .tone = LDS_SAME_FREQUENCY, .glance = LDS_GLANCE_THERE, .rank = 7, .noun = "level"},
    {.stem = "tone.power", .label = "power", .unit = "W", .section = LDS_LEVEL,
     .family = LDS_FAMILY_LEVEL, .print = LDS_PRINT_WATTS, .id = LDS_FIGURE_TONE_POWER, .of = LDS_OF_TONE,
     .tone = LDS_SAME_FREQUENCY, .history = true, .term = "power",
     .definition = "The square of the tone's rms voltage, divided by the load: continuous average sine power "
                   "(IEC 60268-3). Read it together with the load, the distortion, the frequency range, the channels "
                   "driven and the time it was held: without them it says little.",
     .glance = LDS_GLANCE_THERE},
    {.stem = "power.at_thd_n.0_1pct", .label = "power at THD+N 0.1 %", POWER, .glance = LDS_GLANCE_YES, .rank = 16},
    {.stem = "power.at_thd_n.1pct", .label = "power at THD+N 1 %", POWER, .id = LDS_FIGURE_POWER_1PCT, .glance = LDS_GLANCE_YES, .rank = 15,
     .noun = "power at 1 % THD+N"},
    {.stem = "power.at_thd_n.10pct", .label = "power at THD+N 10 %", POWER, .glance = LDS_GLANCE_YES},
    {.stem = "power.clip", .label = "power where peaks flatten", .unit = "W", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .worse = LDS_WORSE_DOWN, .print = LDS_PRINT_WATTS, .of = LDS_OF_TONE, .tone = LDS_SAME_FREQUENCY, .history = true,
     .term = "power where peaks flatten",
     .definition = "Power of the sine whose peaks are as high as the flattened ones, at the lowest level from which on "
                   "peaks stay flattened.", .glance = LDS_GLANCE_THERE, .rank = 17},
    {.stem = "power.compression_1db", .label = "power where the gain is 1 dB lower", .unit = "W", .section = LDS_LEVEL,
     .family = LDS_FAMILY_LEVEL, .worse = LDS_WORSE_DOWN, .print = LDS_PRINT_WATTS, .of = LDS_OF_TONE,
     .tone = LDS_SAME_FREQUENCY, .term = "compression",
     .definition = "Lowest power from which on the fundamental's gain is at least 1 dB lower than at low levels.", .glance = LDS_GLANCE_THERE},
    {.stem = "slope.order2", .label = "growth of the 2nd harmonic", SLOPE},
    {.stem = "slope.order3", .label = "growth of the 3rd harmonic", SLOPE},
    {.stem = "response.at", .label = "gain re 1 kHz", .unit = "dB", .section = LDS_LEVEL,
     .family = LDS_FAMILY_LEVEL, .print = LDS_PRINT_DB, .of = LDS_OF_TONE, .either_sign = true,
     .history = true, .term = "gain re 1 kHz",
     .definition = "The gain at that frequency, divided by the gain at 1 kHz.", .glance = LDS_GLANCE_THERE},
    {.stem = "response.corner.low", .label = "low corner", .unit = "Hz", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL, .as_ratio = true,
     .print = LDS_PRINT_HZ, .id = LDS_FIGURE_CORNER_LOW, .of = LDS_OF_TONE, .history = true, .term = "corner",
     .definition = "The frequency at which the gain is 3.01 dB below the gain at 1 kHz.", .glance = LDS_GLANCE_THERE, .rank = 11, .noun = "low corner"},
    {.stem = "response.corner.high", .label = "high corner", .unit = "Hz", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL, .as_ratio = true,
     .print = LDS_PRINT_HZ, .id = LDS_FIGURE_CORNER_HIGH, .of = LDS_OF_TONE, .history = true, .term = "corner",
     .definition = "The frequency at which the gain is 3.01 dB below the gain at 1 kHz.", .glance = LDS_GLANCE_THERE, .rank = 12, .noun = "high corner"},
    {.stem = "response.ripple", .label = "ripple", .unit = "dB", .section = LDS_LEVEL,
     .print = LDS_PRINT_DB, .of = LDS_OF_TONE, .term = "ripple",
     .definition = "The largest gain in the band minus the smallest, in dB.", .glance = LDS_GLANCE_THERE},
    {.stem = "gain", .label = "gain", .unit = "dB", .section = LDS_LEVEL, .family = LDS_FAMILY_LEVEL,
     .print = LDS_PRINT_DB, .of = LDS_OF_TONE, .either_sign = true, .history = true, .term = "gain",
     .definition = "The output voltage divided by the input voltage, at 1 kHz.", .glance = LDS_GLANCE_THERE},
    {.stem = "output.impedance", .label = "source impedance", .unit = "ohm", .section = LDS_LEVEL,
     .family = LDS_FAMILY_LEVEL, .worse = LDS_WORSE_UP, .id = LDS_FIGURE_IMPEDANCE, .of = LDS_OF_TONE,
     .either_sign = true, .tone = LDS_SAME_FREQUENCY, .history = true, .term = "source impedance",
     .definition = "Magnitude of (V_A - V_B)/(V_B/R_B - V_A/R_A), with the voltages across two loads: what is in series "
                   "with an ideal source.", .glance = LDS_GLANCE_YES, .rank = 14, .noun = "source impedance"},
    {.stem = "output.damping", .label = "damping factor", .unit = "", .section = LDS_LEVEL, .of = LDS_OF_TONE,
     .compared = LDS_SHOWN, .tone = LDS_SAME_FREQUENCY, .term = "damping factor",
     .definition = "8 ohm, unless stated otherwise, over the source impedance.", .glance = LDS_GLANCE_YES},

    {.stem = "thd", .label = "THD", .unit = "dB", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_RATIO, .id = LDS_FIGURE_THD,
     .of = LDS_OF_TONE, .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT,
     .history = true, .term = "THD",
     .definition = "Total harmonic distortion: the harmonics in the band, added as powers and with the noise in them "
                   "taken off, divided by the tone itself (the fundamental). IEC 60268-3 divides by the whole signal "
                   "instead (from memory).",
     .glance = LDS_GLANCE_YES, .rank = 3, .noun = "distortion"},
    {.stem = "thd_n", .label = "THD+N", .unit = "dB", .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION,
     .worse = LDS_WORSE_UP, .print = LDS_PRINT_RATIO, .id = LDS_FIGURE_THD_N, .of = LDS_OF_TONE,
     .tone = LDS_SAME_TONE, .holds = LDS_HOLDS_HARMONICS, .chain = LDS_CHAIN_COHERENT,
     .history = true, .term = "THD+N",
     .definition = "Total harmonic distortion and noise: everything in the band except the tone itself, divided by "
                   "everything in the band, both as rms (AES17; IEC 60268-3).",
     .glance = LDS_GLANCE_YES, .rank = 4},
    {.stem = "sinad", .label = "SINAD", .unit = "dB", .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION,
     .worse = LDS_WORSE_DOWN, .print = LDS_PRINT_DB, .of = LDS_OF_TONE, .tone = LDS_SAME_TONE,
     .holds = LDS_HOLDS_HARMONICS, .chain = LDS_CHAIN_COHERENT, .restates = true, .term = "SINAD",
     .definition = "Signal to noise and distortion: THD+N in dB with the opposite sign."},
    {.stem = "snr", .label = "SNR", .unit = "dB", .section = LDS_TONE, .family = LDS_FAMILY_NOISE,
     .worse = LDS_WORSE_DOWN, .print = LDS_PRINT_DB, .id = LDS_FIGURE_SNR, .of = LDS_OF_RESIDUAL,
     .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_POWER, .history = true, .term = "SNR",
     .definition = "Signal to noise: the level of the tone divided by the noise in the band, without harmonics and hum."},
    {.stem = "residual.peak", .waveform = LDS_SERIES_RESIDUAL, .label = "residual, peak", .unit = "V", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .id = LDS_FIGURE_RESIDUAL_PEAK,
     .of = LDS_OF_RESIDUAL, .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT, .term = "residual",
     .definition = residual},
    {.stem = "residual.crest", .waveform = LDS_SERIES_RESIDUAL, .label = "residual, crest", .unit = "dB", .section = LDS_TONE,
     .print = LDS_PRINT_DB, .of = LDS_OF_RESIDUAL, .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT,
     .shape_of = LDS_FIGURE_RESIDUAL_PEAK, .term = "residual", .definition = residual},
    {.stem = "residual.crossing", .waveform = LDS_SERIES_RESIDUAL, .label = "residual at the crossings", .unit = "dB", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_DB, .of = LDS_OF_RESIDUAL,
     .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT, .shape_of = LDS_FIGURE_RESIDUAL_PEAK,
     .term = "residual", .definition = residual},
    {.stem = "thd.at", .label = "THD", .unit = "dB", .section = LDS_TONE, .family = LDS_FAMILY_DISTORTION,
     .worse = LDS_WORSE_UP, .print = LDS_PRINT_RATIO, .of = LDS_OF_TONE, .chain = LDS_CHAIN_COHERENT,
     .history = true, .term = "THD at a frequency",
     .definition = "Harmonics 2 to 9, added as powers, divided by the tone itself, for a tone of that frequency; "
                   "found from one sweep (Farina 2000).", .glance = LDS_GLANCE_THERE, .rank = 13, .noun = "distortion"},

    {.stem = "imd.modulation", .label = "intermodulation, two tones 4:1", .unit = "%", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_PERCENT, .of = LDS_OF_TONE,
     .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT, .history = true, .term = "intermodulation, 4:1",
     .definition = "Two tones, the lower one f1 at four times the level of the higher one f2. The levels of f2 - f1 and "
                   "f2 + f1 (second order) are added, and so are those of f2 - 2 f1 and f2 + 2 f1 (third order); both "
                   "sums, added as powers, are divided by the level of f2 (IEC 60268-3, from memory).",
     .glance = LDS_GLANCE_THERE, .rank = 20, .noun = "intermodulation"},
    {.stem = "imd.difference.2", .label = "difference product, 2nd order", .unit = "%", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_PERCENT, .of = LDS_OF_TONE,
     .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT, .history = true, .term = "difference products",
     .definition = difference, .glance = LDS_GLANCE_THERE, .rank = 21, .noun = "intermodulation"},
    {.stem = "imd.difference.3", .label = "difference products, 3rd order", .unit = "%", .section = LDS_TONE,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_PERCENT, .of = LDS_OF_TONE,
     .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT, .history = true, .term = "difference products",
     .definition = difference, .glance = LDS_GLANCE_THERE, .rank = 22, .noun = "intermodulation"},

    {.stem = "noise.band", .label = "noise without hum", .unit = "V", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .id = LDS_FIGURE_NOISE,
     .of = LDS_OF_REST, .usual_hz = {20.0, 20e3}, .chain = LDS_CHAIN_POWER,
     .history = true, .term = "noise without hum",
     .definition = "The rms of the noise in the band, with every single line (hum, spurs) taken out.",
     .glance = LDS_GLANCE_YES, .rank = 6, .noun = "hiss"},
    {.stem = "noise.total", .label = "noise with hum", .unit = "V", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .of = LDS_OF_REST,
     .usual_hz = {20.0, 20e3}, .holds = LDS_HOLDS_LINES, .chain = LDS_CHAIN_POWER, .term = "noise with hum",
     .definition = "The rms of the noise in the band, hum and spurs included."},
    {.stem = "noise.a", .label = "noise with hum, A-weighted", .unit = "V", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .of = LDS_OF_REST,
     .holds = LDS_HOLDS_LINES, .weighting = LDS_WEIGHTED_A, .chain = LDS_CHAIN_POWER,
     .history = true, .term = "A-weighted noise",
     .definition = "The rms of the noise from 20 Hz to 20 kHz, hum and spurs included, weighted as the ear hears quiet "
                   "sounds (A-weighting, IEC 61672-1).",
     .glance = LDS_GLANCE_YES, .rank = 5},
    {.stem = "noise.itu468", .label = "noise with hum, ITU-R 468", .unit = "V", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .of = LDS_OF_REST,
     .holds = LDS_HOLDS_LINES, .weighting = LDS_WEIGHTED_ITU468, .chain = LDS_CHAIN_POWER,
     .term = "ITU-R 468 noise",
     .definition = "The rms of the noise, hum and spurs included, weighted by how much noise disturbs (ITU-R BS.468-4, "
                   "0 dB at 1 kHz). The standard's own meter is quasi-peak and reads more."},
    {.stem = "noise.density", .label = "noise density", .unit = "V/√Hz", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .print = LDS_PRINT_DENSITY, .of = LDS_OF_REST,
     .chain = LDS_CHAIN_POWER, .term = "noise density",
     .definition = "The noise in a bandwidth of 1 Hz: its mean over the third octave around that frequency "
                   "(IEC 61260-1), lines taken out."},
    {.stem = "noise.corner", .label = "1/f corner", .unit = "Hz", .section = LDS_NOISE, .print = LDS_PRINT_HZ,
     .of = LDS_OF_REST, .chain = LDS_CHAIN_POWER, .shape_of = LDS_FIGURE_NOISE},
    {.stem = "noise.slope", .label = "slope above 1 kHz", .unit = "dB/decade", .section = LDS_NOISE,
     .of = LDS_OF_REST, .chain = LDS_CHAIN_POWER, .shape_of = LDS_FIGURE_NOISE},
    {.stem = "noise.bursts", .label = "bursts", .unit = "per min", .section = LDS_NOISE, .worse = LDS_WORSE_UP,
     .of = LDS_OF_REST, .chain = LDS_CHAIN_POWER, .shape_of = LDS_FIGURE_NOISE,
     .glance = LDS_GLANCE_FOUND},
    {.stem = "noise.kurtosis", .label = "kurtosis", .unit = "", .section = LDS_NOISE, .of = LDS_OF_REST,
     .either_sign = true, .chain = LDS_CHAIN_POWER, .shape_of = LDS_FIGURE_NOISE},
    {.stem = "noise.popcorn", .label = "two-level steps", .unit = "V", .section = LDS_NOISE,
     .family = LDS_FAMILY_NOISE, .worse = LDS_WORSE_UP, .of = LDS_OF_REST, .chain = LDS_CHAIN_POWER,
     .glance = LDS_GLANCE_FOUND},

    {.stem = "mains.frequency", .label = "mains frequency", .unit = "Hz", .section = LDS_MAINS,
     .print = LDS_PRINT_HZ, .id = LDS_FIGURE_MAINS_FREQUENCY, .of = LDS_OF_REST, .spare_orders = 2,
     .term = "mains", .definition = mains},
    {.stem = "mains.total", .waveform = LDS_SERIES_MAINS_WAVEFORM, .label = "hum, total", .unit = "V", .section = LDS_MAINS,
     .family = LDS_FAMILY_MAINS, .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .id = LDS_FIGURE_MAINS_TOTAL,
     .of = LDS_OF_REST, .spare_orders = 1, .chain = LDS_CHAIN_COHERENT,
     .history = true, .term = "mains", .definition = mains,
     .glance = LDS_GLANCE_YES, .rank = 1, .noun = "hum"},
    {.stem = "mains.odd", .waveform = LDS_SERIES_MAINS_WAVEFORM, .label = "hum, odd", .unit = "V", .section = LDS_MAINS, .family = LDS_FAMILY_MAINS,
     .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .of = LDS_OF_REST, .spare_orders = 2,
     .chain = LDS_CHAIN_COHERENT, .term = "mains", .definition = mains},
    {.stem = "mains.even", .waveform = LDS_SERIES_MAINS_WAVEFORM, .label = "hum, even", .unit = "V", .section = LDS_MAINS, .family = LDS_FAMILY_MAINS,
     .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .id = LDS_FIGURE_MAINS_EVEN, .of = LDS_OF_REST, .spare_orders = 2,
     .chain = LDS_CHAIN_COHERENT, .term = "mains", .definition = mains},
    {.stem = "mains.buzz", .waveform = LDS_SERIES_MAINS_WAVEFORM, .label = "hum, buzz", .unit = "V", .section = LDS_MAINS, .family = LDS_FAMILY_MAINS,
     .worse = LDS_WORSE_UP, .print = LDS_PRINT_VOLTS, .of = LDS_OF_REST, .spare_orders = 2,
     .chain = LDS_CHAIN_COHERENT, .term = "mains", .definition = mains,
     .rank = 2},
    {.stem = "mains.wander", .label = "wander of the total, p-p", .unit = "dB", .section = LDS_MAINS,
     .print = LDS_PRINT_DB, .of = LDS_OF_REST, .spare_orders = 2, .term = "mains", .definition = mains},
    {.stem = "mains.modulation", .waveform = LDS_SERIES_MAINS_WAVEFORM, .label = "hum sidebands re tone", .unit = "dB", .section = LDS_MAINS,
     .family = LDS_FAMILY_MAINS, .worse = LDS_WORSE_UP, .print = LDS_PRINT_RATIO, .of = LDS_OF_REST,
     .tone = LDS_SAME_TONE, .spare_orders = 2, .chain = LDS_CHAIN_COHERENT, .history = true,
     .term = "mains sidebands",
     .definition = "How much the mains modulates the tone: the sidebands that stand once and twice the mains frequency "
                   "away from the tone, divided by the tone.",
     .glance = LDS_GLANCE_THERE},

    {.stem = "balance", .label = "balance", .unit = "dB", .section = LDS_PAIR, .family = LDS_FAMILY_LEVEL,
     .print = LDS_PRINT_DB, .id = LDS_FIGURE_BALANCE, .of = LDS_OF_TONE, .tone = LDS_SAME_FREQUENCY,
     .term = "balance",
     .definition = "The level of the tone in the second channel, divided by its level in the first.",
     .glance = LDS_GLANCE_YES, .rank = 10, .noun = "balance"},
    {.stem = "crosstalk", .label = "crosstalk", .unit = "dB", .section = LDS_PAIR,
     .family = LDS_FAMILY_DISTORTION, .worse = LDS_WORSE_UP, .print = LDS_PRINT_DB, .of = LDS_OF_RESIDUAL,
     .directed = true, .tone = LDS_SAME_TONE, .chain = LDS_CHAIN_COHERENT,
     .history = true, .term = "crosstalk",
     .definition = "What a channel that is not driven shows at the frequency of the tone, divided by the tone in the "
                   "channel that is driven.",
     .glance = LDS_GLANCE_YES, .rank = 9, .noun = "crosstalk"},
    {.stem = "noise.coherence", .label = "coherence of the noise", .unit = "", .section = LDS_PAIR,
     .of = LDS_OF_REST, .usual_hz = {20.0, 20e3}, .share = true, .tone = LDS_SAME_FREQUENCY,
     .chain = LDS_CHAIN_POWER, .term = "coherence",
     .definition = "How much of the noise two channels have in common, from 0 to 1 (magnitude-squared coherence): near "
                   "1 where a supply or an earth is shared, 0 where the noise of each is its own."},

    /* For figures that a later version saved and this one does not know: kept, printed last, and not judged. */
    {.stem = "", .label = "", .unit = "", .section = LDS_SPURS, .of = LDS_OF_VOLTAGE, .either_sign = true,
     .compared = LDS_NOT_COMPARED},
};
/* clang-format on */
enum { KEYS = sizeof keys / sizeof keys[0] - 1 };

const struct lds_key *lds_keys(size_t *count)
{
    *count = KEYS;
    return keys;
}

const struct lds_key *lds_key_find(const char *key)
{
    const struct lds_key *found = NULL;
    size_t longest = 0;
    for (size_t i = 0; i < KEYS; i++) {
        size_t length = strlen(keys[i].stem);
        bool fits = strncmp(keys[i].stem, key, length) == 0 && (key[length] == '\0' || key[length] == '.');
        if (fits && length > longest) {
            found = &keys[i];
            longest = length;
        }
    }
    return found;
}

const struct lds_key *lds_key_row(enum lds_figure_id id)
{
    size_t i = 0;
    while (i < KEYS && keys[i].id != id)
        i++;
    return &keys[i];
}

/* A key has the unit of its row, but levels without a scale in volts have dBFS. */
const char *lds_key_unit(const struct lds_key *row, bool calibrated)
{
    bool level = strcmp(row->unit, "V") == 0 || strcmp(row->unit, "W") == 0 || strcmp(row->unit, "V/√Hz") == 0;
    return level && !calibrated ? "dBFS" : row->unit;
}

/* Decibels may have either sign; nothing else is below 0. */
void lds_key_range(const struct lds_key *row, const char *unit, double *least, double *most)
{
    *least = row->either_sign || strncmp(unit, "dB", 2) == 0 ? -INFINITY : 0.0;
    *most = row->share ? 1.0 : INFINITY;
}

/* ---- the parts of a key ---- */

/* "20-20k"; or "1k", which is twice that frequency. */
static bool read_band(const char *text, double hz[2])
{
    if (lds_band_parse(text, &hz[0], &hz[1]))
        return true;
    hz[0] = hz[1] = NAN;
    if (!lds_quantity_parse(text, "Hz", &hz[0]))
        return false;
    hz[1] = hz[0];
    return true;
}

static bool read_channels(const char *text, int channels[2])
{
    int end = 0;
    if (sscanf(text, "%3d-%3d%n", &channels[0], &channels[1], &end) == 2 && text[end] == '\0' && channels[0] > 0 &&
        channels[1] > 0)
        return true;
    channels[0] = channels[1] = 0;
    return false;
}

/* The channels of a pair, after the band if there is one. */
static void read_pair(const char *text, struct lds_figure_name *name)
{
    char band[64];
    const char *point = strrchr(text, '.');
    if (name->row->usual_hz[1] == 0.0) {
        (void)read_channels(text, name->channels);
        return;
    }
    snprintf(band, sizeof band, "%.*s", point ? (int)(point - text) : 0, text);
    if (point && lds_band_parse(band, &name->asked_hz[0], &name->asked_hz[1]) &&
        read_channels(point + 1, name->channels))
        return;
    (void)read_band(text, name->asked_hz);
}

struct lds_figure_name lds_key_read(const char *key)
{
    const struct lds_key *row = lds_key_find(key);
    struct lds_figure_name name = {.row = row ? row : &keys[KEYS], .asked_hz = {NAN, NAN}};
    const char *rest = key + strlen(name.row->stem);
    if (!row || *rest != '.')
        return name;
    if (row->section == LDS_PAIR)
        read_pair(rest + 1, &name);
    else
        (void)read_band(rest + 1, name.asked_hz);
    return name;
}

/* Whether the key names the usual band, or none if its figure has none. */
static bool is_usual(const struct lds_figure_name *name)
{
    const double *asked = name->asked_hz, *usual = name->row->usual_hz;
    return usual[1] > 0.0 ? asked[0] == usual[0] && asked[1] == usual[1] : isnan(asked[0]);
}

bool lds_figure_is(const struct lds_figure_name *name, enum lds_figure_id id)
{
    return name->row->id == id && is_usual(name);
}

int lds_figure_rank(const struct lds_figure_name *name)
{
    return is_usual(name) ? name->row->rank : 0;
}

bool lds_figure_in_history(const struct lds_figure_name *name)
{
    return name->row->history && is_usual(name);
}

/* A switch without default, so that a new flag warns here. */
const char *lds_flag_name(enum lds_flag flag)
{
    switch (flag) {
    case LDS_FLAG_BELOW_FLOOR:
        return "below floor";
    case LDS_FLAG_BAND_CUT:
        return "band cut";
    case LDS_FLAG_UNSTEADY:
        return "unsteady";
    case LDS_FLAG_CLIPPED:
        return "clipped";
    case LDS_FLAG_GAP:
        return "gap";
    case LDS_FLAG_BANDWIDTH:
        return "bandwidth";
    case LDS_FLAG_FEW_BITS:
        return "few bits";
    case LDS_FLAG_IDENTICAL:
        return "identical";
    case LDS_FLAG_DRIFTING:
        return "drifting";
    case LDS_FLAG_NEAR_LINE:
        return "near line";
    case LDS_FLAG_FLAT:
        return "flat";
    case LDS_FLAG_CHAIN_NOT_MEASURED:
        return "chain not measured";
    case LDS_FLAG_CHAIN_NOT_COMPARABLE:
        return "chain not comparable";
    case LDS_FLAG_NEAR_CHAIN:
        return "near chain";
    case LDS_FLAG_CHAIN_LIMITED:
        return "chain-limited";
    case LDS_FLAG_PHASE_NOT_KNOWN:
        return "phase not known";
    }
    return "unknown flag";
}

/* Up to four decimals and no trailing zeros. Whole numbers only pass through printf, so that the locale cannot change
 * the point. */
void lds_edge_name(double hz, char *text, size_t size)
{
    const char *prefix = hz >= 1e6 ? "M" : hz >= 1e3 ? "k" : "";
    double unit_hz = hz >= 1e6 ? 1e6 : hz >= 1e3 ? 1e3 : 1.0;
    long long parts = llround(hz / unit_hz * 1e4);
    char digits[48];
    snprintf(digits, sizeof digits, "%lld.%04d", parts / 10000, (int)(parts % 10000));
    size_t length = strlen(digits);
    while (digits[length - 1] == '0')
        length--;
    if (digits[length - 1] == '.')
        length--;
    snprintf(text, size, "%.*s%s", (int)length, digits, prefix);
}

void lds_band_name(double low_hz, double high_hz, char *name, size_t size)
{
    char low[32], high[32];
    lds_edge_name(low_hz, low, sizeof low);
    lds_edge_name(high_hz, high, sizeof high);
    snprintf(name, size, "%s-%s", low, high);
}

void lds_band_key(const char *stem, double low_hz, double high_hz, char key[64])
{
    char name[48];
    lds_band_name(low_hz, high_hz, name, sizeof name);
    snprintf(key, 64, "%s.%s", stem, name);
}

void lds_figure_detail(const struct lds_figure_name *name, char *text, size_t size)
{
    char band[64] = "", channels[32] = "";
    if (name->asked_hz[0] < name->asked_hz[1])
        lds_band_name(name->asked_hz[0], name->asked_hz[1], band, sizeof band);
    else if (!isnan(name->asked_hz[0]))
        lds_edge_name(name->asked_hz[0], band, sizeof band);
    if (name->channels[0] > 0)
        snprintf(channels, sizeof channels, "%d-%d", name->channels[0], name->channels[1]);
    snprintf(text, size, "%s%s%s", band, band[0] && channels[0] ? "." : "", channels);
}
