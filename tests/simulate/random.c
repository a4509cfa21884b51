#include "simulate/random.h"

#include <math.h>
#include <stdbool.h>

/* Right edge and area of 256 layers under exp(-x^2/2): Marsaglia and Tsang 2000, table 1; test_signals.c checks that
 * the layers close at the top. */
enum { LAYERS = 256 };
static const double layer_edge = 3.6541528853610088;
static const double layer_area = 4.92867323399e-3;

static double edge[LAYERS + 1], ratio[LAYERS];
static bool layers_made;

static void make_layers(void)
{
    double f = exp(-0.5 * layer_edge * layer_edge);
    edge[0] = layer_area / f; /* the base layer's width with its tail laid flat */
    edge[1] = layer_edge;
    edge[LAYERS] = 0.0;
    for (int i = 2; i < LAYERS; i++) {
        edge[i] = sqrt(-2.0 * log(layer_area / edge[i - 1] + f));
        f = exp(-0.5 * edge[i] * edge[i]);
    }
    for (int i = 0; i < LAYERS; i++)
        ratio[i] = edge[i + 1] / edge[i];
    layers_made = true;
}

void sim_random_seed(struct sim_random *random, uint64_t seed)
{
    for (int i = 0; i < 4; i++) {
        seed += 0x9e3779b97f4a7c15u;
        uint64_t z = seed;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
        random->state[i] = z ^ (z >> 31);
    }
    if (!layers_made)
        make_layers();
}

static uint64_t rotate(uint64_t x, int by)
{
    return (x << by) | (x >> (64 - by));
}

uint64_t sim_random_next(struct sim_random *random)
{
    uint64_t *s = random->state;
    const uint64_t result = rotate(s[0] + s[3], 23) + s[0];
    const uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate(s[3], 45);
    return result;
}

double sim_random_uniform(struct sim_random *random)
{
    return (double)(sim_random_next(random) >> 11) * 0x1p-53;
}

double sim_random_between(struct sim_random *random, double low, double high)
{
    return low + (high - low) * sim_random_uniform(random);
}

double sim_random_log_between(struct sim_random *random, double low, double high)
{
    return exp(sim_random_between(random, log(low), log(high)));
}

/* Beyond the last layer (Marsaglia 1964). */
static double tail(struct sim_random *random, bool negative)
{
    double x, y;
    do {
        x = -log(1.0 - sim_random_uniform(random)) / layer_edge;
        y = -log(1.0 - sim_random_uniform(random));
    } while (2.0 * y < x * x);
    return negative ? -(layer_edge + x) : layer_edge + x;
}

double sim_random_gaussian(struct sim_random *random)
{
    for (;;) {
        const uint64_t bits = sim_random_next(random);
        const int i = (int)(bits & (LAYERS - 1)); /* not among the 53 bits of u */
        const double u = 2.0 * (double)(bits >> 11) * 0x1p-53 - 1.0;
        if (fabs(u) < ratio[i])
            return u * edge[i];
        if (i == 0)
            return tail(random, u < 0.0);
        const double x = u * edge[i];
        const double below = exp(-0.5 * (edge[i] * edge[i] - x * x));
        const double above = exp(-0.5 * (edge[i + 1] * edge[i + 1] - x * x));
        if (above + sim_random_uniform(random) * (below - above) < 1.0)
            return x;
    }
}
