/* Figures of two tones through a curve with a second- and a third-order term, whose products have closed forms. */
#include <math.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = 2 * RATE, CAPTURES = 48 };
static const double DENSITY = 1e-7;

/* y = x + a2 x^2 + a3 x^3 of A cos t1 + B cos t2: by the product formulas of cosines, f2 +- f1 have the amplitude
 * a2 A B, f2 +- 2 f1 have 3/4 a3 A^2 B, and 2 f2 +- f1 have 3/4 a3 A B^2. The tones themselves become
 * A (1 + a3 (3/4 A^2 + 3/2 B^2)) and likewise. Harmonics are left out where they would fold. */
struct curve {
    double hz[2], peak[2], a2, a3;
};

static double tone_peak(const struct curve *c, int t)
{
    const double own = c->peak[t], other = c->peak[1 - t];
    return own * (1.0 + c->a3 * (0.75 * own * own + 1.5 * other * other));
}

static double second(const struct curve *c)
{
    return c->a2 * c->peak[0] * c->peak[1];
}

/* With twice the tone `twice`. */
static double third(const struct curve *c, int twice)
{
    return 0.75 * c->a3 * c->peak[twice] * c->peak[0] * c->peak[1];
}

static void add(double *x, double hz, double peak, double phase_rad)
{
    if (hz < 0.5 * RATE)
        sim_add_tone(x, SAMPLES, RATE,
                     &(struct sim_tone){.frequency_hz = hz, .level = fabs(peak) / M_SQRT2, .phase_rad = phase_rad});
}

static double *make(const struct curve *c, struct sim_random *random)
{
    double *x = sim_samples(SAMPLES), phase[2];
    for (int t = 0; t < 2; t++)
        phase[t] = sim_random_between(random, -M_PI, M_PI);
    for (int t = 0; t < 2; t++) {
        add(x, c->hz[t], tone_peak(c, t), phase[t]);
        add(x, 2.0 * c->hz[t], 0.5 * c->a2 * c->peak[t] * c->peak[t], 2.0 * phase[t]);
        add(x, 3.0 * c->hz[t], 0.25 * c->a3 * pow(c->peak[t], 3.0), 3.0 * phase[t]);
    }
    for (int sign = -1; sign <= 1; sign += 2) {
        add(x, c->hz[1] + sign * c->hz[0], second(c), phase[1] + sign * phase[0]);
        const double low = c->hz[1] + 2 * sign * c->hz[0], low_rad = phase[1] + 2 * sign * phase[0];
        add(x, fabs(low), third(c, 0), low < 0.0 ? -low_rad : low_rad);
        add(x, 2.0 * c->hz[1] + sign * c->hz[0], third(c, 1), 2.0 * phase[1] + sign * phase[0]);
    }
    sim_add_white(x, SAMPLES, RATE, DENSITY, random);
    return x;
}

static void measure(struct scene *scene, const struct curve *c, struct sim_random *random)
{
    struct lds_measure_options options;
    struct lds_measurement m;
    sim_options_init(&options);
    options.mains_hz = 50.0; /* there is no mains: a narrow search is a quick one */
    double *x = make(c, random);
    sim_measure(x, SAMPLES, RATE, &options, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
}

static double db(double amplitude)
{
    return 20.0 * log10(fabs(amplitude));
}

/* ---- 4:1 ---- */

static struct judged modulation_rows[] = {
    FIGURE("imd.modulation"),      FIGURE("products.2.level"),
    FIGURE("products.2.relative"), FIGURE("products.2.frequency", .kind = JUDGED_BARE, .bias = 1e-3),
    FIGURE("products.3.level"),
};

static double modulation_of(const struct curve *c)
{
    return 100.0 * hypot(2.0 * second(c), 2.0 * third(c, 0)) / tone_peak(c, 1);
}

static void modulation(struct scene *scene)
{
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        struct curve c = {.peak = {0.4, 0.1}};
        c.hz[0] = sim_random_between(&random, 56.0, 68.0);
        c.hz[1] = sim_random_between(&random, 6900.0, 7100.0);
        c.a2 = 1e-4 * pow(10.0, sim_random_between(&random, 0.0, 1.0));
        c.a3 = 1e-4 * pow(10.0, sim_random_between(&random, 0.0, 1.0));
        judge_truth(scene, "imd.modulation", modulation_of(&c));
        judge_truth(scene, "products.2.level", second(&c) / M_SQRT2);
        judge_truth(scene, "products.2.relative", db(second(&c) / tone_peak(&c, 1)));
        judge_truth(scene, "products.2.frequency", c.hz[1] - c.hz[0]);
        judge_truth(scene, "products.3.level", third(&c, 0) / M_SQRT2);
        measure(scene, &c, &random);
    }
}

/* ---- two equal tones ---- */

static struct judged difference_rows[] = {
    FIGURE("imd.difference.2"),
    FIGURE("imd.difference.3"),
    FIGURE("products.2.level"),
    FIGURE("products.2.relative"),
};

static void difference(struct scene *scene)
{
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        struct curve c = {.peak = {0.3, 0.3}};
        c.hz[0] = sim_random_between(&random, 18500.0, 19100.0);
        c.hz[1] = c.hz[0] + sim_random_between(&random, 900.0, 1100.0);
        c.a2 = 1e-4 * pow(10.0, sim_random_between(&random, 0.0, 1.0));
        c.a3 = 1e-4 * pow(10.0, sim_random_between(&random, 0.0, 1.0));
        const double both = tone_peak(&c, 0) + tone_peak(&c, 1);
        judge_truth(scene, "imd.difference.2", 100.0 * second(&c) / both);
        judge_truth(scene, "imd.difference.3", 100.0 * (third(&c, 0) + third(&c, 1)) / both);
        judge_truth(scene, "products.2.level", second(&c) / M_SQRT2);
        judge_truth(scene, "products.2.relative", db(second(&c) / both));
        measure(scene, &c, &random);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"two tones 4:1", modulation_rows, sizeof modulation_rows / sizeof *modulation_rows, modulation},
        {"two equal tones", difference_rows, sizeof difference_rows / sizeof *difference_rows, difference},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
