/* loadside job: everything on a job sheet, into one report folder. */
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command.h"
#include "common.h"
#include "output.h"
#include "progress.h"
#include "say.h"

struct settings {
    const char *out;
    const char *ledger;
    bool check;
    bool all_plots;
    const char *new_sheet, *from, *bench;
    bool quiet, no_progress;
    int threads;
};

#define PLACE(member) offsetof(struct settings, member)

static const struct option_row own_options[] = {
    {.group = "What to do",
     FOLDER_OPTION("out", PLACE(out), "report",
                   "folder for the report; SHEET without its suffix and with -report when not given")},
    {FILE_OPTION("ledger", "FILE", PLACE(ledger), "amplifiers.ledger",
                 "also store the figures in this ledger, which is created if missing")},
    {SWITCH_OPTION("check", PLACE(check),
                   "measure nothing: say what is wrong or missing, whether each power fits the input, and which "
                   "captures are to make")},
    {FILE_OPTION("new", "FILE", PLACE(new_sheet), "sheet.ini",
                 "write a sheet to fill in; an existing file is not changed")},
    {SWITCH_OPTION("all-plots", PLACE(all_plots),
                   "draw every plot, as PNG too, and not only those of the page; scripts and data of all are written "
                   "in any case")},
    {FOLDER_OPTION("from", PLACE(from), "captures",
                   "with --new: propose the sheet from the captures in this folder, each line with its reason")},
    {FILE_OPTION("bench", "FILE", PLACE(bench), "sedge25.ini",
                 "with --from: bench file of the captures; the only one in the folder when not given")},
    {.group = "How", SWITCH_OPTION("quiet", PLACE(quiet), "no summary on standard output")},
    {SWITCH_OPTION("no-progress", PLACE(no_progress), "do not show progress on a terminal")},
    {WHOLE_OPTION("threads", PLACE(threads), 1024, "2",
                  "captures to measure at once; as many as the machine has cores when not given; the report does not "
                  "depend on it")},
    {HELP_OPTION},
    {0},
};

static const struct option_row *const options[] = {own_options, NULL};

static const char *const text[] = {
    "Measures every capture on a job sheet, applies the recordings of the capture chain, compares before with after, "
    "and writes one folder for the client: report.html, report.txt, figures.json, figures.csv, changes of each group "
    "compared, and plots. The summary goes to standard output.",
    "The sheet is a text file that says what was done to the unit and which captures were taken; --new writes one to "
    "fill in. Everything that is wrong with a sheet is reported at once, and nothing is written then.",
    "The folder is replaced as a whole: a run that is stopped leaves the older report unchanged. Your own files in the "
    "folder are kept.",
    "Exit status: 0 nothing is worse and nothing over a limit, 1 something is, 2 an error; of --check: 0 the job can "
    "be run, or could with the captures still to make, 2 it cannot.",
    NULL,
};

static const struct example examples[] = {
    {"loadside job --new sheet.ini", "a sheet to fill in"},
    {"loadside job --new sheet.ini --from captures", "a sheet proposed from the captures in a folder"},
    {"loadside job --check sheet.ini", "what is wrong or missing, and whether each power fits"},
    {"loadside job sheet.ini --out report", "the report, in the folder report"},
    {"loadside job sheet.ini --ledger amplifiers.ledger", "the report, and the figures stored for years to come"},
    {0},
};

/* Prints what is wrong, line by line, or else the error. */
static void say_all(const char *path, const struct lds_remarks *wrong, enum lds_status status,
                    const struct lds_error *error)
{
    for (size_t i = 0; i < wrong->count; i++)
        say_about(path, wrong->line[i]);
    if (wrong->count == 0)
        (void)say_unless(status, path, error);
}

static bool print_remarks(const char *title, const struct lds_remarks *remarks)
{
    struct lds_error error = {0};
    if (remarks->count > 0)
        printf("%s\n", title);
    if (lds_remarks_text(remarks, stdout, &error) == LDS_OK)
        return true;
    output_failed("standard output", error.message);
    return false;
}

static enum exit_status make_new(const struct settings *settings)
{
    struct lds_error error = {0};
    struct lds_remarks said = {0};
    const char *path = settings->new_sheet;
    enum lds_status status = settings->from ? lds_sheet_from(path, settings->from, settings->bench, &said, &error)
                                            : lds_sheet_new(path, &error);
    bool of_folder = settings->from && strncmp(error.message, settings->from, strlen(settings->from)) == 0;
    bool good = say_unless(status, of_folder ? settings->from : path, &error);
    if (good && settings->from && !settings->quiet)
        good = print_remarks("Proposed; read each line and its reason, then run job --check", &said);
    lds_remarks_free(&said);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status print_check(const struct lds_job_checked *checked)
{
    bool stopped = checked->wrong.count > 0;
    fputs("Before anything is connected\n", stdout);
    for (size_t i = 0; common_caution[i]; i++)
        describe_paragraph(common_caution[i], stdout);
    if (!print_remarks("\nDoes the voltage fit the input?", &checked->fits) ||
        !print_remarks("\nThe captures", &checked->captures) ||
        !print_remarks("\nWhat a full report would want", &checked->missing))
        return EXIT_TROUBLE;
    if (!stopped && checked->to_make > 0)
        printf("\nThe job can be run once the %s made.\n",
               checked->to_make == 1 ? "missing capture is" : "missing captures are");
    else
        printf("\nThe job %s be run.\n", stopped ? "cannot" : "can");
    return stopped ? EXIT_TROUBLE : EXIT_DONE;
}

/* For whoever works at the bench, and so not in the report. */
static void say_missing(const struct lds_job *job)
{
    struct lds_error error = {0};
    if (job->missing.count == 0)
        return;
    fflush(stdout);
    fputs("\nTo make the report fuller:\n", stderr);
    (void)lds_remarks_text(&job->missing, stderr, &error);
}

static enum exit_status finish(const struct lds_job *job, const char *folder, const struct settings *settings)
{
    struct lds_error error = {0};
    struct progress progress;
    int drawn = 0;
    progress_start(&progress, !settings->no_progress, folder);
    const struct lds_folder_options write = {settings->threads, settings->all_plots, progress_show, &progress};
    enum lds_status status = lds_job_folder(job, folder, &write, &drawn, &error);
    progress_end(&progress);
    if (!say_unless(status, folder, &error))
        return EXIT_TROUBLE;
    if (!drawn)
        say(folder,
            "gnuplot was not found, so there are scripts and data but no pictures; install gnuplot and run this "
            "again");
    if (!settings->quiet) {
        char safe[4096];
        if (lds_job_summary(job, stdout, &error) != LDS_OK)
            return output_failed("summary", error.message);
        say_escaped(folder, safe, sizeof safe);
        printf("\nThe report is in %s\n", safe);
        say_missing(job);
    }
    return job->worse ? EXIT_WORSE : EXIT_DONE;
}

/* Checks before measuring whether the ledger can take a job. */
static bool check_ledger(const char *path, const char *folder)
{
    struct lds_ledger *ledger;
    struct lds_error error = {0};
    struct stat info;
    if (!output_check_file("--ledger", path))
        return false;
    if (output_same_file(path, folder)) { /* also when neither exists yet */
        say("--ledger", "'%s' is the folder of the report; a file expected; name another", path);
        return false;
    }
    /* To be created, or left empty by a run that found the disk full. */
    if (stat(path, &info) != 0 || (S_ISREG(info.st_mode) && info.st_size == 0))
        return true;
    bool good = say_unless(lds_ledger_open(path, 0, &ledger, &error), path, &error);
    lds_ledger_close(ledger);
    return good;
}

/* Adds the job to the ledger. The report is already written, and stays whatever happens here. */
static enum exit_status keep(const struct lds_job *job, const char *path, enum exit_status status)
{
    struct lds_error error = {0};
    bool added = false;
    if (status == EXIT_TROUBLE || !path)
        return status;
    if (!say_unless(lds_ledger_add_job(path, job, &added, &error), path, &error))
        return EXIT_TROUBLE;
    if (!added)
        say(path, "this job is in the ledger already, which is unchanged");
    return status;
}

static enum exit_status measure_job(const struct lds_sheet *sheet, const char *folder, const struct settings *settings)
{
    struct lds_job_options run;
    struct lds_job job = {0};
    struct lds_error error = {0};
    struct progress_many progress;
    enum exit_status status = EXIT_TROUBLE;
    lds_job_options_init(&run);
    run.threads = settings->threads;
    bool shown = progress_many_start(&progress, !settings->no_progress, sheet->captures);
    for (size_t i = 0; shown && i < sheet->captures; i++)
        progress_many_name(&progress, i, sheet->capture[i].file ? sheet->capture[i].file : sheet->capture[i].name);
    run.progress = shown ? progress_many_show : NULL;
    run.progress_context = &progress;
    enum lds_status ran = lds_job_run(sheet, &run, &job, &error);
    progress_many_end(&progress);
    if (say_unless(ran, sheet->path, &error))
        status = keep(&job, settings->ledger, finish(&job, folder, settings));
    lds_job_free(&job);
    return status;
}

/* The sheet has no fault; its captures may have. */
static enum exit_status run_sheet(const struct lds_sheet *sheet, const struct settings *settings)
{
    struct lds_error error = {0};
    struct lds_job_checked found;
    enum exit_status status = EXIT_TROUBLE;
    enum lds_status checked = lds_job_check(sheet, &found, &error);
    char *folder = settings->out ? strdup(settings->out) : output_beside(sheet->path, "-report");
    say_all(sheet->path, &found.wrong, checked, &error);
    if (settings->check)
        status = checked != LDS_OK && found.wrong.count == 0 ? EXIT_TROUBLE : print_check(&found);
    else if (checked == LDS_OK && !folder)
        say("memory", "none left for the job; close other programs");
    else if (checked == LDS_OK && say_unless(lds_job_folder_check(folder, &error), folder, &error) &&
             (!settings->ledger || check_ledger(settings->ledger, folder)))
        status = measure_job(sheet, folder, settings);
    lds_job_checked_free(&found);
    free(folder);
    return status;
}

static enum exit_status read_sheet(const char *path, const struct settings *settings)
{
    struct lds_sheet sheet;
    struct lds_remarks wrong;
    struct lds_error error = {0};
    enum exit_status status = EXIT_TROUBLE;
    enum lds_status read = lds_sheet_read(path, &sheet, &wrong, &error);
    if (read == LDS_OK)
        status = run_sheet(&sheet, settings);
    else
        say_all(path, &wrong, read, &error);
    lds_remarks_free(&wrong);
    lds_sheet_free(&sheet);
    return status;
}

static bool check_settings(const struct settings *settings, int operands)
{
    if (settings->new_sheet && (operands > 0 || settings->check || settings->out || settings->ledger))
        return say("--new", "%s found with it; --new FILE alone expected; leave the rest out",
                   operands > 0      ? "a sheet"
                   : settings->check ? "--check"
                   : settings->out   ? "--out"
                                     : "--ledger");
    if (settings->bench ? !settings->from : settings->from && !settings->new_sheet)
        return say(settings->bench ? "--bench" : "--from", "found without %s; --new FILE --from DIR expected; add it",
                   settings->bench ? "--from" : "--new");
    if (!settings->new_sheet && operands != 1)
        return say("job", "%d sheets found; one expected; name it, or make one with --new FILE", operands);
    return true;
}

static enum exit_status run_job(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    if (!check_settings(settings, operands))
        return EXIT_TROUBLE;
    return settings->new_sheet ? make_new(settings) : read_sheet(operand[0], settings);
}

const struct command job_command = {
    .name = "job",
    .operands = "SHEET",
    .summary = "everything on a job sheet, into one report folder",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_job,
};
