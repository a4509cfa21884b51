#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "capture/files.h"
#include "simulate/random.h"

enum { FRAMES = 20000, RATE_AT = 24, CHANNELS_AT = 22 };

static double *tone(int channels)
{
    double *x = malloc((size_t)(FRAMES * channels) * sizeof *x);
    for (int i = 0; i < FRAMES * channels; i++)
        x[i] = 0.5 * sin(0.1 * i);
    return x;
}

static const char *tone_file(const char *name, int format, int channels)
{
    double *x = tone(channels);
    const char *path = files_sound(name, format, 48000, channels, x, FRAMES);
    free(x);
    return path;
}

/* Changes bytes of a file in place. */
static void patch(const char *path, long at, const void *bytes, size_t count)
{
    FILE *file = fopen(path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_int_equal(fwrite(bytes, 1, count, file), count);
    fclose(file);
}

static void no_file_to_read(void **state)
{
    (void)state;
    files_refused(files_path("missing.wav"), NULL, LDS_IO, "cannot be opened", "No such file");
    files_refused("/tmp", NULL, LDS_IO, "is a directory", "samples was expected");
    files_refused(files_text("empty.wav", ""), NULL, LDS_BAD_INPUT, "is empty", "record again");
    const char *path = files_text("locked.wav", "0,0\n");
    chmod(path, 0);
    if (geteuid() != 0) /* the superuser may read everything */
        files_refused(path, NULL, LDS_IO, "cannot be opened", "Permission denied");
}

static void not_a_capture(void **state)
{
    (void)state;
    files_refused(files_text("text.wav", "Dear all,\nthe capture is attached.\n"), NULL, LDS_BAD_INPUT, "is text",
                  "CSV");
    files_refused(files_text("word.csv", "volts"), NULL, LDS_BAD_INPUT, "is text", "CSV");
    files_refused(files_write("noise.wav", "\x01\x80\x7f\x00\x03\x90\xff\xfe\x00\x00\x12\x13\x14\x15\x16\x17", 16),
                  NULL, LDS_BAD_INPUT, "is not a capture", "expected");
    files_refused(files_write("riff.wav", "RIFF\x00\x00\x00\x00WAVE", 12), NULL, LDS_BAD_INPUT, "header is incomplete",
                  "record it again");
    files_refused(tone_file("lossy.wav", SF_FORMAT_WAV | SF_FORMAT_ULAW, 1), NULL, LDS_BAD_INPUT, "U-Law", "PCM");
    files_refused(tone_file("lossy.ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, 1), NULL, LDS_BAD_INPUT, "OGG", "WAV");
}

static void cut_short(void **state)
{
    (void)state;
    static const int formats[] = {
        SF_FORMAT_WAV | SF_FORMAT_PCM_16,
        SF_FORMAT_WAV | SF_FORMAT_FLOAT,
        SF_FORMAT_WAVEX | SF_FORMAT_PCM_24,
        SF_FORMAT_RF64 | SF_FORMAT_PCM_24,
        SF_FORMAT_W64 | SF_FORMAT_PCM_24,
        SF_FORMAT_AIFF | SF_FORMAT_PCM_24,
        SF_FORMAT_AIFF | SF_FORMAT_FLOAT,
        SF_FORMAT_CAF | SF_FORMAT_PCM_24,
        SF_FORMAT_MAT4 | SF_FORMAT_DOUBLE,
        SF_FORMAT_MAT5 | SF_FORMAT_DOUBLE,
        SF_FORMAT_MAT5 | SF_FORMAT_PCM_16,
        SF_FORMAT_FLAC | SF_FORMAT_PCM_24,
        SF_FORMAT_WAV | SF_FORMAT_PCM_24 | SF_ENDIAN_BIG,
    };
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++) {
        const char *path = tone_file("cut", formats[f], 2);
        size_t whole = files_size(path);
        files_cut(path, whole - 6 - 8 * (f % 3)); /* one or two frames are missing */
        files_refused(path, NULL, LDS_BAD_INPUT, "cut short", "again");
        files_cut(path, whole / 2);
        files_refused(path, NULL, LDS_BAD_INPUT, "cut short", "again");
    }
}

static void ends_while_it_is_read(void **state)
{
    (void)state;
    const char *path = tone_file("shrinks.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 2);
    struct lds_capture *capture;
    struct lds_error error;
    double part[2 * 1000];
    int64_t got = 1;
    assert_int_equal(lds_capture_open(path, NULL, &capture, &error), LDS_OK);
    files_cut(path, 44 + 6 * 1500);
    enum lds_status status = LDS_OK;
    while (!status && got > 0)
        status = lds_capture_read(capture, part, 1000, &got, &error);
    assert_int_equal(status, LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "the data end after frame 1500 of 20000"));
    lds_capture_close(capture);
}

static void headers_that_state_nonsense(void **state)
{
    (void)state;
    static const struct {
        long at;
        unsigned char bytes[4];
        size_t count;
        const char *word;
    } cases[] = {
        {CHANNELS_AT, {0, 0}, 2, "0 channels"},
        {CHANNELS_AT, {65, 0}, 2, "65 channels"},
        {RATE_AT, {0, 0, 0, 0}, 4, "0 Hz"},
        {RATE_AT, {0x3f, 0x1f, 0, 0}, 4, "7999 Hz"},
        {RATE_AT, {0x81, 0x96, 0x98, 0}, 4, "10000001 Hz"},
        {40, {0xf0, 0xff, 0xff, 0x7f}, 4, "promises 2147483632 bytes"},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        const char *path = tone_file("header.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1);
        patch(path, cases[c].at, cases[c].bytes, cases[c].count);
        files_refused(path, NULL, LDS_BAD_INPUT, cases[c].word, "");
    }
}

static void too_few_frames(void **state)
{
    (void)state;
    static const int formats[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_24, SF_FORMAT_RF64 | SF_FORMAT_PCM_24,
                                  SF_FORMAT_W64 | SF_FORMAT_PCM_24, SF_FORMAT_AIFF | SF_FORMAT_PCM_24,
                                  SF_FORMAT_CAF | SF_FORMAT_DOUBLE, SF_FORMAT_MAT5 | SF_FORMAT_DOUBLE};
    const double x[2] = {0.5, 0.25};
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++) {
        files_refused(files_sound("none", formats[f], 48000, 2, x, 0), NULL, LDS_BAD_INPUT, "no samples",
                      "record again");
        files_refused(files_sound("one", formats[f], 48000, 2, x, 1), NULL, LDS_BAD_INPUT, "one frame", "0.2 s");
    }
}

static void samples_that_are_no_numbers(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *word;
    } cases[] = {{NAN, "is not a number"}, {INFINITY, "is infinite"}, {-INFINITY, "is infinite"},
                 {3e33, "is 3e+33"},       {-1e160, "is -1e+160"},    {DBL_MAX, "is 2e+308"}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++)
        for (int format = SF_FORMAT_FLOAT; format <= SF_FORMAT_DOUBLE; format++) {
            if (format == SF_FORMAT_FLOAT && isfinite(cases[c].value) && fabs(cases[c].value) > FLT_MAX)
                continue;
            double *x = tone(3);
            x[3 * 12345 + 1] = cases[c].value;
            const char *path = files_sound("nan.wav", SF_FORMAT_WAV | format, 48000, 3, x, FRAMES);
            files_refused(path, NULL, LDS_BAD_INPUT, "frame 12345 of channel 2", cases[c].word);
            free(x);
        }
}

static void headerless_statements(void **state)
{
    (void)state;
    const char *path = files_write("raw.bin", "0123456789ab", 12);
    static const struct {
        struct lds_capture_options options;
        enum lds_status status;
        const char *word;
    } cases[] = {
        {{"s25le", 48e3, 1}, LDS_BAD_USE, "s25le"},
        {{"s16le", 0.0, 1}, LDS_BAD_USE, "rate"},
        {{"s16le", NAN, 1}, LDS_BAD_USE, "rate"},
        {{"s16le", 7999.0, 1}, LDS_BAD_USE, "rate"},
        {{"s16le", 10.1e6, 1}, LDS_BAD_USE, "rate"},
        {{"s16le", 48e3, 0}, LDS_BAD_USE, "channels"},
        {{"s16le", 48e3, 65}, LDS_BAD_USE, "channels"},
        {{"s16le", 48e3, -1}, LDS_BAD_USE, "channels"},
        {{"s16le", 48e3, 5}, LDS_BAD_INPUT, "10-byte frames"},
        {{"s24le", 48e3, 4}, LDS_BAD_INPUT, "one frame"},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++)
        files_refused(path, &cases[c].options, cases[c].status, cases[c].word, "");
}

/* Whatever the first bytes are, a file is read or refused: no crash, no invalid read. Most useful under the
 * sanitizers. */
static void damaged_headers(void **state)
{
    (void)state;
    static const int formats[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_24,  SF_FORMAT_WAVEX | SF_FORMAT_FLOAT,
                                  SF_FORMAT_RF64 | SF_FORMAT_PCM_16, SF_FORMAT_W64 | SF_FORMAT_PCM_24,
                                  SF_FORMAT_AIFF | SF_FORMAT_PCM_16, SF_FORMAT_CAF | SF_FORMAT_PCM_24,
                                  SF_FORMAT_MAT4 | SF_FORMAT_DOUBLE, SF_FORMAT_MAT5 | SF_FORMAT_PCM_16};
    enum { SMALL = 200, TRIES = 250 };
    const uint64_t seed = 20240517;
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = tone(2);
    size_t opened = 0, refused = 0;
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++) {
        const char *path = files_sound("sound", formats[f], 48000, 2, x, SMALL);
        size_t size = files_size(path), head = size < 300 ? size : 300;
        char *whole = malloc(size), *bytes = malloc(size);
        FILE *file = fopen(path, "rb");
        assert_int_equal(fread(whole, 1, size, file), size);
        fclose(file);
        for (int i = 0; i < TRIES; i++) {
            memcpy(bytes, whole, size);
            int changes = 1 + (int)sim_random_between(&random, 0.0, 4.0);
            for (int k = 0; k < changes; k++)
                bytes[(size_t)sim_random_between(&random, 0.0, (double)head)] = (char)sim_random_next(&random);
            size_t kept = i % 4 ? size : (size_t)sim_random_between(&random, 1.0, (double)size);
            struct lds_capture *capture;
            struct lds_error error = {0};
            if (lds_capture_open(files_write("damaged", bytes, kept), NULL, &capture, &error)) {
                assert_true(strlen(error.message) > 10 && !strchr(error.message, '\n'));
                refused++;
                continue;
            }
            const struct lds_capture_info *info = lds_capture_info(capture);
            assert_in_range(info->channels, 1, LDS_CHANNELS_MAX);
            double part[LDS_CHANNELS_MAX * 70];
            int64_t got = 1, total = 0;
            while (got > 0 && total < 100000 && !lds_capture_read(capture, part, 70, &got, &error))
                total += got;
            lds_capture_close(capture);
            opened++;
        }
        free(whole);
        free(bytes);
    }
    free(x);
    assert_true(opened > 100 && refused > 100); /* both outcomes occurred */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_file_to_read),
        cmocka_unit_test(not_a_capture),
        cmocka_unit_test(cut_short),
        cmocka_unit_test(ends_while_it_is_read),
        cmocka_unit_test(headers_that_state_nonsense),
        cmocka_unit_test(too_few_frames),
        cmocka_unit_test(samples_that_are_no_numbers),
        cmocka_unit_test(headerless_statements),
        cmocka_unit_test(damaged_headers),
    };
    return cmocka_run_group_tests_name("bad captures", tests, files_setup, files_teardown);
}
