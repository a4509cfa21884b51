#include "common.h"

#include <math.h>
#include <string.h>

#include "output.h"
#include "progress.h"
#include "say.h"

const char *const common_encodings[] = {"s8",    "u8",    "s16le", "s24le", "s32le", "f32le", "f64le",
                                        "s16be", "s24be", "s32be", "f32be", "f64be", NULL};

const char *const common_caution[] = {
    "Inside an amplifier, mains voltage and charged reservoir capacitors can kill, and load resistors get hot enough "
    "to burn. An output that is not ground-referenced (bridged) is shorted by the grounded input of a sound card.",
    "Tens of volts destroy a sound card's input: before connecting, work out whether the voltage fits. The highest "
    "sine "
    "power that fits is (full_scale*attenuation)^2/(2*load): 25 W with 2 V, a divider of 10:1 and 8 ohm.",
    "Local codes and qualified practice come first.",
    NULL,
};

void common_init(struct common *common)
{
    *common = (struct common){
        .full_scale_v = NAN, .attenuation = NAN, .load_ohm = NAN, .mains_hz = NAN, .tone_hz = NAN, .rate_hz = NAN};
}

static bool given(double value)
{
    return !isnan(value);
}

bool is_standard(const char *path)
{
    return path && strcmp(path, "-") == 0;
}

bool common_check(const struct common *common)
{
    if (is_standard(common->json) && is_standard(common->csv)) {
        say("--csv", "both JSON and CSV to standard output found; one expected; write the other to a file");
        return false;
    }
    if (common->json && common->csv && output_same_file(common->json, common->csv)) {
        say("--csv", "'%s' found for both JSON and CSV; two files expected; name another", common->csv);
        return false;
    }
    if (common->pdf && !common->plots) {
        say("--pdf", "no plots asked for; --plots DIR expected beside it; add that, or leave --pdf out");
        return false;
    }
    const bool rate = given(common->rate_hz), channels = common->channels > 0;
    if (common->encoding && !(rate && channels)) {
        say("--encoding", "headerless samples without %s found; rate and channels expected; add %s",
            rate ? "--channels" : "--rate",
            rate       ? "--channels N"
            : channels ? "--rate HZ"
                       : "--rate HZ --channels N");
        return false;
    }
    if (!common->encoding && (rate || channels)) {
        say(rate ? "--rate" : "--channels",
            "no --encoding found; a capture with a header says this itself; leave it out, or add --encoding NAME");
        return false;
    }
    return true;
}

/* Says that a result would be written over something that is read, if so. */
static bool spares(const char *subject, const char *result, const char *input, const char *what)
{
    if (!input || !output_same_file(result, input))
        return true;
    say(subject, "'%s' is %s, which would be lost; another file expected; name one", result, what);
    return false;
}

bool common_check_paths(const struct common *common, int count, char *const *inputs)
{
    const char *const results[] = {common->json, common->csv}, *const subjects[] = {"--json", "--csv"};
    int standard_inputs = 0;
    for (size_t i = 0; i < 2; i++) {
        if (!results[i])
            continue;
        if (!output_check_file(subjects[i], results[i]) ||
            !spares(subjects[i], results[i], common->bench, "the bench file"))
            return false;
        for (int k = 0; k < count; k++)
            if (!spares(subjects[i], results[i], inputs[k], "a capture"))
                return false;
        for (size_t k = 0; k < common->chain.count; k++)
            if (!spares(subjects[i], results[i], common->chain.path[k], "a recording of the chain"))
                return false;
    }
    for (int k = 0; k < count; k++)
        standard_inputs += is_standard(inputs[k]);
    for (size_t k = 0; k < common->chain.count; k++)
        standard_inputs += is_standard(common->chain.path[k]);
    if (standard_inputs > 1) {
        say("-", "standard input found %d times; it can be read once; leave the others out", standard_inputs);
        return false;
    }
    return !common->plots || output_check_folder("--plots", common->plots);
}

/* The bench file, then the options over it. */
static bool fill_bench(const struct common *common, struct lds_bench *bench)
{
    struct lds_error error = {0};
    if (common->bench && lds_bench_load(bench, common->bench, &error) != LDS_OK) {
        say_about(common->bench, error.message);
        return false;
    }
    if (given(common->full_scale_v))
        bench->full_scale_v = common->full_scale_v;
    if (given(common->attenuation))
        bench->attenuation = common->attenuation;
    if (given(common->load_ohm))
        bench->load_ohm = common->load_ohm;
    if (common->dc_coupled)
        bench->dc_coupled = true;
    if (given(common->attenuation) && isnan(bench->full_scale_v)) {
        say("--attenuation", "no full scale to go with it; volts need both; add --full-scale V");
        return false;
    }
    return true;
}

bool common_measure_options(const struct common *common, struct lds_measure_options *options)
{
    lds_measure_options_init(options);
    if (!fill_bench(common, &options->bench))
        return false;
    memcpy(options->band, common->bands.band, sizeof options->band);
    options->bands = common->bands.count;
    options->channel = common->channel;
    memcpy(options->driven, common->driven.value, sizeof options->driven);
    options->drivens = common->driven.count;
    options->mains_hz = common->mains_hz;
    options->tone_hz = common->tone_hz;
    options->threads = common->threads;
    options->curves = common->plots != NULL;
    options->progress = progress_show;
    return true;
}
