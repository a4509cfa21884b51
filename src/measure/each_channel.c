#include "measure/each_channel.h"

#include <unistd.h>

#include "schedule.h"

struct item {
    bool (*run)(void *context, size_t index);
    void *context;
    size_t index;
};

int lds_threads(const struct lds_measure_options *options)
{
    if (options->threads > 0)
        return options->threads;
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return cores > 0 ? (int)cores : 1;
}

static bool run_item(void *context, int64_t block, int slot)
{
    const struct item *item = context;
    (void)block;
    (void)slot;
    return item->run(item->context, item->index);
}

bool lds_each_channel(size_t channels, int threads, bool (*run)(void *context, size_t index), void *context)
{
    struct lds_stage stage[LDS_CHANNELS_MAX];
    struct item item[LDS_CHANNELS_MAX];
    for (size_t c = 0; c < channels; c++) {
        item[c] = (struct item){run, context, c};
        stage[c] = (struct lds_stage){.run = run_item, .context = &item[c], .needs = {-1, -1}};
    }
    return lds_schedule(stage, (int)channels, 1, threads, NULL, NULL);
}
