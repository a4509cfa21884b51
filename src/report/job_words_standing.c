/* The fixed texts of a job's report: method, definitions, uncertainty. Full definitions and their sources:
 * docs/figures.md. */
#include <string.h>

#include "job/remarks.h"
#include "report/job_words.h"

static const char *const method[] = {
    "The voltage across the load was captured and converted to volts: sample × full scale × attenuation, divided by "
    "the chain's own response where the bench states one.",
    "Each capture was read once, after a short look for its tone. A cascade of half-band decimators feeds averaged "
    "spectra (Welch 1967; Tröbs and Heinzel 2006) taken with a 7-term cosine window whose side lobes lie below -180 "
    "dB. Harmonics are demodulated at multiples of the phase of the tone, which is tracked, so that generator and "
    "recorder need no common clock.",
    "Noise is measured with the tone, its harmonics, hum and other lines removed, and the gaps filled from both sides. "
    "The orders of the mains are tracked together. All captures of a group were measured up to the frequency that each "
    "of them reaches.",
    "A figure counts as changed if the change is significant (p < 1 % over all figures of the group together, after "
    "Holm 1979) and larger than the smallest that matters (level 0.2 dB, noise 0.5 dB, distortion 1 dB, mains 4 dB; "
    "common practice, no source). It changed slightly if the change is significant, but not larger than that. It is "
    "the same if no change was shown and the whole 95 % interval of the change lies within what matters. Otherwise it "
    "cannot be told.",
};

static const char *const uncertainty[] = {
    "An interval contains the true value 95 times in 100. It combines the scatter seen in the capture with the "
    "tolerances that the bench states (JCGM 100). Counts and peaks have no interval: they are what the capture holds.",
    "The interval of a single figure does not cover new cabling, another day or another temperature. The interval of a "
    "change does: it includes the scatter from capture to capture, measured where a side was captured three times or "
    "more, and otherwise taken from the bench or from common practice.",
    "A figure below the floor is given as an upper limit. Figures that a recording of the capture chain alone explains "
    "are marked: they say more of the chain than of the amplifier.",
    "No interval includes what the bench does not state, such as a tolerance of the load or of the calibration.",
    "These figures hold for this unit, this load and these conditions. They are no test of electrical safety.",
};

static bool any_of(const struct lds_figure *figure, size_t figures, const struct lds_key *row)
{
    for (size_t i = 0; i < figures; i++)
        if (figure[i].name.row == row)
            return true;
    return false;
}

static bool occurs(const struct lds_job *job, const struct lds_key *row)
{
    for (size_t m = 0; m < job->sheet->captures; m++) {
        const struct lds_measurement *measurement = &job->measurement[m];
        for (size_t c = 0; c < measurement->channels; c++)
            if (any_of(measurement->channel[c].figure, measurement->channel[c].figures, row))
                return true;
        for (size_t p = 0; p < measurement->pairs; p++)
            if (any_of(measurement->pair[p].figure, measurement->pair[p].figures, row))
                return true;
    }
    return false;
}

/* One for each figure that the job has; neighbours with the same definition share it. */
static void put_definitions(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    size_t keys;
    const struct lds_key *key = lds_keys(&keys);
    const char *last = "";
    lds_row_of_words(
        rows, "dB",
        "20 times the decimal logarithm of a ratio of voltages. dBV is against 1 V rms, dBFS against a sine "
        "whose peak is full scale (AES17).");
    for (size_t i = 0; i < keys; i++) {
        if (!key[i].term || strcmp(key[i].definition, last) == 0 || !occurs(job, &key[i]))
            continue;
        last = key[i].definition;
        lds_row_of_words(rows, key[i].term, "%s", last);
    }
}

static bool series_occurs(const struct lds_job *job, const struct lds_series_kind *kind)
{
    for (size_t m = 0; m < job->sheet->captures; m++) {
        const struct lds_measurement *measurement = &job->measurement[m];
        for (size_t c = 0; c < measurement->channels; c++)
            if (lds_channel_series(&measurement->channel[c], kind->key)->rows > 0)
                return true;
        for (size_t p = 0; p < measurement->pairs; p++)
            if (lds_pair_series(&measurement->pair[p], kind->key)->rows > 0)
                return true;
    }
    return false;
}

static bool is_defined(const struct lds_rows_of_words *rows, const char *term)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strcmp(rows->row[i].name, term) == 0)
            return true;
    return false;
}

/* The same for each series, unless a figure or another series has the term already. */
static void put_series_definitions(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++)
        if (series_occurs(job, &kind[k]) && !is_defined(rows, kind[k].term))
            lds_row_of_words(rows, kind[k].term, "%s", kind[k].definition);
}

static void put_all(struct lds_remarks *remarks, const char *const *text, size_t count)
{
    for (size_t i = 0; i < count; i++)
        (void)lds_remark(remarks, "%s", text[i]);
}

void lds_job_words_standing(struct lds_job_words *words, const struct lds_job *job)
{
    put_all(&words->method, method, sizeof method / sizeof *method);
    put_all(&words->uncertainty, uncertainty, sizeof uncertainty / sizeof *uncertainty);
    put_definitions(&words->definitions, job);
    put_series_definitions(&words->definitions, job);
}
