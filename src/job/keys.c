#include "job/keys.h"

#define OF_SHEET(member) offsetof(struct lds_sheet, member)
#define OF_CAPTURE(member) offsetof(struct lds_sheet_capture, member)

static const char NOT_STATED[] = "not stated";

/* clang-format off */
static const struct lds_sheet_key keys[] = {
    {LDS_SHEET_UNIT, "make", LDS_SHEET_TEXT, "", OF_SHEET(make), 0, 0, false, NOT_STATED, "maker of the unit"},
    {LDS_SHEET_UNIT, "type", LDS_SHEET_TEXT, "", OF_SHEET(type), 0, 0, false, NOT_STATED, "its type"},
    {LDS_SHEET_UNIT, "serial", LDS_SHEET_TEXT, "", OF_SHEET(serial), 0, 0, false, NOT_STATED, "its serial number"},
    {LDS_SHEET_UNIT, "channel 1", LDS_SHEET_CHANNEL_NAME, "", OF_SHEET(channel_name), 0, 0, false, "a number alone", "what channel 1 of the captures is, as in left; channel 2 and so on alike"},

    {LDS_SHEET_RATING, "power", LDS_SHEET_QUANTITY, "W", OF_SHEET(rating.power_w), 0, 1e5, true, NOT_STATED, "power that the maker or the client states"},
    {LDS_SHEET_RATING, "load", LDS_SHEET_QUANTITY, "ohm", OF_SHEET(rating.load_ohm), 0, 1e6, true, NOT_STATED, "load that it is stated for"},
    {LDS_SHEET_RATING, "distortion", LDS_SHEET_QUANTITY, "%", OF_SHEET(rating.distortion_percent), 0, 100, true, NOT_STATED, "distortion that it is stated at"},
    {LDS_SHEET_RATING, "frequency range", LDS_SHEET_RANGE, "Hz", OF_SHEET(rating.low_hz), 0, 0, false, NOT_STATED, "frequencies that it is stated for, as in 20 Hz - 20 kHz"},
    {LDS_SHEET_RATING, "channels driven", LDS_SHEET_WHOLE, "", OF_SHEET(rating.channels_driven), 1, LDS_CHANNELS_MAX, false, NOT_STATED, "channels driven at once"},
    {LDS_SHEET_RATING, "held", LDS_SHEET_QUANTITY, "s", OF_SHEET(rating.held_s), 0, 1e6, true, NOT_STATED, "how long the power is held"},

    {LDS_SHEET_JOB, "client", LDS_SHEET_TEXT, "", OF_SHEET(client), 0, 0, false, NOT_STATED, "whose unit it is"},
    {LDS_SHEET_JOB, "date", LDS_SHEET_DATE, "", OF_SHEET(date), 0, 0, false, "that of the youngest capture", "date of the job, as in 2026-05-17"},
    {LDS_SHEET_JOB, "place", LDS_SHEET_TEXT, "", OF_SHEET(place), 0, 0, false, NOT_STATED, "where it was measured"},
    {LDS_SHEET_JOB, "by", LDS_SHEET_TEXT, "", OF_SHEET(by), 0, 0, false, NOT_STATED, "who measured"},
    {LDS_SHEET_JOB, "power_tolerance", LDS_SHEET_QUANTITY, "%", OF_SHEET(power_tolerance_percent), 0, 100, true, "5", "how far the power of a capture may be from the stated one before the report says so"},
    {LDS_SHEET_JOB, "work", LDS_SHEET_LINES, "", OF_SHEET(work), 0, 0, false, NOT_STATED, "what was done to the unit; further lines are indented"},
    {LDS_SHEET_JOB, "notes", LDS_SHEET_LINES, "", OF_SHEET(notes), 0, 0, false, NOT_STATED, "what else the report should say; further lines are indented"},

    {LDS_SHEET_BENCH, "file", LDS_SHEET_TEXT, "", OF_SHEET(bench_file), 0, 0, false, "none", "bench file of all captures that state none; other keys here count over what it says"},

    {LDS_SHEET_CAPTURE, "file", LDS_SHEET_TEXT, "", OF_CAPTURE(file), 0, 0, false, "must be stated", "the capture, from the folder of the sheet"},
    {LDS_SHEET_CAPTURE, "role", LDS_SHEET_ROLE, "", OF_CAPTURE(role), 0, 0, false, "must be stated", "idle, sine, or chain (the capture chain alone)"},
    {LDS_SHEET_CAPTURE, "side", LDS_SHEET_WHEN, "", OF_CAPTURE(when), 0, 0, false, "neither", "before or after the work; neither: measured, not compared"},
    {LDS_SHEET_CAPTURE, "power", LDS_SHEET_QUANTITY, "W", OF_CAPTURE(power_w), 0, 1e5, true, NOT_STATED, "power of a sine into the load of the bench"},
    {LDS_SHEET_CAPTURE, "frequency", LDS_SHEET_QUANTITY, "Hz", OF_CAPTURE(frequency_hz), 0, 1e7, true, "that of the tone found", "frequency of a sine; the tone found must be within 1 % of it"},
    {LDS_SHEET_CAPTURE, "channel", LDS_SHEET_WHOLE, "", OF_CAPTURE(channel), 1, LDS_CHANNELS_MAX, false, "all", "that channel of the file alone"},
    {LDS_SHEET_CAPTURE, "driven", LDS_SHEET_WHOLE, "", OF_CAPTURE(driven), 1, LDS_CHANNELS_MAX, false, "told from the levels", "the channel of the file that alone is driven"},
    {LDS_SHEET_CAPTURE, "repeat", LDS_SHEET_WHOLE, "", OF_CAPTURE(repeat), 1, 9999, false, "1", "number of a capture of the same tone that was taken again, cabled anew"},
    {LDS_SHEET_CAPTURE, "bench", LDS_SHEET_TEXT, "", OF_CAPTURE(bench_file), 0, 0, false, "that of [bench]", "bench file of this capture"},
    {LDS_SHEET_CAPTURE, "note", LDS_SHEET_TEXT, "", OF_CAPTURE(note), 0, 0, false, NOT_STATED, "what the report should say of it"},
};
/* clang-format on */

const struct lds_sheet_key *lds_sheet_keys(size_t *count)
{
    *count = sizeof keys / sizeof *keys;
    return keys;
}

const char *lds_sheet_section_name(enum lds_sheet_section section)
{
    static const char *const NAMES[LDS_SHEET_SECTIONS] = {"unit",  "rating", "job",    "bench",
                                                          "parts", "limits", "capture"};
    return section < LDS_SHEET_SECTIONS ? NAMES[section] : "";
}
