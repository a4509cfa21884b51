/* Writing a proposed sheet: each line with its reason. */
#include <math.h>
#include <string.h>

#include "job/keys.h"
#include "job/propose.h"

/* A path as the value of a key: in quotes where its characters would not be read as they are. */
static void write_file(FILE *out, const char *key, const char *folder, const char *file)
{
    const char *first = *folder ? folder : file, *last = file + strlen(file) - 1;
    bool quoted = strchr(folder, ';') || strchr(file, ';') || strchr("\" ", *first) || strchr("\" ", *last);
    const char *quote = quoted ? "\"" : "";
    fprintf(out, "%s = %s%s%s%s\n", key, quote, folder, file, quote);
}

static void write_number(FILE *out, const char *key, double value, const char *unit, const char *why)
{
    char text[40] = "";
    if (!isnan(value))
        snprintf(text, sizeof text, "%.7g %s", value, unit);
    lds_sheet_write_key(out, key, text, why, "");
}

static void write_whole(FILE *out, const char *key, int value, const char *why)
{
    char text[16];
    snprintf(text, sizeof text, "%d", value);
    lds_sheet_write_key(out, key, text, why, "");
}

static void write_tone(FILE *out, const struct lds_proposal *proposal, const struct lds_proposed *one)
{
    char why[LDS_WHY];
    snprintf(why, sizeof why, "%.8g Hz found%s", one->tone_hz,
             isnan(one->nominal_hz) ? "; another capture has a tone close to it: state it to keep the two apart" : "");
    write_number(out, "frequency", one->nominal_hz, "Hz", why);
    if (isnan(one->power_w))
        snprintf(why, sizeof why, "not known without full scale and load, which a bench file states: fill in");
    else
        snprintf(why, sizeof why, "channel %d holds %.4g W, into %.4g ohm", one->power_channel, one->power_w,
                 proposal->bench.load_ohm);
    write_number(out, "power", one->nominal_w, "W", why);
    if (one->driven > 0)
        write_whole(out, "driven", one->driven, "the other channels are 20 dB or more below it");
}

static void write_repeat(FILE *out, const struct lds_proposed *one)
{
    char why[LDS_WHY];
    if (!one->repeats)
        return;
    snprintf(why, sizeof why, "like [capture %.60s]%s", one->repeats->name,
             one->repeats->look.info.rate_hz == one->look.info.rate_hz
                 ? ": taken again"
                 : ", at another rate: if of another bench, state bench instead");
    write_whole(out, "repeat", one->repeat, why);
}

static void write_capture(FILE *out, const struct lds_proposal *proposal, const struct lds_proposed *one)
{
    char why[LDS_WHY];
    fprintf(out, "\n[capture %s]\n", one->name);
    write_file(out, "file", proposal->beside, one->file);
    if (one->role->name[0])
        snprintf(why, sizeof why, "%s%.120s", one->role->chain ? "from its name" : "it holds ",
                 one->role->chain ? "" : one->holds);
    else
        snprintf(why, sizeof why, "it holds %.60s, and no role is for that: fill in, or leave it out", one->holds);
    lds_sheet_write_key(out, "role", one->role->name, why, "");
    if (!one->role->chain || one->when != LDS_WHEN_ANY)
        lds_sheet_write_key(out, "side", lds_when_name(one->when), one->why_when, "");
    if (one->role->tone)
        write_tone(out, proposal, one);
    write_repeat(out, one);
    if (!proposal->bench_file && proposal->benches > 1)
        lds_sheet_write_key(out, "bench", "", "which bench file of the folder, if not that of [bench]", "");
}

static void write_bench(FILE *out, const struct lds_proposal *proposal)
{
    if (proposal->bench_file) {
        lds_sheet_write_title(out, LDS_SHEET_BENCH);
        fprintf(out, "; %s\n", proposal->benches == 1 ? "The only bench file in the folder." : "As given.");
        write_file(out, "file", "", proposal->bench_file);
        return;
    }
    if (proposal->benches > 1)
        fprintf(out, "\n; Bench files in the folder: %s. Which of them is meant could not be told: fill in.",
                proposal->bench_names);
    lds_sheet_write_section(out, LDS_SHEET_BENCH);
}

void lds_propose_write(FILE *out, const void *context)
{
    const struct lds_proposal *proposal = context;
    lds_sheet_write_head(out);
    for (int section = 0; section < LDS_SHEET_CAPTURE; section++)
        if (section == LDS_SHEET_BENCH)
            write_bench(out, proposal);
        else
            lds_sheet_write_section(out, (enum lds_sheet_section)section);
    lds_sheet_write_title(out, LDS_SHEET_CAPTURE);
    fputs("; Proposed from what the captures hold, their names and their dates: read each line and its reason.\n", out);
    for (size_t i = 0; i < proposal->count; i++)
        write_capture(out, proposal, &proposal->one[i]);
}
