#include "capture/sound_parts.h"

#include <unistd.h>

static sf_count_t io_size(void *state)
{
    return ((struct lds_window_io *)state)->size;
}

static sf_count_t io_seek(sf_count_t offset, int whence, void *state)
{
    struct lds_window_io *io = state;
    int64_t base = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? io->at : io->size;
    if (base + offset < 0)
        return -1;
    io->at = base + offset;
    return io->at;
}

static sf_count_t io_read(void *to, sf_count_t count, void *state)
{
    struct lds_window_io *io = state;
    int64_t left = io->size - io->at, done = 0;
    int64_t wanted = count < left ? count : left;
    while (done < wanted) {
        ssize_t got = pread(io->fd, (char *)to + done, (size_t)(wanted - done), io->start + io->at + done);
        if (got <= 0)
            break;
        done += got;
    }
    io->at += done;
    return done;
}

static sf_count_t io_write(const void *from, sf_count_t count, void *state)
{
    (void)from, (void)count, (void)state;
    return 0;
}

static sf_count_t io_tell(void *state)
{
    return ((struct lds_window_io *)state)->at;
}

SNDFILE *lds_window_open(struct lds_window_io *io, SF_INFO *about)
{
    static SF_VIRTUAL_IO calls = {io_size, io_seek, io_read, io_write, io_tell};
    return sf_open_virtual(&calls, SFM_READ, about, io);
}
