#include "loadside/capture.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "capture/reader.h"
#include "capture/spool.h"
#include "capture/text.h"
#include "fail.h"

enum lds_status lds_capture_check(const struct lds_capture *capture, struct lds_error *error)
{
    const struct lds_capture_info *info = &capture->info;
    const char *name = capture->name;
    if (info->channels < 1 || info->channels > LDS_CHANNELS_MAX)
        return lds_fail(error, LDS_BAD_INPUT, "%s: has %d channels; 1 to %d can be read: record fewer", name,
                        info->channels, LDS_CHANNELS_MAX);
    if (!(info->rate_hz >= LDS_RATE_MIN_HZ && info->rate_hz <= LDS_RATE_MAX_HZ))
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the sample rate is %.9g Hz; 8 kHz to 10 MHz can be measured: check %s", name,
                        info->rate_hz, info->in_volts ? "the time column and its unit" : "how it was recorded");
    if (info->frames < 2)
        return lds_fail(error, LDS_BAD_INPUT, "%s: holds %s; a capture needs at least 0.2 s: record again", name,
                        info->frames == 1 ? "one frame" : "a header but no samples");
    return LDS_OK;
}

static void format_time(time_t when, char *text, size_t size)
{
    struct tm utc;
    if (!gmtime_r(&when, &utc) || !strftime(text, size, "%Y-%m-%dT%H:%M:%SZ", &utc))
        text[0] = '\0';
}

/* Whether the file starts with text rather than as a sound file. */
static enum lds_status begins_as_text(const struct lds_source *source, bool *text, struct lds_error *error)
{
    char start[LDS_TEXT_LOOK];
    ssize_t got = pread(source->fd, start, sizeof start, 0);
    if (got < 0)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s; name a capture that can", source->name,
                        strerror(errno));
    *text = lds_text_is(start, (size_t)got);
    return LDS_OK;
}

/* Checks the beginning before all of it is copied, as it may never end. */
static enum lds_status look_at_beginning(const struct lds_source *source, struct lds_error *error)
{
    bool text;
    enum lds_status status = begins_as_text(source, &text, error);
    if (!status)
        status = text ? lds_csv_look(source, error) : lds_sound_look(source, error);
    return status;
}

/* A source that can only be read once is copied first, so that every format can be read from it: the beginning, then,
 * if that is the beginning of a capture, the rest. */
static enum lds_status spool_source(struct lds_source *source, bool headerless, struct lds_error *error)
{
    static const int64_t beginning = LDS_LINE_MAX * 256; /* larger than the header of a table can be */
    struct lds_source copy = {.name = source->name, .fd = -1};
    int64_t got = 0, rest = 0;
    enum lds_status status = lds_spool_new(&copy.fd, error);
    if (status)
        return status;
    status = lds_spool_copy(source->fd, source->name, copy.fd, beginning, &got, error);
    copy.size = got;
    if (!status && got == beginning && !headerless)
        status = look_at_beginning(&copy, error);
    if (!status && got == beginning)
        status = lds_spool_copy(source->fd, source->name, copy.fd, INT64_MAX, &rest, error);
    close(source->fd);
    source->fd = copy.fd;
    source->size = got + rest;
    return status;
}

/* A pipe without a name in the file system, as shells make them: opening it never waits for another process. */
static bool is_open_already(const char *path)
{
    return strncmp(path, "/dev/fd/", 8) == 0 || strcmp(path, "/dev/stdin") == 0 || strncmp(path, "/proc/", 6) == 0;
}

/* Checks before opening, which may wait forever. */
static enum lds_status check_kind(const char *path, struct lds_error *error)
{
    struct stat about;
    if (stat(path, &about) != 0)
        return lds_fail(error, LDS_IO, "%s: cannot be opened: %s; name a capture that can be read", path,
                        strerror(errno));
    if (S_ISDIR(about.st_mode))
        return lds_fail(error, LDS_IO, "%s: is a directory; a file of samples was expected: name one in it", path);
    if (S_ISFIFO(about.st_mode) && !is_open_already(path))
        return lds_fail(error, LDS_IO, "%s: is a pipe; a file of samples was expected: give it as standard input, -",
                        path);
    if (!S_ISREG(about.st_mode) && !S_ISFIFO(about.st_mode))
        return lds_fail(error, LDS_IO, "%s: is a device or a socket; a file of samples was expected: name one", path);
    return LDS_OK;
}

static enum lds_status open_source(const char *path, const struct lds_capture_options *options,
                                   struct lds_source *source, struct lds_error *error)
{
    bool standard_input = !strcmp(path, "-");
    struct stat about;
    enum lds_status status = standard_input ? LDS_OK : check_kind(path, error);
    if (status)
        return status;
    source->name = standard_input ? "standard input" : path;
    source->fd = standard_input ? fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 3) : open(path, O_RDONLY | O_CLOEXEC);
    if (source->fd < 0 || fstat(source->fd, &about) != 0)
        return lds_fail(error, LDS_IO, "%s: cannot be opened: %s; name a capture that can be read", source->name,
                        strerror(errno));
    if (S_ISDIR(about.st_mode))
        return lds_fail(error, LDS_IO, "%s: is a directory; a file of samples was expected: name one in it",
                        source->name);
    if (S_ISREG(about.st_mode)) {
        source->size = about.st_size;
        format_time(about.st_mtime, source->date, sizeof source->date);
    }
    if (standard_input || !S_ISREG(about.st_mode)) {
        status = spool_source(source, options && options->encoding, error);
        if (status)
            return status;
    }
    if (source->size == 0)
        return lds_fail(error, LDS_BAD_INPUT, "%s: is empty; a file of samples was expected: record again",
                        source->name);
    return LDS_OK;
}

static enum lds_status open_reader(struct lds_source *source, const struct lds_capture_options *options,
                                   struct lds_capture *capture, struct lds_error *error)
{
    bool text;
    if (options && options->encoding)
        return lds_headerless_open(source, options, capture, error);
    enum lds_status status = begins_as_text(source, &text, error);
    if (status)
        return status;
    if (text)
        return lds_csv_open(source, capture, error);
    return lds_sound_open(source, capture, error);
}

struct lds_capture *lds_capture_new(const char *name)
{
    struct lds_capture *capture = calloc(1, sizeof *capture);
    if (!capture)
        return NULL;
    capture->name = strdup(name);
    capture->fd = -1;
    if (!capture->name) {
        free(capture);
        return NULL;
    }
    return capture;
}

enum lds_status lds_capture_open(const char *path, const struct lds_capture_options *options,
                                 struct lds_capture **capture, struct lds_error *error)
{
    *capture = NULL;
    struct lds_source source = {.fd = -1};
    enum lds_status status = open_source(path, options, &source, error);
    struct lds_capture *made = status ? NULL : lds_capture_new(path);
    if (!status)
        status = made ? open_reader(&source, options, made, error) : lds_fail_memory(error, "a capture");
    if (made)
        made->fd = source.fd;
    else if (source.fd >= 0)
        close(source.fd);
    if (!status) {
        if (!made->info.date[0])
            memcpy(made->info.date, source.date, sizeof made->info.date);
        status = lds_capture_check(made, error);
    }
    if (status) {
        lds_capture_close(made);
        return status;
    }
    *capture = made;
    return LDS_OK;
}

const struct lds_capture_info *lds_capture_info(const struct lds_capture *capture)
{
    return &capture->info;
}

const char *lds_capture_name(const struct lds_capture *capture)
{
    return capture->name;
}

static enum lds_status not_finite(const struct lds_capture *capture, int64_t index, double value,
                                  struct lds_error *error)
{
    int channels = capture->info.channels;
    char text[64];
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: frame %" PRId64 " of channel %d is %s; every sample must be a finite number "
                    "below 1e30: export or record it again",
                    capture->name, capture->position + index / channels, (int)(index % channels) + 1,
                    lds_finite_fault(value, text, sizeof text));
}

enum lds_status lds_capture_read(struct lds_capture *capture, double *samples, int64_t frames, int64_t *got,
                                 struct lds_error *error)
{
    const struct lds_capture_info *info = &capture->info;
    int64_t left = info->frames - capture->position;
    int64_t wanted = frames < left ? frames : left;
    *got = 0;
    if (wanted <= 0)
        return LDS_OK;
    int64_t read = capture->reader->read(capture->state, samples, wanted);
    if (read < wanted)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the data end after frame %" PRId64 " of %" PRId64
                        ": the file is damaged or cut short, copy or record it again",
                        capture->name, capture->position + (read > 0 ? read : 0), info->frames);
    if (info->bits == 0) { /* integers are always finite */
        int64_t bad = lds_finite_first_bad(samples, read * info->channels);
        if (bad >= 0)
            return not_finite(capture, bad, samples[bad], error);
    }
    capture->position += read;
    *got = read;
    return LDS_OK;
}

enum lds_status lds_capture_seek(struct lds_capture *capture, int64_t frame, struct lds_error *error)
{
    if (frame < 0 || frame > capture->info.frames)
        return lds_fail(error, LDS_BAD_USE, "%s: frame %" PRId64 " was asked for; there are %" PRId64, capture->name,
                        frame, capture->info.frames);
    if (!capture->reader->seek(capture->state, capture->first + frame))
        return lds_fail(error, LDS_IO, "%s: frame %" PRId64 " cannot be reached: the file is damaged", capture->name,
                        frame);
    capture->position = frame;
    return LDS_OK;
}

void lds_capture_limit(struct lds_capture *capture, int64_t first, int64_t frames)
{
    if (capture->first == 0 && capture->whole == 0)
        capture->whole = capture->info.frames;
    capture->first = frames > 0 ? first : 0;
    capture->info.frames = frames > 0 ? frames : capture->whole;
}

void lds_capture_close(struct lds_capture *capture)
{
    if (!capture)
        return;
    if (capture->reader)
        capture->reader->close(capture->state);
    if (capture->fd >= 0)
        close(capture->fd);
    free(capture->name);
    free(capture);
}
