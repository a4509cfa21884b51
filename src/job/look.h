/* A job's captures, looked at before anything is measured. */
#ifndef LDS_JOB_LOOK_H
#define LDS_JOB_LOOK_H

#include <stdbool.h>

#include "job/faults.h"
#include "loadside/capture.h"
#include "loadside/job.h"
#include "loadside/measure.h"

struct lds_look {
    bool good; /* it can be read */
    struct lds_capture_info info;
    double end_hz;  /* how far its figures can reach */
    double tone_hz; /* of a sine: the stated one, or else that of the first driven channel; NAN: none, or not known */
    bool close;     /* a side holds two tones within 1 % of this one that were played as two */
    size_t tones;   /* one a channel; of a recording of the chain none */
    struct lds_tone tone[LDS_CHANNELS_MAX];
};

/* A look a capture of the sheet, to be freed. What is wrong goes to the faults. NULL: no memory. */
struct lds_look *lds_look_at(const struct lds_sheet *sheet, struct lds_faults *faults);

/* Whether captures a and b are of one tone: where both state a frequency it is the same; else within 1 %, or within
 * what clocks differ by where close tones were played. */
bool lds_look_same_tone(const struct lds_sheet *sheet, const struct lds_look *look, size_t a, size_t b);

struct lds_captures_of_group;

/* The lowest and highest end of the captures of a group that could be read. */
void lds_look_ends(const struct lds_look *look, const struct lds_captures_of_group *group, double *lowest_hz,
                   double *highest_hz);

/* Whether samples of the capture come to volts. */
bool lds_look_calibrated(const struct lds_look *look, const struct lds_bench *bench);

#endif
