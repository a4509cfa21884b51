#include "simulate/amplifier.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Whole periods in whole seconds: the rms of an incomplete period would depend on the phase. */
static const double TONE_HZ = 997.0;

static double moved(double sd_db, struct sim_random *random)
{
    return pow(10.0, sd_db * sim_random_gaussian(random) / 20.0);
}

static void add_tone(double *x, size_t n, const struct sim_amplifier *a, double level, double distortion,
                     struct sim_random *random)
{
    struct sim_tone tone = {.frequency_hz = TONE_HZ, .level = level, .orders = 5};
    tone.phase_rad = sim_random_between(random, -M_PI, M_PI);
    for (int k = 2; k <= 5; k++) {
        tone.relative[k] = distortion * pow(10.0, a->harmonic_db[k] / 20.0);
        tone.relative_rad[k] = 0.7 * k;
    }
    sim_add_tone(x, n, a->rate_hz, &tone);
}

static void add_hum(double *x, size_t n, const struct sim_amplifier *a, double gain, struct sim_random *random)
{
    struct sim_mains mains = {.frequency_hz = sim_random_between(random, 49.95, 50.05), .orders = 5};
    for (int k = 1; k <= 5; k++) {
        mains.level[k] = gain * a->hum[k];
        mains.phase_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
    sim_add_mains(x, n, a->rate_hz, &mains);
}

void sim_amplifier_measure(const struct sim_amplifier *a, const struct sim_scatter *scatter, struct sim_random *random,
                           struct lds_measurement *measurement)
{
    static const struct sim_scatter none;
    scatter = scatter ? scatter : &none;
    const size_t n = (size_t)(a->rate_hz * a->seconds);
    double *x = sim_samples(n);
    if (a->level > 0.0)
        add_tone(x, n, a, a->level * moved(scatter->level_db, random), moved(scatter->distortion_db, random), random);
    add_hum(x, n, a, moved(scatter->mains_db, random), random);
    if (a->spur > 0.0)
        sim_add_tone(x, n, a->rate_hz,
                     &(struct sim_tone){.frequency_hz = a->spur_hz,
                                        .level = a->spur * moved(scatter->mains_db, random),
                                        .phase_rad = sim_random_between(random, -M_PI, M_PI)});
    sim_add_white(x, n, a->rate_hz, a->density * moved(scatter->noise_db, random), random);
    sim_measure(x, n, a->rate_hz, NULL, measurement);
    free(x);
}

bool sim_is_called(enum lds_word word)
{
    return word == LDS_LOWER || word == LDS_HIGHER || word == LDS_SLIGHTLY_LOWER || word == LDS_SLIGHTLY_HIGHER;
}

void sim_calls_count(const struct lds_comparison *comparison, struct sim_calls *calls)
{
    *calls = (struct sim_calls){0};
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_compared_channel *channel = &comparison->channel[c];
        for (size_t i = 0; i < channel->changes; i++) {
            const struct lds_change *change = &channel->change[i];
            if (!change->judged)
                continue;
            calls->judged++;
            calls->same += change->word == LDS_SAME;
            calls->changes += sim_is_called(change->word);
        }
        for (size_t i = 0; i < channel->lines; i++)
            calls->lines += sim_is_called(channel->line[i].word);
        calls->regions += (int)lds_compared_axis(channel, "floor")->regions;
    }
}

void sim_compare(struct lds_side before, struct lds_side after, const struct lds_compare_options *options,
                 struct lds_comparison *comparison)
{
    struct lds_error error;
    if (lds_compare(before, after, options, comparison, &error) == LDS_OK)
        return;
    fprintf(stderr, "lds_compare: %s\n", error.message);
    exit(1);
}

const struct lds_change *sim_change(const struct lds_comparison *comparison, const char *key)
{
    for (size_t i = 0; comparison->channels > 0 && i < comparison->channel[0].changes; i++)
        if (strcmp(comparison->channel[0].change[i].key, key) == 0)
            return &comparison->channel[0].change[i];
    return NULL;
}
