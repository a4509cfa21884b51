/* A job: every capture measured, the chain applied, each group compared. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/digest.h"
#include "job/groups.h"
#include "job/look.h"
#include "job/remarks.h"
#include "job/steps.h"

void lds_job_options_init(struct lds_job_options *options)
{
    *options = (struct lds_job_options){0};
    lds_compare_options_init(&options->compare);
}

/* What is to be measured: each capture up to the end of its group, and recordings of the chain once more up to the end
 * of a group that does not reach as far, since figures over different bands cannot be compared. */
struct plan {
    const struct lds_sheet *sheet;
    struct lds_check_read read; /* by the check */
    struct lds_grouping grouping;
    double *lowest_hz, *highest_hz; /* ends of each group */
    struct lds_task *task;
    size_t tasks;
    struct lds_measurement *cut; /* of chains */
    size_t cuts;
};

static size_t chains_of(const struct lds_sheet *sheet)
{
    size_t count = 0;
    for (size_t i = 0; i < sheet->captures; i++)
        count += sheet->capture[i].role->chain;
    return count;
}

/* Whether this recording of the chain applies to captures of that side. */
static bool goes_with(const struct lds_sheet_capture *chain, enum lds_when when)
{
    return chain->role->chain && (chain->when == LDS_WHEN_ANY || chain->when == when);
}

/* The measurement of the chain up to that end. If there is none yet, adds a task for it. */
static struct lds_measurement *chain_to(struct plan *plan, struct lds_job *job, size_t chain, double end_hz)
{
    if (plan->read.look[chain].end_hz <= end_hz)
        return &job->measurement[chain];
    for (size_t i = 0; i < plan->tasks; i++)
        if (plan->task[i].capture == chain && plan->task[i].end_hz == end_hz)
            return plan->task[i].measurement;
    struct lds_measurement *place = &plan->cut[plan->cuts++];
    plan->task[plan->tasks++] = (struct lds_task){.capture = chain, .end_hz = end_hz, .measurement = place};
    return place;
}

static bool has_rate_of(const struct plan *plan, const struct lds_captures_of_group *group, size_t chain)
{
    bool found = false;
    for (size_t i = 0; i < group->count; i++)
        found = found || plan->read.look[group->capture[i]].info.rate_hz == plan->read.look[chain].info.rate_hz;
    return found;
}

static bool plan_make(struct plan *plan, struct lds_job *job)
{
    size_t captures = plan->sheet->captures, groups, most;
    if (!lds_grouping_make(&plan->grouping, plan->sheet, plan->read.look))
        return false;
    groups = plan->grouping.groups;
    most = chains_of(plan->sheet) * groups;
    plan->lowest_hz = calloc(groups + 1, sizeof *plan->lowest_hz);
    plan->highest_hz = calloc(groups + 1, sizeof *plan->highest_hz);
    plan->cut = calloc(most + 1, sizeof *plan->cut);
    plan->task = calloc(captures + most + 1, sizeof *plan->task);
    if (!plan->lowest_hz || !plan->highest_hz || !plan->cut || !plan->task)
        return false;
    for (size_t i = 0; i < captures; i++)
        plan->task[i] =
            (struct lds_task){.capture = i, .end_hz = plan->read.look[i].end_hz, .measurement = &job->measurement[i]};
    plan->tasks = captures;
    for (size_t g = 0; g < groups; g++) {
        const struct lds_captures_of_group *group = &plan->grouping.group[g];
        lds_look_ends(plan->read.look, group, &plan->lowest_hz[g], &plan->highest_hz[g]);
        for (size_t i = 0; i < group->count; i++)
            plan->task[group->capture[i]].end_hz = plan->lowest_hz[g];
        for (size_t i = 0; i < captures; i++)
            if (plan->sheet->capture[i].role->chain && has_rate_of(plan, group, i))
                (void)chain_to(plan, job, i, plan->lowest_hz[g]);
    }
    return true;
}

static void plan_free(struct plan *plan)
{
    for (size_t i = 0; i < plan->cuts; i++)
        lds_measurement_free(&plan->cut[i]);
    free(plan->cut);
    free(plan->lowest_hz);
    free(plan->highest_hz);
    free(plan->task);
    lds_check_read_free(&plan->read);
    lds_grouping_free(&plan->grouping);
}

/* Adds the chain to the list if it fits the capture; else gives the reason. */
static void take_chain(const struct lds_measurement *capture, const struct lds_measurement *one,
                       struct lds_measurement *chain, size_t *chains, struct lds_error *why)
{
    if (lds_chain_fits(capture, one, why) == LDS_OK)
        chain[(*chains)++] = *one;
}

/* Applies the recordings of the chain that fit a capture, or where the sheet has none for it the saved ones of its
 * bench; reports the reason when none fits. */
static enum lds_status apply_chains_to(struct plan *plan, struct lds_job *job, size_t place, double end_hz,
                                       struct lds_error *error)
{
    const struct lds_sheet_capture *all = plan->sheet->capture;
    const struct lds_saved_chain *saved = lds_saved_chain_of(&plan->read.chains, &all[place].bench);
    struct lds_measurement *chain = calloc(chains_of(plan->sheet) + (saved ? saved->count : 0) + 1, sizeof *chain);
    struct lds_error why = {0};
    size_t chains = 0, own_chains = 0;
    enum lds_status status = chain ? LDS_OK : lds_fail_memory(error, "the recordings of the chain");
    for (size_t k = 0; !status && k < plan->sheet->captures; k++) {
        if (!goes_with(&all[k], all[place].when))
            continue;
        bool planned = plan->read.look[k].info.rate_hz == plan->read.look[place].info.rate_hz;
        const struct lds_measurement *own = planned ? chain_to(plan, job, k, end_hz) : &job->measurement[k];
        take_chain(&job->measurement[place], own, chain, &chains, &why);
        own_chains++;
    }
    for (size_t k = 0; !status && saved && own_chains == 0 && k < saved->count; k++)
        take_chain(&job->measurement[place], &saved->measurement[k], chain, &chains, &why);
    if (!status && chains > 0)
        status = lds_chain_apply(&job->measurement[place], chain, chains, error);
    else if (!status && why.status &&
             !lds_remark(&job->missing, "%s: no recording of the chain can be compared with it: %s.", all[place].name,
                         why.message))
        status = lds_fail_memory(error, "the recordings of the chain");
    free(chain);
    return status;
}

static enum lds_status apply_chains(struct plan *plan, struct lds_job *job, struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    for (size_t g = 0; !status && g < plan->grouping.groups; g++)
        for (size_t i = 0; !status && i < plan->grouping.group[g].count; i++)
            status = apply_chains_to(plan, job, plan->grouping.group[g].capture[i], plan->lowest_hz[g], error);
    return status;
}

static enum lds_status compare_group(struct lds_job_group *group, const struct lds_compare_options *options,
                                     double lowest_hz, double highest_hz, struct lds_error *error)
{
    struct lds_measurement *before = lds_side_of_group(group->before_capture, group->before);
    struct lds_measurement *after = lds_side_of_group(group->after_capture, group->after);
    enum lds_status status = LDS_OK;
    struct lds_error why = {0};
    if (!before || !after)
        status = lds_fail_memory(&why, "the comparison");
    if (!status)
        status = lds_compare((struct lds_side){before, group->before}, (struct lds_side){after, group->after}, options,
                             &group->comparison, &why);
    if (!status && highest_hz > lowest_hz * (1.0 + 1e-9))
        status = lds_comparison_note_end(&group->comparison, lowest_hz, &why);
    free(before);
    free(after);
    return status ? lds_fail(error, status, "%s: %.900s", group->title, why.message) : LDS_OK;
}

static enum lds_status compare_groups(struct plan *plan, struct lds_job *job, const struct lds_job_options *options,
                                      struct lds_error *error)
{
    struct lds_compare_options compare = options->compare;
    const struct lds_limits limits = {plan->sheet->limits, plan->sheet->limit};
    enum lds_status status =
        lds_limits_check(&limits, plan->sheet->path, job->measurement, plan->sheet->captures, error);
    compare.limit = plan->sheet->limit;
    compare.limits = plan->sheet->limits;
    for (size_t g = 0; !status && g < job->groups; g++)
        if (job->group[g].compared) {
            status = compare_group(&job->group[g], &compare, plan->lowest_hz[g], plan->highest_hz[g], error);
            job->worse = job->worse || (!status && job->group[g].comparison.worse);
        }
    lds_job_limits_place(job);
    return status;
}

static enum lds_status check_roles(const struct plan *plan, struct lds_job *job, struct lds_error *error)
{
    for (size_t i = 0; i < plan->sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &plan->sheet->capture[i];
        char words[240];
        lds_role_by_signal(capture, &plan->read.look[i], &job->measurement[i], words, sizeof words);
        if (words[0] && !lds_remark(&job->unlike, "%s: %s.", capture->name, words))
            return lds_fail_memory(error, "the job");
    }
    return LDS_OK;
}

static void find_date(struct lds_job *job)
{
    if (job->sheet->date) {
        snprintf(job->date, sizeof job->date, "%s", job->sheet->date);
        return;
    }
    for (size_t i = 0; i < job->sheet->captures; i++)
        if (strcmp(job->measurement[i].date, job->date) > 0)
            memcpy(job->date, job->measurement[i].date, sizeof job->date);
    job->date[strcspn(job->date, "T")] = '\0'; /* only the day */
}

static enum lds_status run(struct plan *plan, const struct lds_job_options *options, struct lds_job *job,
                           struct lds_error *error)
{
    enum lds_status status = lds_check_to_run(job->sheet, &plan->read, &job->missing, error);
    if (status)
        return status;
    job->measurement = calloc(job->sheet->captures + 1, sizeof *job->measurement);
    for (size_t i = 0; job->measurement && i < job->sheet->captures; i++)
        lds_bench_init(&job->measurement[i].bench);
    bool enough = job->measurement && plan_make(plan, job) && lds_groups_fill(job, &plan->grouping);
    if (!enough)
        return lds_fail_memory(error, "the job");
    status = lds_tasks_run(job->sheet, options, plan->task, plan->tasks, error);
    if (!status)
        status = check_roles(plan, job, error);
    if (!status)
        status = apply_chains(plan, job, error);
    if (!status)
        status = compare_groups(plan, job, options, error);
    if (!status && !lds_job_expect(job))
        status = lds_fail_memory(error, "the job");
    if (!status)
        status = lds_digest_files(job, error);
    find_date(job);
    return status;
}

enum lds_status lds_job_run(const struct lds_sheet *sheet, const struct lds_job_options *options, struct lds_job *job,
                            struct lds_error *error)
{
    struct plan plan = {.sheet = sheet};
    *job = (struct lds_job){.sheet = sheet};
    enum lds_status status = run(&plan, options, job, error);
    plan_free(&plan);
    return status;
}

void lds_job_free(struct lds_job *job)
{
    if (!job->sheet)
        return;
    lds_groups_free(job);
    for (size_t i = 0; job->measurement && i < job->sheet->captures; i++)
        lds_measurement_free(&job->measurement[i]);
    free(job->measurement);
    free(job->expected);
    for (size_t i = 0; i < job->files; i++)
        free(job->file[i].file);
    free(job->file);
    lds_remarks_free(&job->missing);
    lds_remarks_free(&job->unlike);
    *job = (struct lds_job){0};
}
