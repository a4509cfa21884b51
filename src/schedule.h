/* A small pipeline over blocks: stages run in parallel on several threads, each of them one block at a time and in
 * order, so that the result of a stage does not depend on the number of threads. */
#ifndef LDS_SCHEDULE_H
#define LDS_SCHEDULE_H

#include <stdbool.h>
#include <stdint.h>

enum { LDS_SLOTS = 3 }; /* blocks in flight */

struct lds_stage {
    /* Works on a block; slot = block mod LDS_SLOTS. false stops the pipeline. */
    bool (*run)(void *context, int64_t block, int slot);
    void *context;
    int needs[2]; /* stages that must have finished the block first; -1: none */
    /* private */
    int64_t done;
    bool running;
};

/* Runs stages[0..count) over blocks 0..blocks-1 on `threads` threads. A stage gets at most LDS_SLOTS blocks ahead of
 * the slowest stage that needs it. tick (may be NULL) is called now and then from the calling thread with the number of
 * blocks done. Returns false when a stage did. */
bool lds_schedule(struct lds_stage *stages, int count, int64_t blocks, int threads,
                  void (*tick)(void *context, int64_t done), void *context);

#endif
