/* The standing texts of a job's report: method, definitions, uncertainty, cautions. Definitions and their sources in
 * full: docs/figures.md. */
#include <stdlib.h>
#include <string.h>

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
};

static const char *const cautions[] = {
    "Inside an amplifier, mains voltage and charged reservoir capacitors can kill, also after it was switched off. "
    "Load "
    "resistors get hot enough to burn.",
    "An output that is not ground-referenced (bridged) is shorted by the grounded input of a sound card, and tens of "
    "volts destroy such an input. Before connecting, work out whether the voltage fits: the highest sine power that "
    "does "
    "is (full_scale × attenuation)² / (2 × load) (common practice).",
    ("These figures hold for this unit, this load and these conditions. They are no test of electrical safety, which "
     "local codes and qualified practice rule."),
};

/* stem: of the key that brings the definition in; NULL: always there. */
static const struct {
    const char *stem, *term, *text;
} definitions[] = {
    {NULL, "dB",
     "20 log10 of a ratio of voltages; dBV is re 1 V rms, dBFS re a sine whose peak is full scale (AES17)."},
    {"level.rms", "rms", "Root of the mean square of the voltage, its mean removed, over the whole capture."},
    {"level.dc", "DC", "Mean of the voltage, given only for an input that passes DC."},
    {"tone.power", "power",
     "Square of the rms of the tone over the load: continuous average sine power (IEC 60268-3). It means something "
     "only "
     "with the load, the distortion, the frequency range, the channels driven and the time held beside it."},
    {"thd", "THD",
     "Rms sum of the harmonics in the band over the fundamental, their noise taken off: total harmonic distortion "
     "relative to the fundamental (IEC 60268-3 divides by the total instead, from memory)."},
    {"thd_n", "THD+N", "Rms of all in the band but the fundamental over rms of all in the band (AES17; IEC 60268-3)."},
    {"sinad", "SINAD", "THD+N with the other sign."},
    {"snr", "SNR", "Level of the tone over the noise in the band, harmonics and hum taken out."},
    {"residual", "residual", "Sum of the harmonics from the second up over one period of the tone."},
    {"noise.band", "noise, lines out", "Rms of the noise in the band, every line (hum, spurs) taken out."},
    {"noise.total", "noise, lines in", "The same with hum and spurs in."},
    {"noise.a", "A-weighted noise", "Weighted as IEC 61672-1 has it, 20 Hz to 20 kHz, hum and spurs in."},
    {"noise.itu468", "ITU-R 468 noise",
     "Weighted as ITU-R BS.468-4 has it, 0 dB at 1 kHz, rms; the standard's own quasi-peak meter reads more."},
    {"noise.density", "noise density", "Mean density over the third octave (IEC 61260-1), lines out."},
    {"mains", "mains",
     "Hum: lines at multiples of the mains frequency, up to order 40 or 2 kHz; odd and even orders; buzz: orders above "
     "10."},
    {"mains.modulation", "mains sidebands",
     "Sidebands of the tone at one and two times the mains frequency, relative to the tone."},
    {"balance", "balance", "Level of the tone in the second channel over that in the first."},
    {"crosstalk", "crosstalk",
     "Level at the frequency of the tone in a channel not driven over that in the driven one."},
    {"noise.coherence", "coherence",
     "Magnitude-squared coherence of two channels: near 1 for a shared supply or earth, 0 for independent noise."},
};

static bool begins(const char *key, const char *stem)
{
    size_t length = strlen(stem);
    return strncmp(key, stem, length) == 0 && (key[length] == '\0' || key[length] == '.');
}

static bool occurs(const struct lds_job *job, const char *stem)
{
    for (size_t m = 0; m < job->sheet->captures; m++) {
        const struct lds_measurement *measurement = &job->measurement[m];
        for (size_t c = 0; c < measurement->channels; c++)
            for (size_t i = 0; i < measurement->channel[c].figures; i++)
                if (begins(measurement->channel[c].figure[i].key, stem))
                    return true;
        for (size_t p = 0; p < measurement->pairs; p++)
            for (size_t i = 0; i < measurement->pair[p].figures; i++)
                if (begins(measurement->pair[p].figure[i].key, stem))
                    return true;
    }
    return false;
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
    put_all(&words->cautions, cautions, sizeof cautions / sizeof *cautions);
    for (size_t i = 0; i < sizeof definitions / sizeof *definitions; i++)
        if (!definitions[i].stem || occurs(job, definitions[i].stem))
            lds_row_of_words(&words->definitions, definitions[i].term, "%s", definitions[i].text);
}
