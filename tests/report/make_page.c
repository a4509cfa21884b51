/* usage: make_page CAPTURES FOLDER  Fills a job with the invented captures of scripts/make-sedge25, measures and
 * compares them, and writes report.html and its plots to FOLDER: a page for scripts/check-report to look at in a
 * browser. */
#include <math.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "loadside/job.h"
#include "loadside/loadside.h"
#include "loadside/report.h"

enum { CAPTURES = 5, GROUPS = 3, FILES = CAPTURES };

static const struct {
    const char *name, *file, *bench, *role;
    enum lds_when when;
    double power_w;
} taken[CAPTURES] = {
    {"idle before", "before-idle.wav", "sedge25.ini", "idle", LDS_WHEN_BEFORE, NAN},
    {"idle after", "after-idle.wav", "sedge25.ini", "idle", LDS_WHEN_AFTER, NAN},
    {"10 W before", "before-10w.wav", "sedge25.ini", "sine", LDS_WHEN_BEFORE, 10.0},
    {"10 W after", "after-10w.wav", "sedge25.ini", "sine", LDS_WHEN_AFTER, 10.0},
    {"wide after", "after-idle-wide.wav", "sedge25-digitiser.ini", "idle", LDS_WHEN_AFTER, NAN},
};

static void stop(const char *what, const struct lds_error *error)
{
    fprintf(stderr, "make_page: %s: %s\n", what, error->message);
    exit(2);
}

static char *join(const char *folder, const char *name)
{
    char *path = NULL;
    if (asprintf(&path, "%s/%s", folder, name) < 0)
        exit(2);
    return path;
}

static char *copy(const char *text)
{
    char *copied = strdup(text);
    if (!copied)
        exit(2);
    return copied;
}

static void measure(const char *folder, size_t place, struct lds_measurement *measurement)
{
    struct lds_error error = {0};
    struct lds_measure_options options;
    struct lds_capture *capture = NULL;
    char *bench = join(folder, taken[place].bench), *path = join(folder, taken[place].file);
    lds_measure_options_init(&options);
    options.curves = true;
    if (lds_bench_load(&options.bench, bench, &error) != LDS_OK)
        stop(bench, &error);
    if (lds_capture_open(path, NULL, &capture, &error) != LDS_OK ||
        lds_measure(capture, &options, measurement, &error) != LDS_OK)
        stop(path, &error);
    free(measurement->file);
    measurement->file = copy(taken[place].file);
    lds_capture_close(capture);
    lds_bench_free(&options.bench);
    free(bench);
    free(path);
}

static void digest(const char *folder, const char *name, struct lds_job_file *file)
{
    struct sha256_ctx context;
    unsigned char block[65536], sum[SHA256_DIGEST_SIZE];
    char *path = join(folder, name);
    FILE *in = fopen(path, "rb");
    if (!in) {
        perror(path);
        exit(2);
    }
    sha256_init(&context);
    for (size_t got; (got = fread(block, 1, sizeof block, in)) > 0; file->bytes += (int64_t)got)
        sha256_update(&context, got, block);
    fclose(in);
    sha256_digest(&context, sizeof sum, sum);
    for (size_t i = 0; i < sizeof sum; i++)
        snprintf(file->sha256 + 2 * i, 3, "%02x", sum[i]);
    file->file = copy(name);
    free(path);
}

static void fill_sheet(struct lds_sheet *sheet, struct lds_sheet_capture *capture)
{
    static struct lds_part parts[2];
    static struct lds_limit limits[] = {{.key = "thd", .kind = LDS_AT_MOST, .value = -86.0, .line = 1},
                                        {.key = "noise.a", .kind = LDS_AT_MOST, .value = 20e-6, .line = 2},
                                        {.key = "level.rms", .kind = LDS_CHANGE_AT_MOST, .value = 0.1, .line = 3}};
    sheet->make = copy("Thistlecote");
    sheet->type = copy("Sedge 25");
    sheet->serial = copy("0047");
    sheet->client = copy("The village hall");
    sheet->place = copy("the workshop");
    sheet->by = copy("the bench");
    sheet->date = copy("2026-03-14");
    sheet->work = copy("Earth wiring taken to one point.\nSnubbers of 10 nF and 10 Ω put across each rectifier.");
    sheet->notes = copy("These data are invented: the Sedge 25 and its maker do not exist.");
    sheet->channel_name[1] = copy("left");
    sheet->channel_name[2] = copy("right");
    sheet->rating = (struct lds_rating){25.0, 8.0, 0.1, 20.0, 20000.0, 2, NAN};
    parts[0] = (struct lds_part){copy("snubber C"), copy("none"), copy("10 nF")};
    parts[1] = (struct lds_part){copy("snubber R"), copy("none"), copy("10 Ω")};
    sheet->parts = 2;
    sheet->part = parts;
    sheet->limits = sizeof limits / sizeof limits[0];
    sheet->limit = limits;
    sheet->captures = CAPTURES;
    sheet->capture = capture;
    for (size_t i = 0; i < CAPTURES; i++)
        capture[i] = (struct lds_sheet_capture){.name = copy(taken[i].name),
                                                .file = copy(taken[i].file),
                                                .path = copy(taken[i].file),
                                                .role = lds_role_find(taken[i].role),
                                                .when = taken[i].when,
                                                .power_w = taken[i].power_w,
                                                .repeat = 1};
}

/* A group of one capture a side, or of one side alone. */
static void fill_group(struct lds_job_group *group, const struct lds_sheet *sheet, const char *title, const char *slug,
                       const struct lds_measurement **before, const struct lds_measurement **after)
{
    struct lds_error error = {0};
    struct lds_compare_options options;
    *group = (struct lds_job_group){.title = copy(title), .slug = copy(slug), .before = before != NULL, .after = 1};
    group->before_capture = before;
    group->after_capture = after;
    group->compared = before != NULL;
    lds_compare_options_init(&options);
    options.limit = sheet->limit;
    options.limits = sheet->limits;
    if (before && lds_compare((struct lds_side){*before, 1}, (struct lds_side){*after, 1}, &options, &group->comparison,
                              &error) != LDS_OK)
        stop(title, &error);
}

/* A folder for each group, as a job's report has it. */
static void draw(const struct lds_job *job, const char *plots)
{
    struct lds_error error = {0};
    int drawn;
    mkdir(plots, 0777);
    for (size_t i = 0; i < job->groups; i++) {
        const struct lds_job_group *group = &job->group[i];
        char *folder = join(plots, group->slug);
        enum lds_status status = lds_report_plots(*group->after_capture, 1, folder, 0, &drawn, &error);
        if (status == LDS_OK && group->compared)
            status = lds_comparison_plots(&group->comparison, (struct lds_side){*group->before_capture, 1},
                                          (struct lds_side){*group->after_capture, 1}, folder, 0, &drawn, &error);
        if (status != LDS_OK)
            stop(folder, &error);
        free(folder);
    }
}

int main(int count, char **argument)
{
    static struct lds_measurement measurement[CAPTURES];
    static const struct lds_measurement *capture[CAPTURES];
    static struct lds_sheet_capture sheet_capture[CAPTURES];
    static struct lds_job_group group[GROUPS];
    static struct lds_job_file file[FILES];
    static struct lds_sheet sheet;
    struct lds_error error = {0};
    if (count != 3) {
        fputs("usage: make_page CAPTURES FOLDER\n", stderr);
        return 2;
    }
    char *plots = join(argument[2], "plots"), *page = join(argument[2], "report.html");
    mkdir(argument[2], 0777);
    fill_sheet(&sheet, sheet_capture);
    for (size_t i = 0; i < CAPTURES; i++) {
        measure(argument[1], i, &measurement[i]);
        capture[i] = &measurement[i];
        digest(argument[1], taken[i].file, &file[i]);
    }
    fill_group(&group[0], &sheet, "sine, 10 W", "sine-10w", &capture[2], &capture[3]);
    fill_group(&group[1], &sheet, "idle", "idle", &capture[0], &capture[1]);
    fill_group(&group[2], &sheet, "idle, up to 500 kHz", "idle-wide", NULL, &capture[4]);
    static char missing[] = "no recording of the capture chain alone: what it adds is not known",
                *missing_lines[] = {missing};
    struct lds_job job = {.sheet = &sheet,
                          .measurement = measurement,
                          .groups = GROUPS,
                          .group = group,
                          .files = FILES,
                          .file = file,
                          .date = "2026-03-14",
                          .missing = {1, missing_lines}};
    draw(&job, plots);
    if (lds_job_html(&job, plots, page, &error) != LDS_OK)
        stop(page, &error);
    puts(page);
    return 0; /* the end of the program frees the rest */
}
