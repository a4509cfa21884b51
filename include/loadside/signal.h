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
    enum lds_signal_kind kind; /* one that can be made: lds_signal_stated is LDS_STATED_BY_FILE */
    int rate_hz;               /* 8 kHz to 768 kHz */
    int bits;                  /* 16 or 24 with triangular dither, 32: float without */
    double seconds;            /* of the signal proper; of a sweep, of one repeat; of a staircase, of all its steps */
    double lead_s, tail_s;     /* exact zeros before and after it */
    double level_dbfs; /* AES17. Two tones: the sine whose peak equals that of their sum. Noise: its peak. Staircase:
                        * its first step */
    int channels;
    int channel;                     /* the driven channel, from 1; 0: all; the others are exact zeros */
    double frequency_hz[2];          /* sine, staircase, burst; two tones; sweep: from, to; else NAN */
    double ratio;                    /* two tones: amplitude of the first over that of the second */
    int repeats;                     /* sweep: times played without a gap */
    double to_dbfs, step_db, hold_s; /* staircase: to this level, a step every hold_s; step_db > 0 */
    bool and_back;                   /* staircase: down again, the last level once */
    double on_s, off_s;              /* burst; begins on */
    double fade_in_s, fade_out_s;    /* raised cosines at both ends, within the signal; at each edge of a burst or
                                      * step */
    bool pink;                       /* noise: else white */
    int period;                      /* noise: samples after which it repeats, a power of two */
    int seed;                        /* of noise and dither */
};

/* The defaults of `loadside signal` for that kind: 48 kHz, 24 bit, 10 s, -3 dBFS, one channel, 0.5 s of lead and tail;
 * fades and period 0: lds_signal_spec_check chooses them. */
void lds_signal_spec_init(struct lds_signal_spec *spec, enum lds_signal_kind kind);

/* Fills in what is still to be chosen: fades, the period of noise, the seconds of a staircase. LDS_BAD_USE: there is no
 * such signal; the error says what was found and expected. */
enum lds_status lds_signal_spec_check(struct lds_signal_spec *spec, struct lds_error *error);

/* The kinds that can be made: "silence, sine or noise". */
void lds_signal_kinds_made(char *text, size_t size);

/* Reads a sidecar. LDS_IO, or LDS_BAD_USE with file and line. */
enum lds_status lds_signal_spec_load(struct lds_signal_spec *spec, const char *path, struct lds_error *error);

/* Steps of a staircase, those on the way back too. */
int lds_signal_steps(const struct lds_signal_spec *spec);
/* Level of a step, dBFS; from 0. */
double lds_signal_step_dbfs(const struct lds_signal_spec *spec, int step);

/* Frames of the signal proper with its repeats, of the lead, and of the whole file. */
int64_t lds_signal_proper(const struct lds_signal_spec *spec);
int64_t lds_signal_lead(const struct lds_signal_spec *spec);
int64_t lds_signal_frames(const struct lds_signal_spec *spec);

/* What is played, before rounding and dither; a full-scale sine has a peak of 1. Times are from the beginning of the
 * signal proper; before and after it there is 0. May be shared by threads. */
struct lds_player;
/* spec: checked. NULL: no memory, or nothing plays such a kind. */
struct lds_player *lds_player_new(const struct lds_signal_spec *spec);
/* Samples `first` to first + count - 1 at the player's rate; 0 is the first of the signal proper. */
void lds_player_render(const struct lds_player *player, int64_t first, size_t count, double *x);
/* x[i] at first_s + i step_s, for a recorder with a clock of its own. Not for noise, which only has samples. */
void lds_player_render_at(const struct lds_player *player, double first_s, double step_s, size_t count, double *x);
void lds_player_free(struct lds_player *player);

/* What a signal makes of the playback chain that the bench states: `play_full_scale`, `gain`, `load`, `supply`. NAN:
 * the bench does not state what is needed. */
struct lds_playback {
    double peak_v, rms_v;         /* at the load; of a staircase at its highest level; of a burst while it is on */
    double watts;                 /* into the load, of that rms */
    double input_v;               /* peak at the recorder's input */
    double takes_v;               /* the highest peak at the load that the input takes */
    double rail_v;                /* the supply rail farther from ground */
    double swing_v;               /* the nearer one, which the signal must stay within */
    bool fits_input, fits_supply; /* false only when it is known not to */
};
/* False: no memory. */
bool lds_signal_playback(const struct lds_signal_spec *spec, const struct lds_bench *bench,
                         struct lds_playback *playback);

/* dBFS: the level of a sine that makes this peak voltage at the load. NAN: the bench does not state the playback
 * chain. */
double lds_signal_level_for(double peak_v, const struct lds_bench *bench);

/* Writes wav_path and the sidecar beside it (the same name with .ini for its suffix): both or neither. */
enum lds_status lds_signal_write(const struct lds_signal_spec *spec, const char *wav_path, struct lds_error *error);

/* Where the sidecar of that file is; to be freed. NULL: no memory. */
char *lds_signal_sidecar(const char *wav_path);

#ifdef __cplusplus
}
#endif
#endif
