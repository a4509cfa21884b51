#include "job/keys.h"

#define OF_SHEET(member) offsetof(struct lds_sheet, member)
#define OF_EXPECT(member) offsetof(struct lds_sheet_expect, member)
#define OF_CAPTURE(member) offsetof(struct lds_sheet_capture, member)

static const char NOT_STATED[] = "not stated";

static const char *role_word(int i)
{
    size_t count;
    const struct lds_role *role = lds_roles(&count);
    return (size_t)i < count ? role[i].name : NULL;
}

static const void *role_row(int i)
{
    size_t count;
    return &lds_roles(&count)[i];
}

static const char *side_word(int i)
{
    return i <= LDS_WHEN_AFTER ? lds_when_name((enum lds_when)i) : NULL;
}

static const char *kind_word(int i)
{
    return i < LDS_EXPECT_KINDS ? lds_expect_kind_row((enum lds_expect_kind)i)->name : NULL;
}

#define VALUE(id, name, unit, fallback, of_it)                                                                         \
    {                                                                                                                  \
        LDS_SHEET_EXPECT,                                                                                              \
        {                                                                                                              \
            name, LDS_INI_TEXT, unit, OF_EXPECT(value[LDS_EXPECT_##id]), 0, 0, false, fallback, .meaning = of_it       \
        }                                                                                                              \
    }
#define TOLERANCE(id, name, of_it)                                                                                     \
    {                                                                                                                  \
        LDS_SHEET_EXPECT,                                                                                              \
        {                                                                                                              \
            name " tolerance", LDS_INI_TEXT, "%", OF_EXPECT(tolerance[LDS_EXPECT_##id]), 0, 0, false,                  \
                "counts as exact", .meaning = of_it                                                                    \
        }                                                                                                              \
    }

/* clang-format off */
static const struct lds_sheet_key keys[] = {
    {LDS_SHEET_UNIT, {"make", LDS_INI_TEXT, "", OF_SHEET(make), 0, 0, false, NOT_STATED, .meaning = "maker of the unit"}},
    {LDS_SHEET_UNIT, {"type", LDS_INI_TEXT, "", OF_SHEET(type), 0, 0, false, NOT_STATED, .meaning = "its type"}},
    {LDS_SHEET_UNIT, {"serial", LDS_INI_TEXT, "", OF_SHEET(serial), 0, 0, false, NOT_STATED, .meaning = "its serial number"}},
    {LDS_SHEET_UNIT, {"supply", LDS_INI_RAILS, "V", OF_SHEET(supply_v), -1e4, 1e4, false, NOT_STATED, .meaning = "its supply rails against ground, one or two, as in 35 V or 35 V, -35 V"}},
    {LDS_SHEET_UNIT, {"channel 1", LDS_INI_OWN, "", OF_SHEET(channel_name), 0, 0, false, "a number alone", .meaning = "what channel 1 of the captures is, such as left; likewise channel 2 and so on"}},

    {LDS_SHEET_RATING, {"power", LDS_INI_QUANTITY, "W", OF_SHEET(rating.power_w), 0, 1e5, true, NOT_STATED, .meaning = "power that the maker or the client states"}},
    {LDS_SHEET_RATING, {"load", LDS_INI_QUANTITY, "ohm", OF_SHEET(rating.load_ohm), 0, 1e6, true, NOT_STATED, .meaning = "load for which it is stated"}},
    {LDS_SHEET_RATING, {"distortion", LDS_INI_QUANTITY, "%", OF_SHEET(rating.distortion_percent), 0, 100, true, NOT_STATED, .meaning = "distortion at which it is stated"}},
    {LDS_SHEET_RATING, {"frequency range", LDS_INI_BAND, "Hz", OF_SHEET(rating.low_hz), 0, 0, false, NOT_STATED, .meaning = "frequencies for which it is stated, as in 20 Hz - 20 kHz"}},
    {LDS_SHEET_RATING, {"channels driven", LDS_INI_WHOLE, "", OF_SHEET(rating.channels_driven), 1, LDS_CHANNELS_MAX, false, NOT_STATED, .meaning = "channels driven at once"}},
    {LDS_SHEET_RATING, {"held", LDS_INI_QUANTITY, "s", OF_SHEET(rating.held_s), 0, 1e6, true, NOT_STATED, .meaning = "how long the power is delivered"}},

    {LDS_SHEET_JOB, {"client", LDS_INI_TEXT, "", OF_SHEET(client), 0, 0, false, NOT_STATED, .meaning = "whose unit it is"}},
    {LDS_SHEET_JOB, {"date", LDS_INI_DATE, "", OF_SHEET(date), 0, 0, false, "that of the latest capture", .meaning = "date of the job, as in 2026-05-17"}},
    {LDS_SHEET_JOB, {"place", LDS_INI_TEXT, "", OF_SHEET(place), 0, 0, false, NOT_STATED, .meaning = "where it was measured"}},
    {LDS_SHEET_JOB, {"by", LDS_INI_TEXT, "", OF_SHEET(by), 0, 0, false, NOT_STATED, .meaning = "who measured"}},
    {LDS_SHEET_JOB, {"power_tolerance", LDS_INI_QUANTITY, "%", OF_SHEET(power_tolerance_percent), 0, 100, true, "5", .meaning = "how far the power of a capture may be from the stated one before the report says so"}},
    {LDS_SHEET_JOB, {"settle_band", LDS_INI_QUANTITY, "V", OF_SHEET(settle_band_v), 0, 1e3, true, "50 mV", .meaning = "the output has settled once it stays within this of 0 V, after the unit was switched on"}},
    {LDS_SHEET_JOB, {"bias_resistance", LDS_INI_QUANTITY, "ohm", OF_SHEET(bias_ohm), 0, 1e12, true, "no bias current", .meaning = "what the final DC is divided by for a bias current"}},
    {LDS_SHEET_JOB, {"work", LDS_INI_LINES, "", OF_SHEET(work), 0, 0, false, NOT_STATED, .meaning = "what was done to the unit; further lines are indented"}},
    {LDS_SHEET_JOB, {"notes", LDS_INI_LINES, "", OF_SHEET(notes), 0, 0, false, NOT_STATED, .meaning = "what else the report should say; further lines are indented"}},

    {LDS_SHEET_BENCH, {"file", LDS_INI_PATH, "", OF_SHEET(bench_file), 0, 0, false, "none", .meaning = "bench file of all captures that do not state one; other keys here override it"}},

    {LDS_SHEET_CAPTURE, {"file", LDS_INI_PATH, "", OF_CAPTURE(file), 0, 0, false, "must be stated", .meaning = "the capture, from the folder of the sheet"}},
    {LDS_SHEET_CAPTURE, {"role", LDS_INI_ROW, "", OF_CAPTURE(role), 0, 0, false, "must be stated", .meaning = "what was captured", .word = role_word, .row = role_row}},
    {LDS_SHEET_CAPTURE, {"side", LDS_INI_WORD, "", OF_CAPTURE(when), 0, 0, false, "neither", .meaning = "before or after the work; neither: measured, not compared", .word = side_word}},
    {LDS_SHEET_CAPTURE, {"power", LDS_INI_QUANTITY, "W", OF_CAPTURE(power_w), 0, 1e5, true, NOT_STATED, .meaning = "power of a sine into the load of the bench"}},
    {LDS_SHEET_CAPTURE, {"frequency", LDS_INI_QUANTITY, "Hz", OF_CAPTURE(frequency_hz), 0, 1e7, true, "that of the tone found", .meaning = "frequency of a sine; the tone found must be within 1 % of it"}},
    {LDS_SHEET_CAPTURE, {"signal", LDS_INI_PATH, "", OF_CAPTURE(signal_file), 0, 0, false, "recognised", .meaning = "sidecar of the signal that was played, as loadside signal wrote it"}},
    {LDS_SHEET_CAPTURE, {"channel", LDS_INI_WHOLE, "", OF_CAPTURE(channel), 1, LDS_CHANNELS_MAX, false, "all", .meaning = "only this channel of the file"}},
    {LDS_SHEET_CAPTURE, {"driven", LDS_INI_WHOLE, "", OF_CAPTURE(driven), 1, LDS_CHANNELS_MAX, false, "decided from the levels", .meaning = "the only driven channel of the file"}},
    {LDS_SHEET_CAPTURE, {"repeat", LDS_INI_WHOLE, "", OF_CAPTURE(repeat), 1, 9999, false, "1", .meaning = "number of a capture of the same tone that was taken again, with the cables connected anew"}},
    {LDS_SHEET_CAPTURE, {"bench", LDS_INI_PATH, "", OF_CAPTURE(bench_file), 0, 0, false, "that of [bench]", .meaning = "bench file of this capture"}},
    {LDS_SHEET_CAPTURE, {"note", LDS_INI_TEXT, "", OF_CAPTURE(note), 0, 0, false, NOT_STATED, .meaning = "what the report should say about it"}},

    {LDS_SHEET_EXPECT, {"kind", LDS_INI_WORD, "", OF_EXPECT(kind), 0, 0, false, "must be stated", .meaning = "coupling, servo, resistor, offset or supply-ripple, as in loadside expect", .word = kind_word}},
    VALUE(R, "r", "ohm", NOT_STATED, "its resistance; coupling: one for each stage, with commas between"),
    VALUE(C, "c", "F", NOT_STATED, "its capacitance; likewise; what the work changed as in 2.2 uF -> 10 uF"),
    VALUE(CURRENT, "current", "A", NOT_STATED, "bias current, or load current of the supply"),
    VALUE(GAIN, "gain", "dB", "0, but of supply-ripple not stated", "from the part to the output"),
    VALUE(MAINS, "mains", "Hz", "50", "mains frequency"),
    VALUE(TEMPERATURE, "temperature", "K", "298.15", "of the resistor"),
    TOLERANCE(R, "r", "how far the resistance may be off, +-"),
    TOLERANCE(C, "c", "how far the capacitance may be off, +-"),
    TOLERANCE(CURRENT, "current", "how far the current may be off, +-"),
    {LDS_SHEET_EXPECT, {"channel", LDS_INI_WHOLE, "", OF_EXPECT(channel), 1, LDS_CHANNELS_MAX, false, "all", .meaning = "the channel whose parts they are"}},
};
/* clang-format on */

const struct lds_sheet_key *lds_sheet_keys(size_t *count)
{
    *count = sizeof keys / sizeof *keys;
    return keys;
}

const char *lds_sheet_section_name(enum lds_sheet_section section)
{
    static const char *const NAMES[LDS_SHEET_SECTIONS] = {"unit",  "rating", "job",     "bench",
                                                          "parts", "limits", "capture", "expect"};
    return section < LDS_SHEET_SECTIONS ? NAMES[section] : "";
}
