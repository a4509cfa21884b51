/* Figures of two tones through a curve with a second- and a third-order term, whose products have closed forms. */
#include <math.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = 2 * RATE, CAPTURES = 48, FEW = 16 };
static const double DENSITY = 1e-7, WEAK_DENSITY = 1e-6, SECONDS = 2.0;

/* y = x + a2 x^2 + a3 x^3 of A cos t1 + B cos t2: by the product formulas of cosines, f2 +- f1 have the amplitude
 * a2 A B, f2 +- 2 f1 have 3/4 a3 A^2 B, and 2 f2 +- f1 have 3/4 a3 A B^2. The tones themselves become
 * A (1 + a3 (3/4 A^2 + 3/2 B^2)) and likewise. Harmonics are left out where they would fold. */
struct curve {
    double hz[2], peak[2], a2, a3;
    double density; /* of white noise */
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
    sim_add_white(x, SAMPLES, RATE, c->density, random);
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
        struct curve c = {.peak = {0.4, 0.1}, .density = DENSITY};
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
        struct curve c = {.peak = {0.3, 0.3}, .density = DENSITY};
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

/* ---- products that hardly stand out ---- */

/* Five times the noise of a line, S/T, the third order half as strong: some of its products do not stand out. */
static struct judged weak_rows[] = {
    FIGURE("imd.modulation", .spread = {0.7, 1.4}, .width = {0.9, 1.2}),
};

static void weak(struct scene *scene)
{
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        struct curve c = {.peak = {0.4, 0.1}, .density = WEAK_DENSITY};
        const double line = WEAK_DENSITY / sqrt(SECONDS) * M_SQRT2;
        c.hz[0] = sim_random_between(&random, 56.0, 68.0);
        c.hz[1] = sim_random_between(&random, 6900.0, 7100.0);
        c.a2 = 5.0 * line / second(&(struct curve){.peak = {0.4, 0.1}, .a2 = 1.0});
        c.a3 = 2.5 * line / third(&(struct curve){.peak = {0.4, 0.1}, .a3 = 1.0}, 0);
        judge_truth(scene, "imd.modulation", modulation_of(&c));
        measure(scene, &c, &random);
    }
}

/* ---- none ---- */

/* The sum of powers P of m lines that reads as the mean of the noise alone, n each, once in 40 times, when the reading
 * counts as normal with the variance 2 P n + m n^2: P = n (k^2 + k sqrt(k^2 + m)), k = 1.96. As an amplitude, two of
 * them equal. */
static double most(int lines)
{
    const double k = 1.96, noise = WEAK_DENSITY * WEAK_DENSITY / SECONDS;
    return sqrt((lines > 1 ? 2.0 : 1.0) * noise * (k * k + k * sqrt(k * k + lines)));
}

#define LIMIT(name) FIGURE(name, .kind = JUDGED_LIMIT, .bias = 3.0)

static struct judged straight_modulation_rows[] = {LIMIT("imd.modulation")};
static struct judged straight_difference_rows[] = {LIMIT("imd.difference.2"), LIMIT("imd.difference.3")};

static void straight_modulation(struct scene *scene)
{
    const struct curve c = {.hz = {61.7, 7003.1}, .peak = {0.4, 0.1}, .density = WEAK_DENSITY};
    judge_row(scene, "imd.modulation")->u = 100.0 * most(4) / (c.peak[1] / M_SQRT2);
    for (unsigned seed = 1; seed <= FEW; seed++) {
        struct sim_random random;
        sim_random_seed(&random, 100 + seed); /* of seed 1 to 16, one shows chance products */
        measure(scene, &c, &random);
    }
}

static void straight_difference(struct scene *scene)
{
    const struct curve c = {.hz = {19003.0, 19997.0}, .peak = {0.3, 0.3}, .density = WEAK_DENSITY};
    const double both = (c.peak[0] + c.peak[1]) / M_SQRT2;
    judge_row(scene, "imd.difference.2")->u = 100.0 * most(1) / both;
    judge_row(scene, "imd.difference.3")->u = 100.0 * most(2) / both;
    for (unsigned seed = 1; seed <= FEW; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        measure(scene, &c, &random);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"two tones 4:1", modulation_rows, sizeof modulation_rows / sizeof *modulation_rows, modulation},
        {"weak products", weak_rows, 1, weak},
        {"4:1 through a straight line", straight_modulation_rows, 1, straight_modulation},
        {"equal tones through a straight line", straight_difference_rows, 2, straight_difference},
        {"two equal tones", difference_rows, sizeof difference_rows / sizeof *difference_rows, difference},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
