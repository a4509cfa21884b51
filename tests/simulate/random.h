/* Seeded random numbers for simulations: the same on every machine. */
#ifndef SIM_RANDOM_H
#define SIM_RANDOM_H

#include <stdint.h>

struct sim_random {
    uint64_t state[4];
};

/* Spreads the seed over the state by splitmix64, as the generator's authors advise. */
void sim_random_seed(struct sim_random *random, uint64_t seed);

/* xoshiro256++ (Blackman and Vigna, ACM TOMS 47(4), 2021): 64 random bits. */
uint64_t sim_random_next(struct sim_random *random);

double sim_random_uniform(struct sim_random *random);                              /* [0, 1) */
double sim_random_between(struct sim_random *random, double low, double high);     /* uniform */
double sim_random_log_between(struct sim_random *random, double low, double high); /* uniform in the logarithm */

/* Normal deviate, mean 0, variance 1: Marsaglia and Tsang's Ziggurat (J. Stat. Software 5(8), 2000) with 256 layers, in
 * the form without correlated bits. */
double sim_random_gaussian(struct sim_random *random);

#endif
