#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "capture/files.h"
#include "simulate/random.h"

enum { FRAMES = 1237 };

/* Samples that every format of 8 bits or more holds exactly. */
static double *known_samples(int channels)
{
    double *x = malloc((size_t)(FRAMES * channels) * sizeof *x);
    struct sim_random random;
    sim_random_seed(&random, 77);
    for (int i = 0; i < FRAMES * channels; i++)
        x[i] = floor(sim_random_between(&random, -128.0, 128.0)) / 128.0;
    return x;
}

struct format {
    const char *name;
    int format;
    int rate_hz, channels, bits;
    const char *shown;
};

static const struct format formats[] = {
    {"u8.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_U8, 8000, 1, 8, "WAV 8 bit"},
    {"16.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 44100, 2, 16, "WAV 16 bit"},
    {"24.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 192000, 2, 24, "WAV 24 bit"},
    {"24-5.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 192000, 5, 24, "WAV 24 bit"},
    {"32.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_32, 10000000, 1, 32, "WAV 32 bit"},
    {"float.wav", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 96000, 2, 0, "WAV float"},
    {"double.wav", SF_FORMAT_WAV | SF_FORMAT_DOUBLE, 96000, 2, 0, "WAV double"},
    {"rifx.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24 | SF_ENDIAN_BIG, 96000, 2, 24, "WAV 24 bit"},
    {"24x.wav", SF_FORMAT_WAVEX | SF_FORMAT_PCM_24, 192000, 2, 24, "WAV 24 bit"},
    {"floatx.wav", SF_FORMAT_WAVEX | SF_FORMAT_FLOAT, 192000, 64, 0, "WAV float"},
    {"24.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 1250000, 2, 24, "RF64 24 bit"},
    {"32.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_32, 1250000, 64, 32, "RF64 32 bit"},
    {"24.w64", SF_FORMAT_W64 | SF_FORMAT_PCM_24, 192000, 3, 24, "W64 24 bit"},
    {"double.w64", SF_FORMAT_W64 | SF_FORMAT_DOUBLE, 192000, 2, 0, "W64 double"},
    {"8.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_S8, 48000, 2, 8, "AIFF 8 bit"},
    {"24.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_24, 192000, 2, 24, "AIFF 24 bit"},
    {"24le.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_24 | SF_ENDIAN_LITTLE, 192000, 2, 24, "AIFF 24 bit"},
    {"float.aiff", SF_FORMAT_AIFF | SF_FORMAT_FLOAT, 192000, 2, 0, "AIFF float"},
    {"16.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 48000, 8, 16, "FLAC 16 bit"},
    {"24.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 192000, 2, 24, "FLAC 24 bit"},
    {"24.caf", SF_FORMAT_CAF | SF_FORMAT_PCM_24, 192000, 2, 24, "CAF 24 bit"},
    {"24le.caf", SF_FORMAT_CAF | SF_FORMAT_PCM_24 | SF_ENDIAN_LITTLE, 192000, 2, 24, "CAF 24 bit"},
    {"double.caf", SF_FORMAT_CAF | SF_FORMAT_DOUBLE, 192000, 16, 0, "CAF double"},
    {"4.mat", SF_FORMAT_MAT4 | SF_FORMAT_DOUBLE, 192000, 2, 0, "MAT 4 double"},
    {"4-16.mat", SF_FORMAT_MAT4 | SF_FORMAT_PCM_16 | SF_ENDIAN_BIG, 192000, 2, 16, "MAT 4 16 bit"},
    {"5.mat", SF_FORMAT_MAT5 | SF_FORMAT_DOUBLE, 192000, 2, 0, "MAT 5 double"},
    {"5-32.mat", SF_FORMAT_MAT5 | SF_FORMAT_PCM_32 | SF_ENDIAN_BIG, 192000, 2, 32, "MAT 5 32 bit"},
};
enum { FORMATS = sizeof formats / sizeof *formats };

static void check_format(const struct format *format, const char *path, const double *x)
{
    static const int64_t pieces[] = {1, 100, FRAMES, 5000};
    for (size_t p = 0; p < 4; p++) {
        struct lds_capture_info info;
        double *read = files_read(path, NULL, pieces[p], &info);
        assert_int_equal(info.frames, FRAMES);
        assert_int_equal(info.channels, format->channels);
        assert_int_equal(info.bits, format->bits);
        assert_true(info.rate_hz == format->rate_hz);
        assert_string_equal(info.format, format->shown);
        assert_false(info.in_volts);
        assert_memory_equal(read, x, (size_t)(FRAMES * format->channels) * sizeof *x);
        free(read);
    }
}

static void every_format_to_the_bit(void **state)
{
    (void)state;
    for (size_t f = 0; f < FORMATS; f++) {
        double *x = known_samples(formats[f].channels);
        const char *path =
            files_sound(formats[f].name, formats[f].format, formats[f].rate_hz, formats[f].channels, x, FRAMES);
        check_format(&formats[f], path, x);
        free(x);
    }
}

static void seeking(void **state)
{
    (void)state;
    for (size_t f = 0; f < FORMATS; f++) {
        int channels = formats[f].channels;
        double *x = known_samples(channels), part[3 * 64];
        const char *path = files_sound(formats[f].name, formats[f].format, formats[f].rate_hz, channels, x, FRAMES);
        struct lds_capture *capture;
        struct lds_error error;
        int64_t got;
        static const int64_t places[] = {1000, 3, FRAMES - 2, 0};
        assert_int_equal(lds_capture_open(path, NULL, &capture, &error), LDS_OK);
        for (size_t p = 0; p < 4; p++) {
            assert_int_equal(lds_capture_seek(capture, places[p], &error), LDS_OK);
            assert_int_equal(lds_capture_read(capture, part, 3, &got, &error), LDS_OK);
            assert_int_equal(got, places[p] == FRAMES - 2 ? 2 : 3);
            assert_memory_equal(part, x + places[p] * channels, (size_t)(got * channels) * sizeof *x);
        }
        assert_int_equal(lds_capture_seek(capture, FRAMES, &error), LDS_OK);
        assert_int_equal(lds_capture_read(capture, part, 3, &got, &error), LDS_OK);
        assert_int_equal(got, 0);
        assert_int_equal(lds_capture_seek(capture, FRAMES + 1, &error), LDS_BAD_USE);
        assert_int_equal(lds_capture_seek(capture, -1, &error), LDS_BAD_USE);
        lds_capture_close(capture);
        free(x);
    }
}

/* All values of the container, so that wrong scaling or byte order cannot go unnoticed. */
static void all_codes_of_24_bits(void **state)
{
    (void)state;
    enum { CODES = 1 << 16 };
    unsigned char *bytes = malloc(3 * CODES);
    for (int i = 0; i < CODES; i++) {
        uint32_t code = (uint32_t)i * 257u + ((uint32_t)i & 0xff);
        for (int k = 0; k < 3; k++)
            bytes[3 * i + k] = (unsigned char)(code >> 8 * k);
    }
    struct lds_capture_options options = {"s24le", 48000.0, 1};
    struct lds_capture_info info;
    double *read = files_read(files_write("codes.bin", bytes, 3 * CODES), &options, 4093, &info);
    for (int i = 0; i < CODES; i++) {
        int32_t code = bytes[3 * i] | bytes[3 * i + 1] << 8 | bytes[3 * i + 2] << 16;
        if (code >= 1 << 23)
            code -= 1 << 24;
        assert_true(read[i] == code / 8388608.0);
    }
    free(read);
    free(bytes);
}

static void headerless_samples(void **state)
{
    (void)state;
    static const struct {
        const char *encoding;
        unsigned char bytes[8];
        int width;
        double value;
    } cases[] = {
        {"s8", {0x40}, 1, 0.5},
        {"u8", {0xc0}, 1, 0.5},
        {"s16le", {0x00, 0xc0}, 2, -0.5},
        {"s16be", {0xc0, 0x00}, 2, -0.5},
        {"s24le", {0x01, 0x00, 0x80}, 3, -1.0 + 0x1p-23},
        {"s24be", {0x80, 0x00, 0x01}, 3, -1.0 + 0x1p-23},
        {"s32le", {0x01, 0x00, 0x00, 0x40}, 4, 0.5 + 0x1p-31},
        {"s32be", {0x40, 0x00, 0x00, 0x01}, 4, 0.5 + 0x1p-31},
        {"f32le", {0x00, 0x00, 0x20, 0xc1}, 4, -10.0},
        {"f32be", {0xc1, 0x20, 0x00, 0x00}, 4, -10.0},
        {"f64le", {0, 0, 0, 0, 0, 0, 0x04, 0x40}, 8, 2.5},
        {"f64be", {0x40, 0x04, 0, 0, 0, 0, 0, 0}, 8, 2.5},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        unsigned char bytes[6 * 8];
        for (int i = 0; i < 6; i++)
            memcpy(bytes + i * cases[c].width, cases[c].bytes, (size_t)cases[c].width);
        struct lds_capture_options options = {cases[c].encoding, 44056.5, 3};
        struct lds_capture_info info;
        double *read = files_read(files_write("samples.bin", bytes, (size_t)(6 * cases[c].width)), &options, 7, &info);
        assert_int_equal(info.frames, 2);
        assert_true(info.rate_hz == 44056.5);
        for (int i = 0; i < 6; i++)
            assert_true(read[i] == cases[c].value);
        assert_non_null(strstr(info.format, cases[c].encoding));
        free(read);
    }
}

static void samples_in_memory(void **state)
{
    (void)state;
    double *x = known_samples(3), read[3 * 10];
    struct lds_capture *capture;
    struct lds_error error;
    int64_t got;
    assert_int_equal(lds_capture_from_memory(x, FRAMES, 3, 48000.0, &capture, &error), LDS_OK);
    assert_string_equal(lds_capture_name(capture), "memory");
    assert_int_equal(lds_capture_seek(capture, 1230, &error), LDS_OK);
    assert_int_equal(lds_capture_read(capture, read, 10, &got, &error), LDS_OK);
    assert_int_equal(got, 7);
    assert_memory_equal(read, x + 3690, 21 * sizeof *x);
    x[5] = NAN;
    assert_int_equal(lds_capture_seek(capture, 0, &error), LDS_OK);
    assert_int_equal(lds_capture_read(capture, read, 10, &got, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "frame 1 of channel 3 is not a number"));
    lds_capture_close(capture);
    assert_int_equal(lds_capture_from_memory(x, FRAMES, 65, 48000.0, &capture, &error), LDS_BAD_INPUT);
    assert_int_equal(lds_capture_from_memory(x, 1, 3, 48000.0, &capture, &error), LDS_BAD_INPUT);
    assert_int_equal(lds_capture_from_memory(x, FRAMES, 3, NAN, &capture, &error), LDS_BAD_INPUT);
    free(x);
}

/* Replaces standard input by a pipe that a child fills. */
static pid_t feed_standard_input(const char *path)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        char buffer[4096];
        int fd = open(path, O_RDONLY);
        ssize_t got;
        close(ends[0]);
        while ((got = read(fd, buffer, sizeof buffer)) > 0)
            if (write(ends[1], buffer, (size_t)got) != got)
                _exit(1);
        _exit(0);
    }
    close(ends[1]);
    assert_int_equal(dup2(ends[0], STDIN_FILENO), STDIN_FILENO);
    close(ends[0]);
    return child;
}

static void standard_input(void **state)
{
    (void)state;
    int kept = dup(STDIN_FILENO), ended;
    for (size_t f = 0; f < FORMATS; f++) {
        double *x = known_samples(formats[f].channels);
        const char *path =
            files_sound(formats[f].name, formats[f].format, formats[f].rate_hz, formats[f].channels, x, FRAMES);
        pid_t child = feed_standard_input(path);
        struct lds_capture_info info;
        double *read = files_read("-", NULL, 100, &info);
        assert_memory_equal(read, x, (size_t)(FRAMES * formats[f].channels) * sizeof *x);
        assert_string_equal(info.format, formats[f].shown);
        assert_int_equal(waitpid(child, &ended, 0), child);
        free(read);
        free(x);
    }
    /* A folder that does not exist, and no room: a limit on the size of files acts as a full disk. */
    const char *path = files_path("24-5.wav");
    setenv("TMPDIR", "/nonexistent", 1);
    waitpid(feed_standard_input(path), &ended, 0);
    files_refused("-", NULL, LDS_IO, "/nonexistent", "TMPDIR");
    unsetenv("TMPDIR");
    struct rlimit limit = {1000, RLIM_INFINITY}, before;
    getrlimit(RLIMIT_FSIZE, &before);
    limit.rlim_max = before.rlim_max;
    signal(SIGXFSZ, SIG_IGN);
    pid_t child = feed_standard_input(path);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
    files_refused("-", NULL, LDS_IO, "standard input", "TMPDIR");
    setrlimit(RLIMIT_FSIZE, &before);
    dup2(kept, STDIN_FILENO);
    close(kept);
    waitpid(child, &ended, 0);
}

static void put(unsigned char *at, uint64_t value, int count)
{
    for (int i = 0; i < count; i++)
        at[i] = (unsigned char)(value >> 8 * i);
}

/* A WAV header for one channel of 16 bits; RF64 has its lengths in ds64. Returns its length. */
static size_t wav_header(unsigned char *header, const char *form, uint32_t riff_bytes, uint32_t data_bytes,
                         uint64_t long_bytes)
{
    size_t at = 12;
    memset(header, 0, 128);
    memcpy(header, form, 4);
    put(header + 4, riff_bytes, 4);
    memcpy(header + 8, "WAVE", 4);
    if (!strcmp(form, "RF64")) {
        memcpy(header + at, "ds64", 4);
        put(header + at + 4, 28, 4);
        put(header + at + 8, long_bytes + 72, 8);
        put(header + at + 16, long_bytes, 8);
        put(header + at + 24, long_bytes / 2, 8);
        at += 36;
    }
    memcpy(header + at, "fmt ", 4);
    put(header + at + 4, 16, 4);
    put(header + at + 8, 1, 2);
    put(header + at + 10, 1, 2);
    put(header + at + 12, 192000, 4);
    put(header + at + 16, 384000, 4);
    put(header + at + 20, 2, 2);
    put(header + at + 22, 16, 2);
    memcpy(header + at + 24, "data", 4);
    put(header + at + 28, data_bytes, 4);
    return at + 32;
}

/* A file with that header and `bytes` bytes of samples, all zero but the last, which is 0.5. It has holes, so it uses
 * little disk space. */
static const char *large_file(const char *name, const unsigned char *header, size_t header_bytes, uint64_t bytes)
{
    const unsigned char half[2] = {0x00, 0x40};
    const char *path = files_write(name, header, header_bytes);
    int fd = open(path, O_WRONLY);
    assert_int_equal(pwrite(fd, half, 2, (off_t)(header_bytes + bytes - 2)), 2);
    close(fd);
    return path;
}

static void check_end(const char *path, int64_t frames)
{
    struct lds_capture *capture;
    struct lds_error error;
    double last[2];
    int64_t got;
    if (lds_capture_open(path, NULL, &capture, &error))
        fail_msg("%s", error.message);
    assert_int_equal(lds_capture_info(capture)->frames, frames);
    assert_true(lds_capture_info(capture)->rate_hz == 192000.0);
    assert_int_equal(lds_capture_seek(capture, frames - 2, &error), LDS_OK);
    assert_int_equal(lds_capture_read(capture, last, 2, &got, &error), LDS_OK);
    assert_int_equal(got, 2);
    assert_true(last[0] == 0.0 && last[1] == 0.5);
    lds_capture_close(capture);
}

static void files_past_4_gib(void **state)
{
    (void)state;
    const uint64_t bytes = UINT64_C(5) << 30;
    unsigned char header[128];
    size_t length = wav_header(header, "RF64", UINT32_MAX, UINT32_MAX, bytes);
    check_end(large_file("large.rf64", header, length, bytes), (int64_t)(bytes / 2));
    length = wav_header(header, "RIFF", UINT32_MAX, UINT32_MAX, 0); /* as written by a streaming recorder */
    check_end(large_file("stream.wav", header, length, bytes), (int64_t)(bytes / 2));
    length = wav_header(header, "RIFF", (uint32_t)(bytes + 36), (uint32_t)bytes, 0); /* length modulo 2^32 */
    check_end(large_file("wrapped.wav", header, length, bytes), (int64_t)(bytes / 2));
    length = wav_header(header, "RIFF", 1036, 1000, 0); /* and a length that is wrong by any rule */
    files_refused(large_file("lies.wav", header, length, bytes), NULL, LDS_BAD_INPUT, "promises 1000 bytes",
                  "5368709120");
}

static void streams_that_do_not_state_their_length(void **state)
{
    (void)state;
    unsigned char header[128];
    static const uint32_t stated[] = {0, UINT32_MAX};
    for (size_t i = 0; i < 2; i++) {
        size_t length = wav_header(header, "RIFF", stated[i], stated[i], 0);
        check_end(large_file("stream.wav", header, length, 50000), 25000);
    }
    size_t length = wav_header(header, "RF64", UINT32_MAX, UINT32_MAX, 0);
    files_refused(large_file("none.rf64", header, length, 2), NULL, LDS_BAD_INPUT, "one frame", "0.2 s");
}

static void date_of_the_capture(void **state)
{
    (void)state;
    double *x = known_samples(1);
    const char *path = files_sound("date.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 48000, 1, x, FRAMES);
    struct timespec times[2] = {{1000000000, 0}, {1000000000, 0}};
    assert_int_equal(utimensat(AT_FDCWD, path, times, 0), 0);
    struct lds_capture_info info;
    free(files_read(path, NULL, 100, &info));
    assert_string_equal(info.date, "2001-09-09T01:46:40Z"); /* 10^9 s after the epoch of POSIX */
    SF_INFO about = {.samplerate = 48000, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16};
    SNDFILE *file = sf_open(path, SFM_WRITE, &about);
    SF_BROADCAST_INFO broadcast;
    memset(&broadcast, 0, sizeof broadcast);
    memcpy(broadcast.origination_date, "2024:05:17", 10);
    memcpy(broadcast.origination_time, "08-30-00", 8);
    assert_int_equal(sf_command(file, SFC_SET_BROADCAST_INFO, &broadcast, sizeof broadcast), SF_TRUE);
    sf_writef_double(file, x, FRAMES);
    sf_close(file);
    free(files_read(path, NULL, 100, &info));
    assert_string_equal(info.date, "2024-05-17T08:30:00");
    file = sf_open(files_path("date.flac"), SFM_WRITE,
                   &(SF_INFO){.samplerate = 48000, .channels = 1, .format = SF_FORMAT_FLAC | SF_FORMAT_PCM_16});
    sf_set_string(file, SF_STR_DATE, "2023-11-02");
    sf_writef_double(file, x, FRAMES);
    sf_close(file);
    free(files_read(files_path("date.flac"), NULL, 100, &info));
    assert_string_equal(info.date, "2023-11-02");
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_format_to_the_bit), cmocka_unit_test(seeking),
        cmocka_unit_test(all_codes_of_24_bits),    cmocka_unit_test(headerless_samples),
        cmocka_unit_test(samples_in_memory),       cmocka_unit_test(standard_input),
        cmocka_unit_test(files_past_4_gib),        cmocka_unit_test(streams_that_do_not_state_their_length),
        cmocka_unit_test(date_of_the_capture),
    };
    return cmocka_run_group_tests_name("formats", tests, files_setup, files_teardown);
}
