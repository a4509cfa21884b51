/* The source impedance of an output, from its level with one load and with another. */
#ifndef LOADSIDE_IMPEDANCE_H
#define LOADSIDE_IMPEDANCE_H

#include "loadside/measure.h"

#ifdef __cplusplus
extern "C" {
#endif

struct lds_load {
    double ohm;     /* INFINITY: open */
    double percent; /* limits +-%; NAN: not stated */
};

/* "8", "8 ohm:1%", "1M", "open", "inf": one load with the limits that may follow it. false: the text is another. */
bool lds_load_parse(const char *text, struct lds_load *load);

struct lds_impedance_options {
    struct lds_load load[2]; /* of capture A and capture B, or the first and the second of one capture; ohm NAN: as the
                              * bench of that capture says */
    double damping_ohm;      /* the damping factor is this over the source impedance; default 8 */
    double repeat_db;        /* of the level between two captures; NAN: the bench's, else the default. 0: none */
};
void lds_impedance_options_init(struct lds_impedance_options *options);

/* Standard uncertainty of the level from one capture to the next, dB: stated, of the benches, or the default. */
double lds_impedance_repeat_db(const struct lds_impedance_options *options, const struct lds_bench *const bench[2]);

/* From one capture of a tone during which the load was switched from the first to the second and back (A-B-A). The two
 * moments are found from the level, a steady drift is taken out, and the phases are known. measurement: of the same
 * capture by lds_measure with the same options. Only figures that hold although the load changed stay in it;
 * output.impedance and output.damping are added to its channels. LDS_BAD_INPUT: no channel shows the two loads (no
 * tone, clipped, no step, only one, more than two, levels that no source impedance explains); LDS_BAD_USE: the loads
 * are not known, or are alike. */
enum lds_status lds_impedance_switched(struct lds_capture *capture, const struct lds_measure_options *measuring,
                                       const struct lds_impedance_options *options, struct lds_measurement *measurement,
                                       struct lds_error *error);

/* From two measurements of the same tone, the first with load A, the second with load B. The phases are not known, so
 * the impedance is taken for a resistance, and its figures have the flag "phase not known". The intervals include the
 * repeatability of the level. The figures are those of the first measurement. Errors as above; *which: the measurement
 * at fault, 0 or 1. */
enum lds_status lds_impedance_levels(struct lds_measurement measurement[2], const struct lds_impedance_options *options,
                                     int *which, struct lds_error *error);

/* The same over frequency, from two captures of a sweep that measuring[0]->known states, with their measurements:
 * series `impedance`, and the figures at 1 kHz. The phases are used if player and recorder share a clock: the measured
 * clocks then agree, and the delays differ by whole samples. */
enum lds_status lds_impedance_sweeps(struct lds_capture *const capture[2],
                                     const struct lds_measure_options *const measuring[2],
                                     const struct lds_impedance_options *options, struct lds_measurement measurement[2],
                                     int *which, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
