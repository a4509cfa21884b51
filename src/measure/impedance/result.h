/* What measurements from two loads share: the loads, the tone of a channel, and the figures. */
#ifndef LDS_MEASURE_IMPEDANCE_RESULT_H
#define LDS_MEASURE_IMPEDANCE_RESULT_H

#include <stdbool.h>

#include "measure/impedance/two_loads.h"

/* The loads as stated, or else as the benches of both captures say; limits that are not stated are those of a bench
 * with the same load. LDS_BAD_USE: they cannot be used. */
enum lds_status lds_loads_take(const struct lds_impedance_options *options, const struct lds_bench *const bench[2],
                               struct lds_load load[2], struct lds_error *error);

/* Why a channel's tone cannot be used; NULL: it can. */
const char *lds_tone_refused(const struct lds_channel *channel);

/* Relative standard uncertainty that hum under the tone adds to its level. */
double lds_tone_hum_u(const struct lds_channel *channel);

/* The flags of the tone's level that also apply to an impedance made from it; 0 without a level. */
unsigned lds_tone_flags(const struct lds_channel *channel);

/* Relative uncertainty that the calibrations add to the ratio of two levels; the same calibration on both sides
 * cancels. */
double lds_benches_u(const struct lds_bench *a, const struct lds_bench *b);

/* The channel of that number, or NULL. */
const struct lds_channel *lds_channel_of(const struct lds_measurement *measurement, int channel);

/* Keeps in the measurement only the figures that say whether to trust it, and the tone's frequency; with `level` also
 * the tone's level and drift. Notes the load. */
void lds_keep_tone(struct lds_measurement *measurement, double load_ohm, bool level);

/* Appends output.impedance and output.damping, or why they are absent. others: made from the next capture too. false:
 * no memory. */
bool lds_add_impedance(struct lds_channel *channel, const struct lds_source_impedance *impedance, double u_bench,
                       double damping_ohm, bool next_too, unsigned flags);
bool lds_add_no_impedance(struct lds_channel *channel, const char *why);

#endif
