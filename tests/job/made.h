/* Captures and sheets for tests of jobs, in the folder of tests/capture/files.h. */
#ifndef TESTS_JOB_MADE_H
#define TESTS_JOB_MADE_H

#include "loadside/loadside.h"

/* A capture of `seconds` s of noise, and when tone is above 0 a 1 kHz sine of that peak with a second harmonic; both
 * channels alike but in noise. Full scale is 1. */
void made_capture(const char *name, unsigned seed, int rate_hz, int channels, double seconds, double noise,
                  double tone);

/* A capture of 1 s at 48 kHz, mono: a sine of that frequency and peak, its second harmonic 60 dB below, and noise. */
void made_tone(const char *name, unsigned seed, double tone_hz, double tone);

/* The captures idle-before.wav, idle-after.wav, sine-before.wav, sine-after.wav and made_sheet, two channels, 48 kHz.
 */
void made_captures(void);
extern const char made_sheet[];

/* Reads a sheet that must have no faults. */
void made_read(struct lds_sheet *sheet, const char *text);

/* Runs a job that must succeed. */
void made_run(const struct lds_sheet *sheet, int threads, struct lds_job *job);

/* Whether a line of the remarks contains both words. */
bool made_holds(const struct lds_remarks *remarks, const char *word, const char *other);

/* Bytes of a file, to be freed; NULL when there is none. */
char *made_bytes(const char *path, size_t *size);

#endif
