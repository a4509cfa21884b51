/* Test signals: what a sound card plays, and what a capture is then compared with. A signal is a function of time that
 * its specification describes completely; the sidecar beside its WAV file holds the specification. */
#ifndef LOADSIDE_SIGNAL_H
#define LOADSIDE_SIGNAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/error.h"
#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

struct lds_signal_spec {
    enum lds_signal_kind kind; /* silence, sine, two-tone, sweep, staircase, burst or noise */
    double rate_hz;            /* 8 kHz to 768 kHz, a whole number */
    int bits;                  /* 16 or 24 with triangular dither, 32: float without */
    double seconds;            /* of the signal proper; of a sweep, of one repeat */
    double lead_s, tail_s;     /* exact zeros before and after it */
    double level_dbfs;         /* AES17. Two tones: the sine whose peak equals that of their sum. Noise: its peak */
    int channels;              /* 1 to LDS_CHANNELS_MAX */
    int channel;               /* the driven channel, from 1; 0: all; the others are exact zeros */
    double frequency_hz[2];    /* sine, staircase, burst; two tones; sweep: from, to; else NAN */
    double ratio;              /* two tones: amplitude of the first over that of the second, 1 or 4 */
    int repeats;               /* sweep: times played without a gap */
    double to_dbfs, step_db;   /* staircase: from level_dbfs to to_dbfs, a step every hold_s; step_db > 0 */
    double hold_s;
    bool and_back;      /* staircase: down again, the top once */
    double on_s, off_s; /* burst; begins on */
    bool pink;          /* noise */
    int64_t period;     /* noise: samples after which it repeats, a power of two */
    uint64_t seed;      /* noise and dither */
};

/* The defaults of `loadside signal` for that kind: 48 kHz, 24 bit, 10 s, -3 dBFS, one channel, 0.5 s of lead and tail.
 */
void lds_signal_spec_init(struct lds_signal_spec *spec, enum lds_signal_kind kind);

/* LDS_BAD_USE: it cannot be rendered; the error names the option. Sets seconds of a staircase. */
enum lds_status lds_signal_spec_check(struct lds_signal_spec *spec, struct lds_error *error);

/* Reads a sidecar. LDS_IO, or LDS_BAD_USE with file and line. */
enum lds_status lds_signal_spec_load(struct lds_signal_spec *spec, const char *path, struct lds_error *error);

/* Frames of the file: lead, the signal with its repeats, tail. */
int64_t lds_signal_frames(const struct lds_signal_spec *spec);
/* Seconds of the signal proper with its repeats. */
double lds_signal_seconds(const struct lds_signal_spec *spec);

/* The samples of the driven channels as they are before rounding and dither, peak scale, a full-scale sine has peak 1:
 * `count` of them from `first`, an index into the file (lead included; zeros outside the file). For noise a player
 * keeps one period. NULL: no memory. */
struct lds_player;
struct lds_player *lds_player_new(const struct lds_signal_spec *spec);
void lds_player_render(const struct lds_player *player, int64_t first, size_t count, double *x);
/* The same at any times: x[i] at first_s + i step_s after the signal proper begins. Not for noise. Used to render the
 * signal at the clock of the recorder. */
void lds_player_render_at(const struct lds_player *player, double first_s, double step_s, size_t count, double *x);
void lds_player_free(struct lds_player *player);

/* Writes wav_path and, beside it with the ending .ini, the sidecar: both or neither. */
enum lds_status lds_signal_write(const struct lds_signal_spec *spec, const char *wav_path, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
