/* Writes everything of a job into one folder. */
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/expected_cells.h"
#include "report/folder_tree.h"
#include "report/plot.h"
#include "report/whole_folder.h"
#include "schedule.h"
#include "whole_file.h"

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
        char *path = lds_path_in(folder, "changes-%s.json", job->group[i].slug);
        status =
            path ? lds_comparison_json(&job->group[i].comparison, path, error) : lds_fail_memory(error, "the report");
        free(path);
    }
    return status;
}

static enum lds_status write_expected(const struct lds_job *job, const char *path, struct lds_error *error)
{
    return job->expecteds > 0 ? lds_expected_json(job, path, error) : LDS_OK;
}

/* ---- plots ---- */

/* Plots of one set of captures, or of the comparison of its two sides: the work of one thread at a time. */
struct drawing {
    struct lds_measurement *capture; /* shallow copies; before, after, others */
    size_t captures, before, after;
    const struct lds_comparison *comparison; /* NULL: the plots of the captures */
    unsigned options;                        /* LDS_PLOT_PAGE, LDS_PLOT_SCRIPTS */
    char *folder;
    struct plots *plots;
    int drawn;
    enum lds_status status;
    struct lds_error error;
};

struct plots {
    struct drawing *drawing;
    size_t drawings;
    atomic_size_t done;
    const struct lds_folder_options *options;
};

static bool draw(void *context, int64_t block, int slot)
{
    struct drawing *d = context;
    (void)block;
    (void)slot;
    if (d->comparison)
        d->status = lds_comparison_plots(d->comparison, (struct lds_side){d->capture, d->before},
                                         (struct lds_side){d->capture + d->before, d->after}, d->folder, d->options,
                                         &d->drawn, &d->error);
    else
        d->status = lds_report_plots(d->capture, d->captures, d->folder, d->options, &d->drawn, &d->error);
    atomic_fetch_add(&d->plots->done, 1);
    return d->status == LDS_OK;
}

static void tell(void *context, int64_t done)
{
    struct plots *plots = context;
    (void)done; /* number of blocks, of which there is one */
    if (plots->options && plots->options->progress)
        plots->options->progress(plots->options->progress_context, "drawing the plots",
                                 (double)atomic_load(&plots->done) / (double)plots->drawings);
}

/* Adds the captures' own plots, and those of the comparison if there is one. Takes ownership of capture. */
static bool add_drawings(struct plots *plots, const char *folder, const char *slug, struct drawing drawing,
                         const struct lds_comparison *comparison)
{
    for (int i = 0; i < (comparison ? 2 : 1); i++) {
        struct drawing *place = &plots->drawing[plots->drawings++];
        *place = drawing;
        place->comparison = i == 1 ? comparison : NULL;
        place->options = plots->options && plots->options->all_plots ? 0 : i == 1 ? LDS_PLOT_PAGE : drawing.options;
        place->folder = lds_path_in(folder, "%s", slug);
        place->plots = plots;
        if (i == 1)
            place->capture = calloc(drawing.captures + 1, sizeof *place->capture);
        if (!place->folder || !place->capture)
            return false;
        if (i == 1)
            memcpy(place->capture, drawing.capture, drawing.captures * sizeof *place->capture);
    }
    return true;
}

static bool add_group(struct plots *plots, const char *folder, const struct lds_job_group *group)
{
    const struct lds_measurement *const *const captures[] = {group->before_capture, group->after_capture,
                                                             group->other_capture};
    const size_t count[] = {group->before, group->after, group->other};
    struct drawing drawing = {
        .before = group->before, .after = group->after, .options = group->compared ? LDS_PLOT_SCRIPTS : LDS_PLOT_PAGE};
    drawing.capture = calloc(count[0] + count[1] + count[2] + 1, sizeof *drawing.capture);
    for (size_t s = 0; drawing.capture && s < 3; s++)
        for (size_t i = 0; i < count[s]; i++)
            drawing.capture[drawing.captures++] = *captures[s][i];
    return add_drawings(plots, folder, group->slug, drawing, group->compared ? &group->comparison : NULL);
}

/* In a folder whose name is no group's slug. */
static bool add_chains(struct plots *plots, const char *folder, const struct lds_job *job)
{
    struct drawing drawing = {.capture = calloc(job->sheet->captures + 1, sizeof *drawing.capture),
                              .options = LDS_PLOT_SCRIPTS};
    for (size_t i = 0; drawing.capture && i < job->sheet->captures; i++)
        if (job->sheet->capture[i].role->chain)
            drawing.capture[drawing.captures++] = job->measurement[i];
    if (drawing.capture && drawing.captures == 0) {
        free(drawing.capture);
        return true;
    }
    return add_drawings(plots, folder, "chain", drawing, NULL);
}

static enum lds_status draw_all(struct plots *plots, int *drawn, struct lds_error *error)
{
    struct lds_stage *stage = calloc(plots->drawings + 1, sizeof *stage);
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    int threads = plots->options && plots->options->threads > 0 ? plots->options->threads : cores > 0 ? (int)cores : 1;
    if (!stage)
        return lds_fail_memory(error, "the plots");
    for (size_t i = 0; i < plots->drawings; i++)
        stage[i] = (struct lds_stage){.run = draw, .context = &plots->drawing[i], .needs = {-1, -1}};
    (void)lds_schedule(stage, (int)plots->drawings, 1, threads, tell, plots);
    free(stage);
    *drawn = 1;
    for (size_t i = 0; i < plots->drawings; i++) {
        const struct drawing *drawing = &plots->drawing[i];
        if (drawing->status)
            return lds_fail(error, drawing->status, "%s", drawing->error.message);
        *drawn = *drawn && drawing->drawn;
    }
    return LDS_OK;
}

static enum lds_status write_plots(const struct lds_job *job, const char *folder,
                                   const struct lds_folder_options *options, int *drawn, struct lds_error *error)
{
    struct plots plots = {.drawing = calloc(2 * job->groups + 2, sizeof *plots.drawing), .options = options};
    bool enough = plots.drawing != NULL;
    for (size_t i = 0; enough && i < job->groups; i++)
        enough = add_group(&plots, folder, &job->group[i]);
    enough = enough && add_chains(&plots, folder, job);
    enum lds_status status = enough ? lds_plot_folder(folder, error) : lds_fail_memory(error, "the plots");
    if (!status)
        status = draw_all(&plots, drawn, error);
    for (size_t i = 0; i < plots.drawings; i++) {
        free(plots.drawing[i].capture);
        free(plots.drawing[i].folder);
    }
    free(plots.drawing);
    return status;
}

static enum lds_status fill(const struct lds_job *job, const char *folder, const struct lds_folder_options *options,
                            int *drawn, struct lds_error *error)
{
    static const struct {
        const char *name;
        enum lds_status (*write)(const struct lds_job *, const char *, struct lds_error *);
    } files[] = {{"expected.json", write_expected},
                 {"report.txt", write_text},
                 {"figures.json", write_json},
                 {"figures.csv", write_csv}};
    enum lds_status status = write_changes(job, folder, error);
    for (size_t i = 0; !status && i < sizeof files / sizeof *files; i++) {
        char *path = lds_path_in(folder, "%s", files[i].name);
        status = path ? files[i].write(job, path, error) : lds_fail_memory(error, "the report");
        free(path);
    }
    char *plots = lds_path_in(folder, "plots"), *page = lds_path_in(folder, "report.html");
    if (!status && (!plots || !page))
        status = lds_fail_memory(error, "the report");
    if (!status)
        status = write_plots(job, plots, options, drawn, error);
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

enum lds_status lds_job_folder(const struct lds_job *job, const char *folder, const struct lds_folder_options *options,
                               int *drawn, struct lds_error *error)
{
    struct lds_whole_folder whole;
    *drawn = 0;
    enum lds_status status = lds_whole_folder_open(&whole, folder, error);
    if (status)
        return status;
    status = fill(job, whole.temporary, options, drawn, error);
    if (!status)
        return lds_whole_folder_commit(&whole, error);
    lds_whole_folder_abandon(&whole);
    return status;
}
