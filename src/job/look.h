/* A first look at a job's captures before anything is measured. */
#ifndef LDS_JOB_LOOK_H
#define LDS_JOB_LOOK_H

#include <stdbool.h>

#include "job/remarks.h"
#include "loadside/capture.h"
#include "loadside/job.h"
#include "loadside/measure.h"

struct lds_look {
    bool good;    /* it can be read */
    bool to_make; /* it does not exist yet, or the sheet does not name its file */
    struct lds_capture_info info;
    double end_hz;  /* how far its figures reach */
    double tone_hz; /* of a sine: the stated one, or that of the first driven channel; NAN: none, or not known */
    bool close;     /* a side has two tones within 1 % of this one that were played as two */
    size_t tones;   /* one per channel; none for a recording of the chain */
    struct lds_tone tone[LDS_CHANNELS_MAX];
};

/* One look per capture of the sheet, to be freed. What is wrong is added to the faults. NULL: no memory. */
struct lds_look *lds_look_at(const struct lds_sheet *sheet, struct lds_faults *faults);

/* What the sheet states of a capture, for measuring it; the bench stays the sheet's. */
void lds_look_options(const struct lds_sheet_capture *capture, struct lds_measure_options *options);

/* The library's message without the path, where another line names the capture. */
const char *lds_without_path(const char *message, const char *path);

/* Whether captures a and b have one tone: if both state a frequency, it must be the same; else within 1 %, or within
 * the difference of clocks if close tones were played. */
bool lds_look_same_tone(const struct lds_sheet *sheet, const struct lds_look *look, size_t a, size_t b);

struct lds_captures_of_group;

/* The lowest and highest end of the readable captures of a group. */
void lds_look_ends(const struct lds_look *look, const struct lds_captures_of_group *group, double *lowest_hz,
                   double *highest_hz);

/* Whether the capture's samples convert to volts. */
bool lds_look_calibrated(const struct lds_look *look, const struct lds_bench *bench);

/* The role that a capture may have by the short look (lds_role_unknown: none), and what it holds: "a tone of 1 kHz". */
const struct lds_role *lds_role_of_look(const struct lds_look *look, char *words, size_t size);

/* "role = sine, and this capture holds two tones, 19 kHz and 20 kHz"; "": it matches, or nothing is known. By the short
 * look. */
void lds_role_by_look(const struct lds_sheet_capture *capture, const struct lds_look *look, char *words, size_t size);

/* The same from the measurement, which also recognises sweeps, bursts and music; for what was measured as idle only the
 * look counts. */
void lds_role_by_signal(const struct lds_sheet_capture *capture, const struct lds_look *look,
                        const struct lds_measurement *measurement, char *words, size_t size);

/* Finds captures of one kind with the same number, and repeats with another tone. Recordings of the chain differ in
 * what they record, which is not stated. */
void lds_repeats_check(const struct lds_sheet *sheet, const struct lds_look *look, struct lds_faults *faults);

#endif
