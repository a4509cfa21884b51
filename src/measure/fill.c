#include "measure/fill.h"

enum lds_status lds_fill(struct lds_capture *capture, double *frames, int64_t wanted, int64_t *got,
                         struct lds_error *error)
{
    const int channels = lds_capture_info(capture)->channels;
    *got = 0;
    while (*got < wanted) {
        int64_t n = 0;
        const enum lds_status status = lds_capture_read(capture, frames + *got * channels, wanted - *got, &n, error);
        if (status || n == 0)
            return status;
        *got += n;
    }
    return LDS_OK;
}
