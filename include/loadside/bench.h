/* The bench chain: everything between the load and the samples. Undoing it converts samples to volts at the load: volts
 * = sample x full_scale x attenuation, divided by the chain's own response if one is stated. */
#ifndef LOADSIDE_BENCH_H
#define LOADSIDE_BENCH_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/error.h"

#ifdef __cplusplus
extern "C" {
#endif

struct lds_channel_bench;

struct lds_bench {
    double full_scale_v;        /* V peak at the input that gives a sample of 1.0; NAN: not calibrated */
    double attenuation;         /* voltage ratio of the divider before the input, >= 1 */
    double load_ohm;            /* ohm; NAN: not stated */
    bool dc_coupled;            /* true only if the bench says so */
    double offset_v;            /* V: the input's own offset is within +-this, at the input; NAN: not stated */
    double low_corner_hz;       /* Hz: first-order high-pass of the chain, divided out; 0: none */
    double usable_to_hz;        /* Hz: the chain can be trusted up to here; INFINITY: to the end of the capture */
    double clock_ppm;           /* limits of the sampling clock, +-ppm (default 100; common practice, no source) */
    double calibration_percent; /* limits of full_scale x attenuation, +-% (default 0: not stated) */
    double load_percent;        /* limits of the load, +-% (default 0: not stated) */
    double play_full_scale_v;   /* V peak at the player's output for a sample of 1.0; NAN: not stated */
    double gain_db;             /* dB from there to the load; NAN: not stated */
    double supply_v[2];         /* V: the amplifier's supply rails, one or two; NAN: not stated */
    double play_clock_ppm;      /* the recorder's clock relative to the player's, from a loopback; NAN: not measured */
    char *chain;                /* path of a saved measurement of the chain alone; NULL: none */
    double mains_hz;            /* Hz nominal mains; NAN: searched between 45 and 65 Hz */
    double repeat_level_db;     /* dB standard uncertainty of re-cabling, per family; NAN: the defaults */
    double repeat_noise_db;
    double repeat_distortion_db;
    double repeat_mains_db;
    double repeat_dc_db; /* of the figures of switching on */
    double *response_hz; /* response_points frequencies, in rising order; NULL: flat */
    double *response_db; /* response_points gains of the chain, dB */
    size_t response_points;
    char *name;   /* the name that the bench gives itself; NULL: not stated */
    size_t names; /* of channels: "left" */
    struct lds_channel_name *channel_name;
    size_t channels; /* that have a bench of their own; such a bench has no further ones in it */
    struct lds_channel_bench *channel;
};

struct lds_channel_name {
    int channel; /* from 1 */
    char *name;
};

/* What a channel is called; NULL: it has no name. */
const char *lds_bench_channel_name(const struct lds_bench *bench, int channel);
/* Names a channel, or changes its name. false: no memory. */
bool lds_bench_name_channel(struct lds_bench *bench, int channel, const char *name);

/* One channel with a bench of its own, such as the channel that records the amplifier's input. */
struct lds_channel_bench {
    int channel; /* from 1 */
    struct lds_bench bench;
};

/* The bench of a channel: its own, or else the capture's. */
const struct lds_bench *lds_bench_of(const struct lds_bench *bench, int channel);

/* Gives a channel a bench of its own, a copy of the capture's as it is now, and returns it. NULL: no memory, or it has
 * one already. */
struct lds_bench *lds_bench_add(struct lds_bench *bench, int channel);

/* Sets the defaults above. Never fails. */
void lds_bench_init(struct lds_bench *bench);

/* Reads a bench file (INI; keys in docs/bench-file.md) over the defaults already in *bench. A relative response path
 * starts from the folder of the bench file. LDS_IO: cannot be read; LDS_BAD_USE: unknown key (the error has the line
 * and the nearest known key) or a value out of range. On error *bench is unchanged. */
enum lds_status lds_bench_load(struct lds_bench *bench, const char *path, struct lds_error *error);

/* Reads the chain's response, a CSV of Hz, dB, into *bench. */
enum lds_status lds_bench_load_response(struct lds_bench *bench, const char *path, struct lds_error *error);

/* Gain of the chain (linear, > 0) at frequency_hz > 0: response curve (linear in dB over log f, constant beyond its
 * ends) times the low corner's first-order high-pass 1/sqrt(1 + (corner/f)^2). */
double lds_bench_gain(const struct lds_bench *bench, double frequency_hz);

/* Volts rms at the load for a sample of 1.0 rms, or NAN when the bench is not calibrated. */
double lds_bench_volts_per_unit(const struct lds_bench *bench);

/* Power in W of the largest sine that fits the input, (full_scale x attenuation)^2/(2 load), or NAN when the bench does
 * not state full scale and load. */
double lds_bench_largest_sine_w(const struct lds_bench *bench);

/* Makes *to a copy of *from with its own memory; the previous contents of *to are not freed. LDS_NO_MEMORY: *to has the
 * defaults. */
enum lds_status lds_bench_copy(struct lds_bench *to, const struct lds_bench *from, struct lds_error *error);

/* Frees what the bench owns and sets the defaults. */
void lds_bench_free(struct lds_bench *bench);

#ifdef __cplusplus
}
#endif
#endif
