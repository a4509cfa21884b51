/* The fixed texts of a job's report: method, definitions, uncertainty. Full definitions and their sources:
 * docs/figures.md. */
#include <stdlib.h>

#include "job/remarks.h"
#include "report/job_words.h"

static const char *const method[] = {
    "The voltage across the load was captured, and the bench chain undone: volts = sample × full scale × attenuation, "
    "divided by the chain's own response where the bench states one.",
    "Each capture was read once, after a short look for its tone. A cascade of half-band decimators feeds averaged "
    "spectra (Welch 1967; Tröbs and "
    "Heinzel 2006) taken with a 7-term cosine window whose side lobes lie below -180 dB. Harmonics are demodulated at "
    "multiples of the phase of the tone, which is tracked, so that generator and recorder need no common clock.",
    "Noise is the density with tone, harmonics, hum and other lines taken out and the gaps bridged from both sides. "
    "Mains orders are tracked as one comb. Captures of one group were measured up to where all of them reach.",
    "A figure counts as changed when no change is improbable (p < 1 % over all figures of the group together, after "
    "Holm 1979) and the change is larger than the smallest that matters (level 0.2 dB, noise 0.5 dB, distortion 1 dB, "
    "mains 4 dB; common practice, no source); changed slightly when no change is as improbable, but it is not larger "
    "than "
    "that. It is the same when it is not shown to have changed and the whole 95 % interval of its change lies within "
    "what "
    "matters. Otherwise it cannot be told.",
};

static const char *const uncertainty[] = {
    "An interval holds the true value 95 times in 100, for what the capture and the bench can know. It joins what is "
    "seen "
    "in the data with the tolerances that the bench states (JCGM 100). A figure without one, as a count or a peak, is "
    "what "
    "was found in the capture.",
    "The interval of one figure does not hold what another cabling, another day or another temperature would do. The "
    "interval of a change does: it takes in the scatter from capture to capture, seen where a side was captured three "
    "times or more, and otherwise as the bench or common practice has it.",
    ("A figure below the floor has no value but an upper limit. A figure that a recording of the capture chain "
     "explains "
     "says more of the chain than of the amplifier, and is marked."),
    "What the bench does not state (a tolerance of the load, of the calibration) is in no interval.",
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
    const char *last = NULL;
    lds_row_of_words(rows, "dB",
                     "20 log10 of a ratio of voltages; dBV is re 1 V rms, dBFS re a sine whose peak is full scale "
                     "(AES17).");
    for (size_t i = 0; i < keys; i++) {
        if (!key[i].term || key[i].definition == last || !occurs(job, &key[i]))
            continue;
        last = key[i].definition;
        lds_row_of_words(rows, key[i].term, "%s", last);
    }
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
}
