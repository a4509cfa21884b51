/* Samples in the caller's memory. */
#include <stdlib.h>
#include <string.h>

#include "capture/reader.h"
#include "fail.h"

struct memory {
    const double *samples;
    int channels;
    int64_t at;
};

static int64_t memory_read(void *state, double *samples, int64_t frames)
{
    struct memory *memory = state;
    size_t count = (size_t)(frames * memory->channels);
    memcpy(samples, memory->samples + memory->at * memory->channels, count * sizeof *samples);
    memory->at += frames;
    return frames;
}

static bool memory_seek(void *state, int64_t frame)
{
    struct memory *memory = state;
    memory->at = frame;
    return true;
}

static const struct lds_reader memory_reader = {memory_read, memory_seek, free};

enum lds_status lds_capture_from_memory(const double *samples, int64_t frames, int channels, double rate_hz,
                                        struct lds_capture **capture, struct lds_error *error)
{
    *capture = NULL;
    struct lds_capture *made = lds_capture_new("memory");
    struct memory *memory = made ? calloc(1, sizeof *memory) : NULL;
    if (!memory) {
        lds_capture_close(made);
        return lds_fail_memory(error, "a capture");
    }
    *memory = (struct memory){.samples = samples, .channels = channels};
    made->reader = &memory_reader;
    made->state = memory;
    made->info =
        (struct lds_capture_info){.rate_hz = rate_hz, .frames = frames, .channels = channels, .format = "memory"};
    enum lds_status status = lds_capture_check(made, error);
    if (status) {
        lds_capture_close(made);
        return status;
    }
    *capture = made;
    return LDS_OK;
}
