/* Falsifies figures as they leave lds_measure, for scripts/mutate: a test that compares a figure with its truth must
 * fail. Not part of any installed library. */
#ifndef TESTS_MUTATION_H
#define TESTS_MUTATION_H

#include "loadside/measurement.h"

/* What the variable LDS_MUTATE of the environment says, as KIND or KIND:KEY; without it nothing happens.
 *
 * KIND      does to a figure
 * value     +0.5 dB, else x 1.05, or its standard uncertainty where that is more; limits go along
 * interval  limits half as far from the value; of an upper limit alone the half
 * u_a, u_b  x 0.5
 * dof       x 4
 * absent    takes it away
 *
 * KEY is as in tests/measure/judge.h, lines and their numbers included; without it everything is falsified. Keys of
 * what really changed go to the file that LDS_MUTATE_TOLD names, a line each: an infinite number does not change. */
void mutate_measurement(struct lds_measurement *measurement);

#endif
