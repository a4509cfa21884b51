#include "job/steps.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fail.h"
#include "job/look.h"
#include "schedule.h"

struct pool {
    const struct lds_sheet *sheet;
    const struct lds_job_options *options;
    int threads_each;
    pthread_t caller;     /* of lds_job_run: progress is reported only in this thread */
    pthread_mutex_t lock; /* protects the fractions */
    size_t places;
    struct place *place;
};

struct place { /* of a task */
    struct pool *pool;
    struct lds_task *task;
    double fraction; /* NAN: not started, 1: done but not reported, INFINITY: reported */
};

static void set_fraction(struct place *place, double fraction)
{
    pthread_mutex_lock(&place->pool->lock);
    place->fraction = fraction;
    pthread_mutex_unlock(&place->pool->lock);
}

/* Reports how far the running tasks are, without the lock: the caller's function may take its time. */
static void tell(void *context, int64_t done)
{
    struct pool *pool = context;
    (void)done; /* number of blocks, of which there is one */
    for (size_t i = 0; pool->options->progress && i < pool->places; i++) {
        struct place *place = &pool->place[i];
        pthread_mutex_lock(&pool->lock);
        double fraction = place->fraction;
        place->fraction = fraction >= 1.0 ? INFINITY : fraction;
        pthread_mutex_unlock(&pool->lock);
        if (fraction <= 1.0)
            pool->options->progress(pool->options->progress_context, place->task->capture, "measuring", fraction);
    }
}

static void progress(void *context, const char *doing, double fraction)
{
    struct place *place = context;
    (void)doing;
    set_fraction(place, fmin(fraction, 0.999));
    if (pthread_equal(pthread_self(), place->pool->caller))
        tell(place->pool, 0);
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

static bool measure(void *context, int64_t block, int slot)
{
    struct place *place = context;
    struct lds_task *task = place->task;
    const struct lds_sheet *sheet = place->pool->sheet;
    const struct lds_sheet_capture *capture = &sheet->capture[task->capture];
    struct lds_measure_options options;
    struct lds_capture *opened = NULL;
    (void)block;
    (void)slot;
    set_fraction(place, 0.0);
    lds_look_options(capture, &options);
    options.tone_hz = capture->role->holds == LDS_SIGNAL_SILENCE ? 0.0 : NAN;
    if (lds_signal_stated(capture->role->holds) == LDS_STATED_BY_OPTION)
        options.signal.kind = capture->role->holds;
    if (isfinite(sheet->settle_band_v))
        options.settle_band_v = sheet->settle_band_v;
    options.bias_ohm = sheet->bias_ohm;
    if (capture->signal)
        options.known = *capture->signal;
    options.threads = place->pool->threads_each;
    options.curves = true;
    options.progress = progress;
    options.progress_context = place;
    task->status = lds_capture_open(capture->path, NULL, &opened, &task->error);
    if (!task->status) {
        if (lds_measure_end_hz(lds_capture_info(opened)->rate_hz, &options.bench) > task->end_hz)
            options.bench.usable_to_hz = task->end_hz;
        task->status = lds_measure(opened, &options, task->measurement, &task->error);
        lds_capture_close(opened);
    }
    if (!task->status)
        task->status = rename_measurement(task->measurement, capture->file, &task->error);
    set_fraction(place, 1.0);
    return !task->status;
}

static enum lds_status first_failure(const struct lds_sheet *sheet, const struct lds_task *task, size_t tasks,
                                     struct lds_error *error)
{
    for (size_t i = 0; i < tasks; i++) {
        const struct lds_sheet_capture *capture = &sheet->capture[task[i].capture];
        if (task[i].status)
            return lds_fail(error, task[i].status, "%s:%d: %.200s: %.600s", sheet->path, capture->line, capture->file,
                            lds_without_path(task[i].error.message, capture->path));
    }
    return LDS_OK;
}

enum lds_status lds_tasks_run(const struct lds_sheet *sheet, const struct lds_job_options *options,
                              struct lds_task *task, size_t tasks, struct lds_error *error)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    int threads = options->threads > 0 ? options->threads : cores > 0 ? (int)cores : 1;
    struct pool pool = {.sheet = sheet,
                        .options = options,
                        .threads_each = tasks == 1 ? threads : 1,
                        .caller = pthread_self(),
                        .lock = PTHREAD_MUTEX_INITIALIZER,
                        .places = tasks,
                        .place = calloc(tasks + 1, sizeof *pool.place)};
    struct lds_stage *stage = calloc(tasks + 1, sizeof *stage);
    bool enough = pool.place && stage;
    for (size_t i = 0; enough && i < tasks; i++) {
        pool.place[i] = (struct place){&pool, &task[i], NAN};
        stage[i] = (struct lds_stage){.run = measure, .context = &pool.place[i], .needs = {-1, -1}};
    }
    if (enough)
        (void)lds_schedule(stage, (int)tasks, 1, threads, tell, &pool);
    free(pool.place);
    free(stage);
    pthread_mutex_destroy(&pool.lock);
    return enough ? first_failure(sheet, task, tasks, error) : lds_fail_memory(error, "the job");
}
