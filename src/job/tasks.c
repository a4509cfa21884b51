#include "job/tasks.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "fail.h"

enum { TICK_MS = 100 };

struct pool {
    const struct lds_sheet *sheet;
    struct lds_task *task;
    size_t tasks;
    int threads_each;
    pthread_mutex_t lock; /* protects everything below */
    pthread_cond_t ended;
    size_t next, running;
    bool failed;
    double *fraction; /* of each task; NAN: not started, 1: done but not reported, INFINITY: reported */
};

struct place { /* of a task, for its progress */
    struct pool *pool;
    size_t task;
};

static void progress(void *context, const char *doing, double fraction)
{
    struct place *place = context;
    (void)doing;
    pthread_mutex_lock(&place->pool->lock);
    place->pool->fraction[place->task] = fmin(fraction, 0.999);
    pthread_mutex_unlock(&place->pool->lock);
}

/* Gives a capture the name in the sheet, wherever the sheet is. */
static enum lds_status rename_measurement(struct lds_measurement *measurement, const char *name,
                                          struct lds_error *error)
{
    char *copy = strdup(name);
    if (!copy)
        return lds_fail_memory(error, "the record");
    free(measurement->file);
    measurement->file = copy;
    return LDS_OK;
}

static void measure(struct pool *pool, size_t number)
{
    struct lds_task *task = &pool->task[number];
    const struct lds_sheet_capture *capture = &pool->sheet->capture[task->capture];
    struct place place = {pool, number};
    struct lds_measure_options options;
    struct lds_capture *opened = NULL;
    lds_measure_options_init(&options);
    options.bench = capture->bench; /* lds_measure copies it */
    options.channel = capture->channel;
    options.driven[0] = capture->driven;
    options.drivens = capture->driven > 0;
    options.tone_hz = capture->role->holds == LDS_SIGNAL_SILENCE ? 0.0 : NAN;
    if (capture->role->holds == LDS_SIGNAL_POWER_ON)
        options.signal.kind = LDS_SIGNAL_POWER_ON;
    if (isfinite(pool->sheet->settle_band_v))
        options.settle_band_v = pool->sheet->settle_band_v;
    options.bias_ohm = pool->sheet->bias_ohm;
    if (capture->signal)
        options.known = *capture->signal;
    options.threads = pool->threads_each;
    options.curves = true;
    options.progress = progress;
    options.progress_context = &place;
    task->status = lds_capture_open(capture->path, NULL, &opened, &task->error);
    if (!task->status) {
        if (lds_measure_end_hz(lds_capture_info(opened)->rate_hz, &options.bench) > task->end_hz)
            options.bench.usable_to_hz = task->end_hz;
        task->status = lds_measure(opened, &options, task->measurement, &task->error);
        lds_capture_close(opened);
    }
    if (!task->status)
        task->status = rename_measurement(task->measurement, capture->file, &task->error);
}

static void *work(void *context)
{
    struct pool *pool = context;
    pthread_mutex_lock(&pool->lock);
    while (pool->next < pool->tasks && !pool->failed) {
        size_t number = pool->next++;
        pool->fraction[number] = 0.0;
        pthread_mutex_unlock(&pool->lock);
        measure(pool, number);
        pthread_mutex_lock(&pool->lock);
        pool->fraction[number] = 1.0;
        pool->failed = pool->failed || pool->task[number].status;
    }
    pool->running--;
    pthread_cond_signal(&pool->ended);
    pthread_mutex_unlock(&pool->lock);
    return NULL;
}

/* Reports how far the running tasks are, without the lock: the caller's function may take its time. */
static void tell(struct pool *pool, const struct lds_job_options *options, double *copy)
{
    for (size_t i = 0; i < pool->tasks; i++) {
        copy[i] = pool->fraction[i];
        if (copy[i] >= 1.0)
            pool->fraction[i] = INFINITY;
    }
    pthread_mutex_unlock(&pool->lock);
    for (size_t i = 0; i < pool->tasks; i++)
        if (copy[i] <= 1.0)
            options->progress(options->progress_context, pool->task[i].capture, "measuring", copy[i]);
    pthread_mutex_lock(&pool->lock);
}

static void wait_for_end(struct pool *pool, const struct lds_job_options *options, double *copy)
{
    pthread_mutex_lock(&pool->lock);
    while (pool->running > 0) {
        struct timespec until;
        clock_gettime(CLOCK_REALTIME, &until);
        until.tv_nsec += TICK_MS * 1000000L;
        until.tv_sec += until.tv_nsec / 1000000000L;
        until.tv_nsec %= 1000000000L;
        pthread_cond_timedwait(&pool->ended, &pool->lock, &until);
        if (options->progress && pool->running > 0)
            tell(pool, options, copy);
    }
    pthread_mutex_unlock(&pool->lock);
}

static enum lds_status run(struct pool *pool, const struct lds_job_options *options, size_t threads, double *copy,
                           struct lds_error *error)
{
    pthread_t *thread = calloc(threads, sizeof *thread);
    size_t started = 0;
    if (!thread)
        return lds_fail_memory(error, "the threads");
    pool->running = threads;
    while (started < threads && pthread_create(&thread[started], NULL, work, pool) == 0)
        started++;
    pthread_mutex_lock(&pool->lock);
    pool->running -= threads - started;
    pthread_mutex_unlock(&pool->lock);
    wait_for_end(pool, options, copy);
    for (size_t i = 0; i < started; i++)
        pthread_join(thread[i], NULL);
    free(thread);
    if (started == 0)
        return lds_fail_memory(error, "a thread");
    for (size_t i = 0; i < pool->tasks; i++)
        if (pool->task[i].status) {
            const struct lds_sheet_capture *capture = &pool->sheet->capture[pool->task[i].capture];
            const char *message = pool->task[i].error.message, *path = capture->path;
            if (strncmp(message, path, strlen(path)) == 0 && message[strlen(path)] == ':')
                message += strlen(path) + 1 + strspn(message + strlen(path) + 1, " ");
            return lds_fail(error, pool->task[i].status, "%s:%d: %.200s: %.600s", pool->sheet->path, capture->line,
                            capture->file, message);
        }
    return LDS_OK;
}

enum lds_status lds_tasks_run(const struct lds_sheet *sheet, const struct lds_job_options *options,
                              struct lds_task *task, size_t tasks, struct lds_error *error)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    size_t threads = options->threads > 0 ? (size_t)options->threads : cores > 0 ? (size_t)cores : 1;
    struct pool pool = {.sheet = sheet,
                        .task = task,
                        .tasks = tasks,
                        .threads_each = tasks == 1 ? (int)threads : 1,
                        .lock = PTHREAD_MUTEX_INITIALIZER,
                        .ended = PTHREAD_COND_INITIALIZER,
                        .fraction = calloc(tasks + 1, sizeof(double))};
    double *copy = calloc(tasks + 1, sizeof *copy);
    enum lds_status status = LDS_OK;
    for (size_t i = 0; pool.fraction && i < tasks; i++)
        pool.fraction[i] = NAN;
    if (!pool.fraction || !copy)
        status = lds_fail_memory(error, "the job");
    else if (tasks > 0)
        status = run(&pool, options, threads < tasks ? threads : tasks, copy, error);
    free(pool.fraction);
    free(copy);
    pthread_cond_destroy(&pool.ended);
    pthread_mutex_destroy(&pool.lock);
    return status;
}
