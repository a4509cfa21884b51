/* The pipeline: order, bounds and failure, on any number of threads. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "schedule.h"

enum { BLOCKS = 500, CONSUMERS = 5 };

struct probe {
    int64_t slot[LDS_SLOTS]; /* what the producer wrote */
    _Atomic int64_t done[CONSUMERS + 1];
    int64_t sum[CONSUMERS];
    int64_t fail_at;
    atomic_bool out_of_order;
};

struct worker {
    struct probe *probe;
    int index;
};

static bool produce(void *context, int64_t block, int slot)
{
    struct probe *p = ((struct worker *)context)->probe;
    for (int c = 1; c <= CONSUMERS; c++)
        if (block - p->done[c] > LDS_SLOTS)
            p->out_of_order = true;
    p->slot[slot] = block * block;
    p->done[0] = block + 1;
    return block != p->fail_at;
}

static bool consume(void *context, int64_t block, int slot)
{
    struct worker *w = context;
    struct probe *p = w->probe;
    if (p->done[0] <= block || p->done[w->index] != block || p->slot[slot] != block * block)
        p->out_of_order = true;
    p->sum[w->index - 1] = p->sum[w->index - 1] * 31 % 1000003 + p->slot[slot];
    p->done[w->index] = block + 1;
    return true;
}

static bool run(struct probe *probe, int threads)
{
    struct lds_stage stage[CONSUMERS + 1];
    struct worker worker[CONSUMERS + 1];
    for (int i = 0; i <= CONSUMERS; i++) {
        worker[i] = (struct worker){probe, i};
        stage[i] = (struct lds_stage){.run = i ? consume : produce, .context = &worker[i], .needs = {i ? 0 : -1, -1}};
    }
    return lds_schedule(stage, CONSUMERS + 1, BLOCKS, threads, NULL, NULL);
}

static void test_order(void **state)
{
    (void)state;
    int64_t first = -1;
    for (int threads = 1; threads <= 8; threads++) {
        struct probe probe = {.fail_at = -1};
        assert_true(run(&probe, threads));
        assert_false(probe.out_of_order);
        for (int c = 0; c < CONSUMERS; c++) {
            assert_int_equal(probe.done[c + 1], BLOCKS);
            first = first < 0 ? probe.sum[c] : first;
            assert_int_equal(probe.sum[c], first);
        }
    }
}

static void test_failure(void **state)
{
    (void)state;
    for (int threads = 1; threads <= 3; threads++) {
        struct probe probe = {.fail_at = 100};
        assert_false(run(&probe, threads));
        assert_true(probe.done[0] == 101);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_order), cmocka_unit_test(test_failure)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
