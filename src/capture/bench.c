#include "loadside/bench.h"

#include <gsl/gsl_interp.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"

void lds_bench_init(struct lds_bench *bench)
{
    *bench = (struct lds_bench){
        .full_scale_v = NAN,
        .attenuation = 1.0,
        .load_ohm = NAN,
        .offset_v = NAN,
        .usable_to_hz = INFINITY,
        .clock_ppm = 100.0,
        .play_full_scale_v = NAN,
        .gain_db = NAN,
        .supply_v = {NAN, NAN},
        .play_clock_ppm = NAN,
        .mains_hz = NAN,
        .repeat_level_db = NAN,
        .repeat_noise_db = NAN,
        .repeat_distortion_db = NAN,
        .repeat_mains_db = NAN,
        .repeat_dc_db = NAN,
    };
}

static double *copy_doubles(const double *from, size_t count)
{
    double *to = malloc(count * sizeof *to);
    if (to)
        memcpy(to, from, count * sizeof *to);
    return to;
}

static enum lds_status copy_channel(struct lds_bench *bench, const struct lds_channel_bench *from,
                                    struct lds_error *error)
{
    struct lds_channel_bench *one = lds_grow(&bench->channel, &bench->channels, sizeof *one);
    if (!one)
        return lds_fail_memory(error, "a copy of the bench");
    one->channel = from->channel;
    return lds_bench_copy(&one->bench, &from->bench, error);
}

enum lds_status lds_bench_copy(struct lds_bench *to, const struct lds_bench *from, struct lds_error *error)
{
    struct lds_bench copy = *from;
    size_t points = from->response_points;
    copy.channels = copy.names = 0;
    copy.channel = NULL;
    copy.channel_name = NULL;
    copy.name = from->name ? strdup(from->name) : NULL;
    copy.chain = from->chain ? strdup(from->chain) : NULL;
    copy.response_hz = points ? copy_doubles(from->response_hz, points) : NULL;
    copy.response_db = points ? copy_doubles(from->response_db, points) : NULL;
    if ((from->name && !copy.name) || (from->chain && !copy.chain) ||
        (points && (!copy.response_hz || !copy.response_db))) {
        lds_bench_free(&copy);
        lds_bench_init(to);
        return lds_fail_memory(error, "a copy of the bench");
    }
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < from->names; i++)
        if (!lds_bench_name_channel(&copy, from->channel_name[i].channel, from->channel_name[i].name))
            status = lds_fail_memory(error, "a copy of the bench");
    for (size_t i = 0; status == LDS_OK && i < from->channels; i++)
        status = copy_channel(&copy, &from->channel[i], error);
    if (status == LDS_OK)
        *to = copy;
    else
        lds_bench_free(&copy);
    return status;
}

static struct lds_channel_name *find_name(const struct lds_bench *bench, int channel)
{
    for (size_t i = 0; i < bench->names; i++)
        if (bench->channel_name[i].channel == channel)
            return &bench->channel_name[i];
    return NULL;
}

const char *lds_bench_channel_name(const struct lds_bench *bench, int channel)
{
    const struct lds_channel_name *found = find_name(bench, channel);
    return found ? found->name : NULL;
}

bool lds_bench_name_channel(struct lds_bench *bench, int channel, const char *name)
{
    char *own = strdup(name);
    struct lds_channel_name *one = own ? find_name(bench, channel) : NULL;
    if (own && !one)
        one = lds_grow(&bench->channel_name, &bench->names, sizeof *one);
    if (!one) {
        free(own);
        return false;
    }
    free(one->name);
    *one = (struct lds_channel_name){channel, own};
    return true;
}

const struct lds_bench *lds_bench_of(const struct lds_bench *bench, int channel)
{
    for (size_t i = 0; i < bench->channels; i++)
        if (bench->channel[i].channel == channel)
            return &bench->channel[i].bench;
    return bench;
}

struct lds_bench *lds_bench_add(struct lds_bench *bench, int channel)
{
    struct lds_error error;
    struct lds_bench alone = *bench;
    alone.channels = alone.names = 0;
    const struct lds_channel_bench one = {.channel = channel, .bench = alone};
    if (lds_bench_of(bench, channel) != bench || copy_channel(bench, &one, &error) != LDS_OK)
        return NULL;
    return &bench->channel[bench->channels - 1].bench;
}

/* dB of the response curve: linear over log frequency between points, constant beyond the ends. */
static double response_db(const struct lds_bench *bench, double frequency_hz)
{
    const double *hz = bench->response_hz, *db = bench->response_db;
    size_t points = bench->response_points;
    if (points == 0)
        return 0.0;
    if (frequency_hz <= hz[0])
        return db[0];
    if (frequency_hz >= hz[points - 1])
        return db[points - 1];
    size_t below = gsl_interp_bsearch(hz, frequency_hz, 0, points - 1), above = below + 1;
    double part = log(frequency_hz / hz[below]) / log(hz[above] / hz[below]);
    return db[below] + part * (db[above] - db[below]);
}

double lds_bench_gain(const struct lds_bench *bench, double frequency_hz)
{
    double gain = pow(10.0, response_db(bench, frequency_hz) / 20.0);
    if (bench->low_corner_hz > 0.0)
        gain /= hypot(1.0, bench->low_corner_hz / frequency_hz);
    return gain;
}

double lds_bench_volts_per_unit(const struct lds_bench *bench)
{
    return bench->full_scale_v * bench->attenuation;
}

double lds_bench_largest_sine_w(const struct lds_bench *bench)
{
    double peak_v = lds_bench_volts_per_unit(bench);
    return peak_v * peak_v / (2.0 * bench->load_ohm);
}

void lds_bench_free(struct lds_bench *bench)
{
    if (!bench)
        return;
    free(bench->response_hz);
    free(bench->response_db);
    free(bench->name);
    free(bench->chain);
    for (size_t i = 0; i < bench->channels; i++)
        lds_bench_free(&bench->channel[i].bench);
    free(bench->channel);
    for (size_t i = 0; i < bench->names; i++)
        free(bench->channel_name[i].name);
    free(bench->channel_name);
    lds_bench_init(bench);
}
