#include "measure/feed.h"

#include <stdlib.h>

#include "fail.h"
#include "measure/each_channel.h"
#include "measure/fill.h"
#include "schedule.h"

enum { BLOCK = 1 << 14, PIECE = 4096 };

struct work {
    const struct lds_feed *feed;
    struct lds_error *error;
    enum lds_status status;
    int channels;
    double *block[LDS_SLOTS]; /* interleaved */
    int64_t got[LDS_SLOTS];
};

struct item {
    struct work *work;
    size_t channel;
};

static bool run_reader(void *context, int64_t block, int slot)
{
    struct work *w = ((struct item *)context)->work;
    const int64_t left = w->feed->frames - block * BLOCK;
    w->status = lds_fill(w->feed->capture, w->block[slot], left < BLOCK ? left : BLOCK, &w->got[slot], w->error);
    return w->status == LDS_OK;
}

static bool run_channel(void *context, int64_t block, int slot)
{
    const struct item *item = context;
    const struct work *w = item->work;
    const double *from = w->block[slot] + w->feed->asked->channel[item->channel];
    double x[PIECE];
    bool memory = true;
    for (int64_t at = 0; memory && at < w->got[slot]; at += PIECE) {
        const int64_t left = w->got[slot] - at, n = left < PIECE ? left : PIECE;
        for (int64_t i = 0; i < n; i++)
            x[i] = from[(at + i) * w->channels];
        memory = w->feed->take(w->feed->context, item->channel, block * BLOCK + at, x, (size_t)n);
    }
    return memory;
}

static bool run_beside(void *context, int64_t block, int slot)
{
    const struct lds_feed *feed = ((struct item *)context)->work->feed;
    (void)slot;
    return block > 0 || feed->beside(feed->context);
}

static enum lds_status run(struct work *w)
{
    enum { STAGES = 2 + LDS_CHANNELS_MAX };
    const struct lds_feed *feed = w->feed;
    struct lds_stage stage[STAGES];
    struct item item[STAGES];
    int count = 0;
    item[count] = (struct item){w, 0};
    stage[count++] = (struct lds_stage){.run = run_reader, .context = &item[0], .needs = {-1, -1}};
    for (size_t c = feed->channel; c < feed->channel + feed->channels; c++, count++) {
        item[count] = (struct item){w, c};
        stage[count] = (struct lds_stage){.run = run_channel, .context = &item[count], .needs = {0, -1}};
    }
    if (feed->beside) {
        item[count] = (struct item){w, 0};
        stage[count] = (struct lds_stage){.run = run_beside, .context = &item[count], .needs = {-1, -1}};
        count++;
    }
    const enum lds_status status = lds_capture_seek(feed->capture, feed->first, w->error);
    if (status)
        return status;
    if (lds_schedule(stage, count, (feed->frames + BLOCK - 1) / BLOCK, lds_threads(feed->asked->options), NULL, NULL))
        return LDS_OK;
    return w->status ? w->status : lds_fail_memory(w->error, feed->what);
}

enum lds_status lds_feed_run(const struct lds_feed *feed, struct lds_error *error)
{
    struct work w = {.feed = feed, .error = error, .channels = lds_capture_info(feed->capture)->channels};
    bool memory = true;
    for (int s = 0; s < LDS_SLOTS; s++) {
        w.block[s] = malloc((size_t)BLOCK * (size_t)w.channels * sizeof(double));
        memory = memory && w.block[s];
    }
    const enum lds_status status = memory ? run(&w) : lds_fail_memory(error, feed->what);
    for (int s = 0; s < LDS_SLOTS; s++)
        free(w.block[s]);
    return status;
}
