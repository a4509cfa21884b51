/* The WAV file: as long as stated, exact zeros where nothing plays, dither as in the literature, and both files or
 * neither. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "capture/files.h"
#include "loadside/signal.h"

static void write_or_fail(struct lds_signal_spec *spec, const char *path)
{
    struct lds_error error;
    if (lds_signal_spec_check(spec, &error) || lds_signal_write(spec, path, &error))
        fail_msg("%s", error.message);
}

/* Samples times 2^(bits - 1); to be freed. */
static double *read_back(const char *path, SF_INFO *info)
{
    *info = (SF_INFO){0};
    SNDFILE *file = sf_open(path, SFM_READ, info);
    assert_non_null(file);
    const size_t count = (size_t)(info->frames * info->channels);
    double *x = malloc(count * sizeof *x);
    assert_int_equal(sf_read_double(file, x, (sf_count_t)count), count);
    sf_close(file);
    return x;
}

static bool is_made(int kind)
{
    return lds_signal_stated((enum lds_signal_kind)kind) == LDS_STATED_BY_FILE;
}

/* Rates, formats and channels: length, zeros, and that something plays where it should. */
static void forms(void **state)
{
    (void)state;
    static const int rates_hz[] = {8000, 44100, 48000, 768000}, bits[] = {16, 24, 32};
    static const int formats[] = {SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_FLOAT};
    for (int kind = 0; kind < LDS_SIGNALS; kind++)
        for (int form = 0; form < 12 && is_made(kind); form++) {
            struct lds_signal_spec spec;
            SF_INFO info;
            lds_signal_spec_init(&spec, (enum lds_signal_kind)kind);
            spec.rate_hz = rates_hz[form % 4];
            spec.bits = bits[form % 3];
            spec.seconds = 0.1;
            spec.lead_s = 0.055;
            spec.tail_s = 0.025;
            spec.channels = 3;
            spec.channel = 2;
            if (kind == LDS_SIGNAL_TWO_TONE || kind == LDS_SIGNAL_SWEEP) {
                spec.frequency_hz[0] = 500.0;
                spec.frequency_hz[1] = 3500.0;
            }
            if (kind == LDS_SIGNAL_STAIRCASE) {
                spec.step_db = 39.0;
                spec.hold_s = 0.05;
            }
            const char *path = files_path("form.wav");
            write_or_fail(&spec, path);
            double *x = read_back(path, &info), driven = 0.0;
            assert_true(info.samplerate == spec.rate_hz && info.channels == 3);
            assert_int_equal(info.format, SF_FORMAT_WAV | formats[form % 3]);
            assert_int_equal(info.frames, llround(0.18 * spec.rate_hz));
            const int64_t first = lds_signal_lead(&spec), end = first + lds_signal_proper(&spec);
            assert_int_equal(end - first, llround(0.1 * spec.rate_hz));
            for (int64_t i = 0; i < info.frames; i++)
                for (int64_t c = 0; c < 3; c++) {
                    if (c == 1 && i >= first && i < end)
                        driven = fmax(driven, fabs(x[3 * i + c]));
                    else
                        assert_true(x[3 * i + c] == 0.0);
                }
            assert_true(kind == LDS_SIGNAL_SILENCE ? (driven > 0.0) == (spec.bits != 32) && driven < 1e-4
                                                   : driven > 0.5 && driven <= 1.0);
            free(x);
        }
}

/* The error of 16 and 24 bit has no mean and a power of 3/12 LSB^2 at any level, also below 1 LSB (Lipshitz, Wannamaker
 * and Vanderkooy, J. Audio Eng. Soc. 40(5), 1992). N samples: 6 sigma of mean and power. */
static void dither(void **state)
{
    (void)state;
    static const double levels_dbfs[] = {0.0, -3.0, -60.0, -98.0, -140.0};
    for (int form = 0; form < 10; form++) {
        struct lds_signal_spec spec;
        SF_INFO info;
        lds_signal_spec_init(&spec, LDS_SIGNAL_SINE);
        spec.bits = form % 2 ? 24 : 16;
        spec.level_dbfs = levels_dbfs[form / 2];
        spec.seconds = 2.0;
        spec.lead_s = spec.tail_s = 0.0;
        spec.channels = 2;
        spec.seed = form;
        const char *path = files_path("dither.wav");
        write_or_fail(&spec, path);
        double *x = read_back(path, &info), *y = malloc((size_t)info.frames * sizeof *y);
        struct lds_player *player = lds_player_new(&spec);
        lds_player_render(player, 0, (size_t)info.frames, y);
        lds_player_free(player);
        double mean = 0.0, power = 0.0, across = 0.0;
        const double n = (double)info.frames, lsb = ldexp(1.0, 1 - spec.bits);
        for (int64_t i = 0; i < info.frames; i++) {
            const double left = (x[2 * i] - y[i]) / lsb, right = (x[2 * i + 1] - y[i]) / lsb;
            assert_true(fabs(left) <= 1.5 + 1e-6);
            mean += left / n;
            power += left * left / n;
            across += left * right / n;
        }
        /* +1.0 does not exist as an integer sample, so the top of a full-scale sine is clipped to the largest one */
        const double loose = spec.level_dbfs == 0.0 ? 0.01 : 0.0;
        if (!(fabs(mean) < 6.0 * 0.5 / sqrt(n) + loose && fabs(power - 0.25) < 6.0 * 0.3 / sqrt(n) + loose &&
              fabs(across) < 6.0 * 0.25 / sqrt(n) + loose))
            fail_msg("%d bit, %g dBFS, seed %d: mean %g, power %g, channels together %g", spec.bits, spec.level_dbfs,
                     form, mean, power, across);
        free(x);
        free(y);
    }
}

/* Float samples are within one float step of what is played; noise, whose periods must be alike, is rounded to the
 * nearest. */
static void float_samples(void **state)
{
    (void)state;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        if (!is_made(kind) || kind == LDS_SIGNAL_SILENCE)
            continue;
        struct lds_signal_spec spec;
        SF_INFO info;
        lds_signal_spec_init(&spec, (enum lds_signal_kind)kind);
        spec.bits = 32;
        spec.seconds = 1.0;
        spec.hold_s = kind == LDS_SIGNAL_STAIRCASE ? 0.1 : NAN;
        spec.lead_s = spec.tail_s = 0.0;
        const char *path = files_path("float.wav");
        write_or_fail(&spec, path);
        double *x = read_back(path, &info), *y = malloc((size_t)info.frames * sizeof *y);
        struct lds_player *player = lds_player_new(&spec);
        lds_player_render(player, 0, (size_t)info.frames, y);
        lds_player_free(player);
        for (int64_t i = 0; i < info.frames; i++) {
            assert_true(fabs(x[i] - y[i]) <= ldexp(fabs(y[i]), -23));
            if (kind == LDS_SIGNAL_NOISE || kind == LDS_SIGNAL_SWEEP)
                assert_true(x[i] == (double)(float)y[i]);
        }
        free(x);
        free(y);
    }
}

static void the_same_twice(void **state)
{
    (void)state;
    size_t size[2];
    char *bytes[2];
    for (int i = 0; i < 2; i++) {
        struct lds_signal_spec spec;
        lds_signal_spec_init(&spec, LDS_SIGNAL_NOISE);
        spec.seconds = 0.5;
        const char *path = files_path("twice.wav");
        write_or_fail(&spec, path);
        size[i] = files_size(path);
        bytes[i] = malloc(size[i]);
        FILE *file = fopen(path, "rb");
        assert_int_equal(fread(bytes[i], 1, size[i], file), size[i]);
        fclose(file);
    }
    assert_true(size[0] == size[1] && memcmp(bytes[0], bytes[1], size[0]) == 0);
    free(bytes[0]);
    free(bytes[1]);
}

static void sidecar_names(void **state)
{
    (void)state;
    static const char *const cases[][2] = {
        {"a.wav", "a.ini"}, {"a", "a.ini"}, {"b.c/a", "b.c/a.ini"}, {"b/.wav", "b/.wav.ini"}, {"a.b.c", "a.b.ini"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *name = lds_signal_sidecar(cases[i][0]);
        assert_string_equal(name, cases[i][1]);
        free(name);
    }
}

/* If one of the files cannot be written, neither is, and what was there stays. */
static void both_or_neither(void **state)
{
    (void)state;
    struct lds_signal_spec spec;
    struct lds_error error;
    lds_signal_spec_init(&spec, LDS_SIGNAL_SINE);
    spec.seconds = 0.1;
    assert_int_equal(lds_signal_spec_check(&spec, NULL), LDS_OK);
    char folder[1024], wav[1024];
    snprintf(folder, sizeof folder, "%s", files_path("taken.ini"));
    snprintf(wav, sizeof wav, "%s", files_path("taken.wav"));
    assert_int_equal(mkdir(folder, 0777), 0);
    assert_int_equal(lds_signal_write(&spec, wav, &error), LDS_BAD_USE);
    assert_true(access(wav, F_OK) != 0);
    rmdir(folder);

    const char *bench = "[bench]\nload = 8\n";
    files_text("taken.ini", bench);
    files_text("taken.wav", "old");
    assert_int_equal(lds_signal_write(&spec, wav, &error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "taken.ini"));
    assert_int_equal(files_size(folder), strlen(bench));
    assert_int_equal(files_size(wav), 3);

    files_text("taken.ini", "\n");
    write_or_fail(&spec, wav);
    assert_true(files_size(folder) > 100 && files_size(wav) > 44);
    write_or_fail(&spec, wav); /* over its own files */

    assert_int_equal(lds_signal_write(&spec, folder, &error), LDS_BAD_USE);
    assert_int_equal(lds_signal_write(&spec, "-", &error), LDS_BAD_USE);
    assert_int_equal(lds_signal_write(&spec, "/dev/null", &error), LDS_BAD_USE);
    snprintf(wav, sizeof wav, "%s", files_path("nowhere/a.wav"));
    assert_int_equal(lds_signal_write(&spec, wav, &error), LDS_IO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(forms),          cmocka_unit_test(dither),        cmocka_unit_test(float_samples),
        cmocka_unit_test(the_same_twice), cmocka_unit_test(sidecar_names), cmocka_unit_test(both_or_neither),
    };
    return cmocka_run_group_tests_name("write", tests, files_setup, files_teardown);
}
