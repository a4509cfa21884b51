#include "schedule.h"

#include <pthread.h>
#include <time.h>

struct schedule {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    struct lds_stage *stages;
    int count;
    int64_t blocks;
    bool failed;
};

static bool ready(const struct schedule *s, int index)
{
    const struct lds_stage *stage = &s->stages[index];
    if (stage->running || stage->done >= s->blocks)
        return false;
    for (int i = 0; i < 2; i++)
        if (stage->needs[i] >= 0 && s->stages[stage->needs[i]].done <= stage->done)
            return false;
    for (int i = 0; i < s->count; i++)
        for (int k = 0; k < 2; k++)
            if (s->stages[i].needs[k] == index && stage->done - s->stages[i].done >= LDS_SLOTS)
                return false;
    return true;
}

/* The ready stage that is farthest behind; -1: none is ready; -2: all are done, or one failed. */
static int next_stage(const struct schedule *s)
{
    int best = -1;
    bool all = true;
    for (int i = 0; i < s->count; i++) {
        if (s->stages[i].done < s->blocks)
            all = false;
        if (ready(s, i) && (best < 0 || s->stages[i].done < s->stages[best].done))
            best = i;
    }
    return all || s->failed ? -2 : best;
}

static int64_t slowest(const struct schedule *s)
{
    int64_t done = s->blocks;
    for (int i = 0; i < s->count; i++)
        done = s->stages[i].done < done ? s->stages[i].done : done;
    return done;
}

/* Until a stage becomes ready, or, for the thread that ticks, it is time to do so again. */
static void wait_for_change(struct schedule *s, void (*tick)(void *, int64_t), void *context)
{
    enum { TICK_NS = 100000000, SECOND_NS = 1000000000 };
    struct timespec until;
    if (!tick) {
        pthread_cond_wait(&s->changed, &s->lock);
        return;
    }
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_nsec += TICK_NS;
    until.tv_sec += until.tv_nsec / SECOND_NS;
    until.tv_nsec %= SECOND_NS;
    pthread_cond_timedwait(&s->changed, &s->lock, &until);
    int64_t done = slowest(s);
    pthread_mutex_unlock(&s->lock);
    tick(context, done);
    pthread_mutex_lock(&s->lock);
}

static void work(struct schedule *s, void (*tick)(void *, int64_t), void *context)
{
    pthread_mutex_lock(&s->lock);
    for (;;) {
        int index = next_stage(s);
        if (index == -2)
            break;
        if (index < 0) {
            wait_for_change(s, tick, context);
            continue;
        }
        struct lds_stage *stage = &s->stages[index];
        stage->running = true;
        int64_t block = stage->done;
        int64_t done = slowest(s);
        pthread_mutex_unlock(&s->lock);
        if (tick)
            tick(context, done);
        bool ok = stage->run(stage->context, block, (int)(block % LDS_SLOTS));
        pthread_mutex_lock(&s->lock);
        stage->running = false;
        stage->done++;
        if (!ok)
            s->failed = true;
        pthread_cond_broadcast(&s->changed);
    }
    pthread_cond_broadcast(&s->changed);
    pthread_mutex_unlock(&s->lock);
}

static void *worker(void *schedule)
{
    work(schedule, NULL, NULL);
    return NULL;
}

bool lds_schedule(struct lds_stage *stages, int count, int64_t blocks, int threads,
                  void (*tick)(void *context, int64_t done), void *context)
{
    enum { HELPERS_MAX = 1023 };
    struct schedule s = {.stages = stages, .count = count, .blocks = blocks};
    pthread_mutex_init(&s.lock, NULL);
    pthread_cond_init(&s.changed, NULL);
    for (int i = 0; i < count; i++) {
        stages[i].done = 0;
        stages[i].running = false;
    }
    pthread_t helper[HELPERS_MAX];
    int helpers = 0;
    int wanted = threads - 1 < count - 1 ? threads - 1 : count - 1;
    while (helpers < wanted && helpers < HELPERS_MAX && pthread_create(&helper[helpers], NULL, worker, &s) == 0)
        helpers++;
    work(&s, tick, context); /* even without helper threads, this thread does all the work */
    for (int i = 0; i < helpers; i++)
        pthread_join(helper[i], NULL);
    pthread_mutex_destroy(&s.lock);
    pthread_cond_destroy(&s.changed);
    return !s.failed;
}
