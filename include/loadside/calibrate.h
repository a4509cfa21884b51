/* Measures what a bench file should say: the full scale, from a tone of known voltage, and the response and noise of
 * the capture chain, from a recording of a test signal through the chain alone. */
#ifndef LOADSIDE_CALIBRATE_H
#define LOADSIDE_CALIBRATE_H

#include "loadside/bench.h"
#include "loadside/measure.h"
#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { LDS_BENCH_CHANGES_MAX = 80, LDS_BENCH_VALUE = 160 };

/* A key of a bench file and its new value. */
struct lds_bench_change {
    char section[24]; /* "bench", or "channel 2" */
    char key[32];
    char value[LDS_BENCH_VALUE];
    char old[LDS_BENCH_VALUE]; /* what the file said before lds_bench_file_change; "": nothing */
};

struct lds_calibration {
    size_t changes;
    struct lds_bench_change change[LDS_BENCH_CHANGES_MAX];
    double full_scale_v; /* of the first channel; NAN: not measured */
};

/* The full scale from a tone of `volts` rms at the load. measurement: of a capture of it, without full scale;
 * meter_percent: limits of the meter, +-%, NAN: not stated. Channels with the tone get one full scale where they agree
 * within their intervals, else one each. LDS_BAD_INPUT: no single steady tone, clipped, too weak, or a full scale that
 * no input has. */
enum lds_status lds_calibrate_volts(const struct lds_measurement *measurement, const struct lds_bench *bench,
                                    double volts, double meter_percent, struct lds_calibration *calibration,
                                    struct lds_error *error);

/* What the chain alone does, from a recording of a stated sweep or noise through it: low_corner, usable_to and
 * play_clock, and its response, written as a CSV of Hz, dB to response_path, which the bench file names by
 * response_name. LDS_BAD_INPUT: there is no response. */
enum lds_status lds_calibrate_loopback(const struct lds_measurement *measurement, const char *response_path,
                                       const char *response_name, struct lds_calibration *calibration,
                                       struct lds_error *error);

/* The noise of the chain, from the longest silence around the signal in the same capture. options: those with which
 * `played` was measured. *there is false if no silence lasts 1 s; if it is true, free the measurement. Errors as
 * lds_measure. */
enum lds_status lds_calibrate_silence(struct lds_capture *capture, const struct lds_measure_options *options,
                                      const struct lds_measurement *played, struct lds_measurement *silence,
                                      bool *there, struct lds_error *error);

/* Adds a key to the list. false: it is full. */
bool lds_calibration_add(struct lds_calibration *calibration, const char *section, const char *key, const char *format,
                         ...) __attribute__((format(printf, 4, 5)));

/* Changes these keys of a bench file and nothing else: comments, order and line ends stay. A file that does not exist
 * is made. Fills in what it said before. Written completely or not at all. */
enum lds_status lds_bench_file_change(const char *path, struct lds_calibration *calibration, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
