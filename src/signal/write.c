/* The WAV file of a test signal, and the sidecar beside it. */
#include <errno.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "signal/sidecar.h"
#include "whole_file.h"

enum { BLOCK = 1 << 14 };
static const double LARGEST_WAV = 4.0e9; /* bytes; more goes into RF64 (EBU Tech 3306) */

char *lds_signal_sidecar(const char *wav_path)
{
    const char *slash = strrchr(wav_path, '/'), *name = slash ? slash + 1 : wav_path, *dot = strrchr(name, '.');
    const int length = (int)(dot && dot > name ? dot - wav_path : (ptrdiff_t)strlen(wav_path));
    char *path = NULL;
    return asprintf(&path, "%.*s.ini", length, wav_path) < 0 ? NULL : path;
}

struct writing {
    const struct lds_signal_spec *spec;
    struct lds_player *player;
    SNDFILE *file;
    gsl_rng *random;
    double *x;
    int *whole; /* left-justified in 32 bits, for libsndfile; NULL: float */
    float *real;
};

/* Rounded with triangular dither of 2 LSB from peak to peak, which makes the error independent of the signal in mean
 * and power (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc. 40(5), 1992). */
static int dithered(const struct writing *w, double x)
{
    const double steps = ldexp(1.0, w->spec->bits - 1);
    const double dither = gsl_rng_uniform(w->random) + gsl_rng_uniform(w->random) - 1.0;
    const double level = fmin(fmax(rint(x * steps + dither), -steps), steps - 1.0);
    return (int)ldexp(level, 32 - w->spec->bits);
}

/* A tone whose frequency divides the rate has the same samples in each cycle. Rounding them to the nearest float would
 * leave harmonics and aliases of some -155 dB. So each sample of a tone is rounded at random to one of the two floats
 * beside it, to the nearer one more often, and the error is noise. Signals that do not repeat so soon are rounded to
 * the nearest. */
static float rounded(const struct writing *w, double x)
{
    const float nearest = (float)x;
    const double off = x - (double)nearest;
    if (off == 0.0 || w->spec->kind == LDS_SIGNAL_SWEEP || w->spec->kind == LDS_SIGNAL_NOISE)
        return nearest;
    const float other = nextafterf(nearest, off > 0.0 ? INFINITY : -INFINITY);
    return gsl_rng_uniform(w->random) * ((double)other - (double)nearest) * copysign(1.0, off) < fabs(off) ? other
                                                                                                           : nearest;
}

/* Frames from `first`, counted from the beginning of the signal; outside it zeros, without dither. */
static bool write_block(struct writing *w, int64_t first, size_t count)
{
    const size_t channels = (size_t)w->spec->channels;
    const int64_t proper = lds_signal_proper(w->spec);
    lds_player_render(w->player, first, count, w->x);
    for (size_t i = 0; i < count; i++)
        for (size_t c = 0; c < channels; c++) {
            const int64_t at = first + (int64_t)i;
            const bool plays = at >= 0 && at < proper && (w->spec->channel == 0 || (int)c + 1 == w->spec->channel);
            if (w->whole)
                w->whole[i * channels + c] = plays ? dithered(w, w->x[i]) : 0;
            else
                w->real[i * channels + c] = plays ? rounded(w, w->x[i]) : 0.0f;
        }
    const sf_count_t frames = (sf_count_t)count;
    return (w->whole ? sf_writef_int(w->file, w->whole, frames) : sf_writef_float(w->file, w->real, frames)) == frames;
}

static bool write_all(struct writing *w)
{
    const int64_t lead = lds_signal_lead(w->spec), frames = lds_signal_frames(w->spec);
    bool good = true;
    for (int64_t at = 0; good && at < frames; at += BLOCK)
        good = write_block(w, at - lead, (size_t)(frames - at < BLOCK ? frames - at : BLOCK));
    return good;
}

static SNDFILE *open_sound(const struct lds_signal_spec *spec, int fd)
{
    const double bytes = (double)lds_signal_frames(spec) * spec->channels * spec->bits / 8;
    SF_INFO info = {.samplerate = spec->rate_hz, .channels = spec->channels};
    info.format = (bytes > LARGEST_WAV ? SF_FORMAT_RF64 : SF_FORMAT_WAV) | (spec->bits == 16   ? SF_FORMAT_PCM_16
                                                                            : spec->bits == 24 ? SF_FORMAT_PCM_24
                                                                                               : SF_FORMAT_FLOAT);
    SNDFILE *file = sf_open_fd(fd, SFM_WRITE, &info, SF_FALSE);
    if (file) /* no peak chunk: it holds the time, so no two files would be equal */
        sf_command(file, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE);
    return file;
}

static enum lds_status write_sound(const struct lds_signal_spec *spec, struct lds_whole_file *to, const char *path,
                                   struct lds_error *error)
{
    const size_t samples = (size_t)BLOCK * (size_t)spec->channels;
    struct writing w = {.spec = spec,
                        .player = lds_player_new(spec),
                        .random = gsl_rng_alloc(gsl_rng_mt19937),
                        .x = malloc(BLOCK * sizeof *w.x),
                        .whole = spec->bits == 32 ? NULL : malloc(samples * sizeof *w.whole),
                        .real = spec->bits == 32 ? malloc(samples * sizeof *w.real) : NULL};
    enum lds_status status = LDS_OK;
    if (!w.player || !w.random || !w.x || (!w.whole && !w.real)) {
        status = lds_fail_memory(error, "a test signal");
    } else {
        gsl_rng_set(w.random, (unsigned long)spec->seed);
        errno = 0;
        w.file = open_sound(spec, fileno(to->out));
        bool good = w.file && write_all(&w);
        const int reason = errno;
        good = (!w.file || sf_close(w.file) == 0) && good;
        if (!good)
            status = lds_fail(error, LDS_IO, "cannot write %s: %s: free some space, or choose another place", path,
                              strerror(reason ? reason : EIO));
    }
    lds_player_free(w.player);
    if (w.random)
        gsl_rng_free(w.random);
    free(w.x);
    free(w.whole);
    free(w.real);
    return status;
}

/* The sidecar is put in place after the sound; if that fails, the sound is removed again. */
static enum lds_status commit(struct lds_whole_file *sound, struct lds_whole_file *sidecar, struct lds_error *error)
{
    char *path = strdup(sound->path);
    enum lds_status status = path ? lds_whole_file_commit(sound, error) : lds_fail_memory(error, "a test signal");
    if (!path || status) {
        if (!path)
            lds_whole_file_abandon(sound);
        lds_whole_file_abandon(sidecar);
    } else if ((status = lds_whole_file_commit(sidecar, error)) != LDS_OK) {
        unlink(path);
    }
    free(path);
    return status;
}

/* Whether the file is not a sidecar but something else, such as a bench file, which must not be overwritten. */
static bool is_of_another_kind(FILE *file)
{
    char line[256];
    bool holds = false, signal = false;
    while (!signal && fgets(line, sizeof line, file)) {
        holds = holds || strspn(line, " \t\r\n") < strlen(line);
        signal = strncmp(line, "[signal]", 8) == 0;
    }
    return holds && !signal;
}

/* Allows only files that do not exist yet, or that may be replaced. */
static enum lds_status check_places(const char *wav_path, const char *sidecar, struct lds_error *error)
{
    struct stat there;
    if (strcmp(sidecar, wav_path) == 0 || strcmp(wav_path, "-") == 0)
        return lds_fail(error, LDS_BAD_USE,
                        "%s: cannot be a WAV file with a sidecar; a file name such as sweep.wav expected; name one",
                        wav_path);
    const char *const path[] = {wav_path, sidecar};
    for (int i = 0; i < 2; i++)
        if (stat(path[i], &there) == 0 && !S_ISREG(there.st_mode))
            return lds_fail(error, LDS_BAD_USE, "%s: exists and is not a file; name another for the signal", path[i]);
    FILE *file = fopen(sidecar, "r");
    const bool other = file && is_of_another_kind(file);
    if (file)
        fclose(file);
    if (other)
        return lds_fail(
            error, LDS_BAD_USE,
            "%s: exists and is not the sidecar of a signal, so it is not replaced; name another for the signal",
            sidecar);
    return LDS_OK;
}

enum lds_status lds_signal_write(const struct lds_signal_spec *spec, const char *wav_path, struct lds_error *error)
{
    struct lds_whole_file sound, sidecar;
    char *path = lds_signal_sidecar(wav_path);
    if (!path)
        return lds_fail_memory(error, "a test signal");
    enum lds_status status = check_places(wav_path, path, error);
    if (!status)
        status = lds_whole_file_open(&sound, wav_path, error);
    if (!status && (status = lds_whole_file_open(&sidecar, path, error)) != LDS_OK)
        lds_whole_file_abandon(&sound);
    free(path);
    if (status)
        return status;
    lds_sidecar_write(sidecar.out, spec);
    status = write_sound(spec, &sound, wav_path, error);
    if (!status)
        return commit(&sound, &sidecar, error);
    lds_whole_file_abandon(&sound);
    lds_whole_file_abandon(&sidecar);
    return status;
}
