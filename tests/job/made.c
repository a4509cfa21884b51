#include "made.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <math.h>

#include "capture/files.h"
#include "simulate/random.h"

const char made_sheet[] = "[unit]\nmake = Thistlecote\ntype = Sedge 25\n"
                          "[job]\ndate = 2026-05-17\nwork = Earth wiring brought to one point.\n"
                          "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n"
                          "[capture idle before]\nfile = idle-before.wav\nrole = idle\nside = before\n"
                          "[capture idle after]\nfile = idle-after.wav\nrole = idle\nside = after\n"
                          "[capture sine before]\nfile = sine-before.wav\nrole = sine\nside = before\npower = 10 W\n"
                          "[capture sine after]\nfile = sine-after.wav\nrole = sine\nside = after\npower = 10 W\n";

struct made {
    int rate_hz, channels;
    double seconds, noise, tone_hz, tone;
};

static void write_made(const char *name, unsigned seed, const struct made *made)
{
    size_t frames = (size_t)(made->seconds * made->rate_hz), channels = (size_t)made->channels;
    struct sim_random random;
    double *samples = calloc(frames * channels, sizeof *samples);
    assert_non_null(samples);
    sim_random_seed(&random, seed);
    for (size_t i = 0; i < frames; i++) {
        double phase = 2.0 * M_PI * made->tone_hz * (double)i / made->rate_hz;
        for (size_t c = 0; c < channels; c++)
            samples[i * channels + c] =
                made->noise * sim_random_gaussian(&random) + made->tone * (cos(phase) + 1e-3 * cos(2.0 * phase));
    }
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_PCM_24, made->rate_hz, made->channels, samples, frames);
    free(samples);
}

void made_capture(const char *name, unsigned seed, int rate_hz, int channels, double seconds, double noise, double tone)
{
    const struct made made = {rate_hz, channels, seconds, noise, 1000.0, tone};
    write_made(name, seed, &made);
}

void made_tone(const char *name, unsigned seed, double tone_hz, double tone)
{
    const struct made made = {48000, 1, 1.0, 1e-4, tone_hz, tone};
    write_made(name, seed, &made);
}

void made_captures(void)
{
    made_capture("idle-before.wav", 1, 48000, 2, 2.0, 1e-4, 0.0);
    made_capture("idle-after.wav", 2, 48000, 2, 2.0, 2e-5, 0.0);
    made_capture("sine-before.wav", 3, 48000, 2, 2.0, 1e-4, 0.632);
    made_capture("sine-after.wav", 4, 48000, 2, 2.0, 2e-5, 0.632);
}

void made_read(struct lds_sheet *sheet, const char *text)
{
    struct lds_remarks wrong;
    struct lds_error error = {0};
    enum lds_status status = lds_sheet_read(files_text("sheet.ini", text), sheet, &wrong, &error);
    if (status)
        fail_msg("%s", wrong.count ? wrong.line[0] : error.message);
    lds_remarks_free(&wrong);
}

void made_run(const struct lds_sheet *sheet, int threads, struct lds_job *job)
{
    struct lds_job_options options;
    struct lds_error error = {0};
    lds_job_options_init(&options);
    options.threads = threads;
    if (lds_job_run(sheet, &options, job, &error))
        fail_msg("%s", error.message);
}

bool made_holds(const struct lds_remarks *remarks, const char *word, const char *other)
{
    for (size_t i = 0; i < remarks->count; i++)
        if (strstr(remarks->line[i], word) && strstr(remarks->line[i], other))
            return true;
    for (size_t i = 0; i < remarks->count; i++)
        print_message("  %s\n", remarks->line[i]);
    return false;
}

char *made_bytes(const char *path, size_t *size)
{
    FILE *in = fopen(path, "rb");
    if (!in)
        return NULL;
    fseek(in, 0, SEEK_END);
    *size = (size_t)ftell(in);
    rewind(in);
    char *bytes = malloc(*size + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *size, in), *size);
    bytes[*size] = '\0';
    fclose(in);
    return bytes;
}
