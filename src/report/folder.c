/* Everything of a job in one folder. */
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/groups.h"
#include "loadside/report.h"
#include "report/plot.h"
#include "report/whole_file.h"
#include "report/whole_folder.h"

static char *join(const char *folder, const char *before, const char *name, const char *after)
{
    char *path = NULL;
    return asprintf(&path, "%s/%s%s%s", folder, before, name, after) < 0 ? NULL : path;
}

static enum lds_status write_text(const struct lds_job *job, const char *path, struct lds_error *error)
{
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status)
        return status;
    status = lds_job_text(job, file.out, error);
    if (!status)
        return lds_whole_file_commit(&file, error);
    lds_whole_file_abandon(&file);
    return status;
}

static enum lds_status write_json(const struct lds_job *job, const char *path, struct lds_error *error)
{
    return lds_report_json(job->measurement, job->sheet->captures, path, error);
}

static enum lds_status write_csv(const struct lds_job *job, const char *path, struct lds_error *error)
{
    return lds_report_csv(job->measurement, job->sheet->captures, path, error);
}

static enum lds_status write_changes(const struct lds_job *job, const char *folder, struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; !status && i < job->groups; i++) {
        if (!job->group[i].compared)
            continue;
        char *path = join(folder, "changes-", job->group[i].slug, ".json");
        status =
            path ? lds_comparison_json(&job->group[i].comparison, path, error) : lds_fail_memory(error, "the report");
        free(path);
    }
    return status;
}

/* The captures of a group one after the other, as the writers want them: shallow copies, to be freed by free. */
static struct lds_measurement *captures_of(const struct lds_job_group *group)
{
    struct lds_measurement *all = calloc(group->before + group->after + group->other + 1, sizeof *all);
    size_t count = 0;
    for (size_t i = 0; all && i < group->before; i++)
        all[count++] = *group->before_capture[i];
    for (size_t i = 0; all && i < group->after; i++)
        all[count++] = *group->after_capture[i];
    for (size_t i = 0; all && i < group->other; i++)
        all[count++] = *group->other_capture[i];
    return all;
}

static enum lds_status plot_group(const struct lds_job_group *group, const char *plots, int *drawn,
                                  struct lds_error *error)
{
    char *path = join(plots, group->slug, "", "");
    struct lds_measurement *all = captures_of(group);
    enum lds_status status = path && all ? LDS_OK : lds_fail_memory(error, "the plots");
    if (!status)
        status = lds_report_plots(all, group->before + group->after + group->other, path, 0, drawn, error);
    if (!status && group->compared)
        status = lds_comparison_plots(&group->comparison, (struct lds_side){all, group->before},
                                      (struct lds_side){all + group->before, group->after}, path, 0, drawn, error);
    free(path);
    free(all);
    return status;
}

static enum lds_status plot_chains(const struct lds_job *job, const char *plots, int *drawn, struct lds_error *error)
{
    char *path = join(plots, lds_role_name(LDS_ROLE_CHAIN), "", ""); /* no group has this slug */
    struct lds_measurement *chain = calloc(job->sheet->captures + 1, sizeof *chain);
    enum lds_status status = path && chain ? LDS_OK : lds_fail_memory(error, "the plots");
    size_t chains = 0;
    for (size_t i = 0; !status && i < job->sheet->captures; i++)
        if (job->sheet->capture[i].role == LDS_ROLE_CHAIN)
            chain[chains++] = job->measurement[i];
    if (!status && chains > 0)
        status = lds_report_plots(chain, chains, path, 0, drawn, error);
    free(path);
    free(chain);
    return status;
}

static enum lds_status write_plots(const struct lds_job *job, const char *plots, int *drawn, struct lds_error *error)
{
    enum lds_status status = lds_plot_folder(plots, error);
    for (size_t i = 0; !status && i < job->groups; i++)
        status = plot_group(&job->group[i], plots, drawn, error);
    return status ? status : plot_chains(job, plots, drawn, error);
}

static enum lds_status fill(const struct lds_job *job, const char *folder, int *drawn, struct lds_error *error)
{
    static const struct {
        const char *name;
        enum lds_status (*write)(const struct lds_job *, const char *, struct lds_error *);
    } files[] = {{"report.txt", write_text}, {"figures.json", write_json}, {"figures.csv", write_csv}};
    enum lds_status status = write_changes(job, folder, error);
    for (size_t i = 0; !status && i < sizeof files / sizeof *files; i++) {
        char *path = join(folder, files[i].name, "", "");
        status = path ? files[i].write(job, path, error) : lds_fail_memory(error, "the report");
        free(path);
    }
    char *plots = join(folder, "plots", "", ""), *page = join(folder, "report.html", "", "");
    if (!status && (!plots || !page))
        status = lds_fail_memory(error, "the report");
    if (!status)
        status = write_plots(job, plots, drawn, error);
    if (!status)
        status = lds_job_html(job, plots, page, error);
    free(plots);
    free(page);
    return status;
}

enum lds_status lds_job_folder_check(const char *folder, struct lds_error *error)
{
    return lds_whole_folder_check(folder, error);
}

enum lds_status lds_job_folder(const struct lds_job *job, const char *folder, int *drawn, struct lds_error *error)
{
    struct lds_whole_folder whole;
    *drawn = 0;
    enum lds_status status = lds_whole_folder_open(&whole, folder, error);
    if (status)
        return status;
    status = fill(job, whole.temporary, drawn, error);
    if (!status)
        return lds_whole_folder_commit(&whole, error);
    lds_whole_folder_abandon(&whole);
    return status;
}
