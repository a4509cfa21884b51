/* The report's folder: complete or not at all. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "capture/files.h"
#include "made.h"
#include "report/folder_tree.h"
#include "report/whole_folder.h"
#include "simulate/random.h"

static struct lds_sheet sheet;
static struct lds_job job;
static char root[512]; /* where the folders are made */

static const char *at(const char *name)
{
    static char path[4][1500];
    static int next;
    next = (next + 1) % 4;
    snprintf(path[next], sizeof path[next], "%s/%s", root, name);
    return path[next];
}

static void write_at(const char *name, const char *text)
{
    FILE *out = fopen(at(name), "w");
    assert_non_null(out);
    fputs(text, out);
    assert_int_equal(fclose(out), 0);
}

static bool exists(const char *name)
{
    return access(at(name), F_OK) == 0;
}

static bool says(const char *name, const char *text)
{
    size_t size;
    char *found = made_bytes(at(name), &size);
    bool same = found && strcmp(found, text) == 0;
    free(found);
    return same;
}

/* Entries of the root left by a run. */
static int left_over(void)
{
    int count = 0;
    DIR *stream = opendir(root);
    assert_non_null(stream);
    for (const struct dirent *entry; (entry = readdir(stream)) != NULL;)
        count += strstr(entry->d_name, ".loadside-") != NULL;
    closedir(stream);
    return count;
}

static enum lds_status write_report(struct lds_error *error)
{
    int drawn;
    return lds_job_folder(&job, at("report"), NULL, &drawn, error);
}

static void write_or_fail(void)
{
    struct lds_error error = {0};
    if (write_report(&error))
        fail_msg("%s", error.message);
    assert_int_equal(left_over(), 0);
}

static void it_holds_everything(void **state)
{
    (void)state;
    static const char *const names[] = {"report.txt",
                                        "report.html",
                                        "figures.json",
                                        "figures.csv",
                                        "changes-idle.json",
                                        "changes-sine-10w.json",
                                        ".loadside-files",
                                        "plots/idle/idle-before-channel1-density.gp",
                                        "plots/sine-10w/comparison-channel2-changes.dat"};
    struct lds_file_list list;
    struct lds_error error = {0};
    write_or_fail();
    assert_int_equal(lds_tree_list(at("report"), &list, &error), LDS_OK);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (!lds_file_list_holds(&list, names[i]))
            fail_msg("no %s", names[i]);
    /* The list names every file and nothing else. */
    size_t size, lines = 0;
    char *text = made_bytes(at("report/.loadside-files"), &size);
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"), lines++)
        assert_string_equal(line, list.file[lines]);
    assert_int_equal(lines, list.count);
    free(text);
    lds_file_list_free(&list);
}

static void text_fits_and_is_safe(void **state)
{
    (void)state;
    size_t size;
    char *text = made_bytes(at("report/report.txt"), &size);
    assert_non_null(text);
    assert_non_null(strstr(text, "Thistlecote Sedge 25"));
    assert_non_null(strstr(text, "95 % interval"));
    assert_non_null(strstr(text, "channels driven     not stated"));
    assert_null(strstr(text, "Cautions")); /* they are for whoever measures */
    for (const char *line = text; *line; line += strcspn(line, "\n") + (line[strcspn(line, "\n")] != '\0')) {
        int columns = 0;
        for (const char *c = line; *c && *c != '\n'; c++) {
            assert_true((unsigned char)*c >= 0x20 && *c != 0x7f);
            columns += ((unsigned char)*c & 0xc0) != 0x80;
        }
        if (columns > 80)
            fail_msg("%d columns: %.100s", columns, line);
    }
    free(text);
}

static void hostile_text(void **state)
{
    (void)state;
    char *make = sheet.make, *work = sheet.work, hostile[] = "\x1b[31mred\xc2\x9b\xe2\x80\xae",
         shown[] = "\\x1b[31mred";
    size_t size;
    sheet.make = hostile;
    sheet.work = hostile;
    write_or_fail();
    sheet.make = make;
    sheet.work = work;
    char *text = made_bytes(at("report/report.txt"), &size);
    assert_non_null(strstr(text, shown));
    assert_null(strchr(text, '\x1b'));
    assert_null(strstr(text, "\xc2\x9b"));
    assert_null(strstr(text, "\xe2\x80\xae"));
    free(text);
}

static void own_files_stay(void **state)
{
    (void)state;
    struct lds_error error = {0};
    struct stat before, after;
    write_or_fail();
    write_at("report/letter.txt", "dear client\n");
    write_at("report/plots/mine.svg", "<svg/>\n");
    assert_int_equal(mkdir(at("report/photos"), 0700), 0);
    assert_int_equal(mkdir(at("report/photos/inside"), 0755), 0);
    write_at("report/photos/inside/1.jpg", "a picture\n");
    assert_int_equal(symlink("letter.txt", at("report/link")), 0);
    write_at("report/report.txt", "spoilt\n"); /* on the list, so it is written again */
    assert_int_equal(stat(at("report/letter.txt"), &before), 0);
    write_or_fail();
    assert_true(says("report/letter.txt", "dear client\n") && says("report/plots/mine.svg", "<svg/>\n"));
    assert_true(says("report/photos/inside/1.jpg", "a picture\n") && says("report/link", "dear client\n"));
    assert_false(says("report/report.txt", "spoilt\n"));
    assert_int_equal(stat(at("report/letter.txt"), &after), 0);
    assert_int_equal(before.st_mtime, after.st_mtime);
    assert_int_equal(stat(at("report/photos"), &after), 0);
    assert_int_equal(after.st_mode & 0777, 0700);
    write_or_fail(); /* once more: the user's files must not have got onto the list */
    assert_true(says("report/photos/inside/1.jpg", "a picture\n"));
    /* A file of the user's that has the name of a new one. */
    assert_int_equal(unlink(at("report/changes-idle.json")), 0);
    size_t size;
    char *list = made_bytes(at("report/.loadside-files"), &size), *name = strstr(list, "changes-idle.json\n");
    memmove(name, name + strlen("changes-idle.json\n"), strlen(name + strlen("changes-idle.json\n")) + 1);
    write_at("report/.loadside-files", list);
    free(list);
    write_at("report/changes-idle.json", "mine\n");
    assert_int_equal(write_report(&error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "changes-idle.json: was not made by loadside"));
    assert_true(says("report/changes-idle.json", "mine\n") && says("report/letter.txt", "dear client\n"));
    assert_int_equal(left_over(), 0);
    lds_tree_remove(at("report"));
}

static void places_that_will_not_do(void **state)
{
    (void)state;
    struct lds_error error = {0};
    assert_int_equal(mkdir(at("report"), 0777), 0);
    assert_int_equal(lds_job_folder_check(at("report"), &error), LDS_OK); /* empty */
    write_or_fail();
    lds_tree_remove(at("report"));
    assert_int_equal(mkdir(at("report"), 0777), 0);
    write_at("report/thesis.txt", "years of work\n");
    assert_int_equal(lds_job_folder_check(at("report"), &error), LDS_BAD_USE);
    assert_int_equal(write_report(&error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "holds files and no report of loadside"));
    assert_true(says("report/thesis.txt", "years of work\n"));
    lds_tree_remove(at("report"));
    write_at("report", "a file\n");
    assert_int_equal(lds_job_folder_check(at("report"), &error), LDS_IO);
    assert_int_equal(unlink(at("report")), 0);
    assert_int_equal(lds_job_folder(&job, at("nowhere/report"), NULL, &(int){0}, &error), LDS_IO);
    assert_int_equal(left_over(), 0);
    /* A link to a folder stays one. */
    assert_int_equal(mkdir(at("real"), 0777), 0);
    assert_int_equal(symlink("real", at("report")), 0);
    write_or_fail();
    struct stat info;
    assert_int_equal(lstat(at("report"), &info), 0);
    assert_true(S_ISLNK(info.st_mode));
    assert_int_equal(access(at("real/report.txt"), R_OK), 0);
    assert_int_equal(unlink(at("report")), 0);
    lds_tree_remove(at("real"));
}

/* Whether there is a whole report: every file of its list, and the text to its end. */
static bool is_whole(const char *mark)
{
    size_t size;
    char *list = made_bytes(at("report/.loadside-files"), &size), *text = made_bytes(at("report/report.txt"), &size);
    bool whole = list && text && strstr(text, mark);
    for (char *line = list ? strtok(list, "\n") : NULL; line; line = strtok(NULL, "\n")) {
        char path[900];
        snprintf(path, sizeof path, "report/%s", line);
        whole = whole && access(at(path), R_OK) == 0;
    }
    free(list);
    free(text);
    return whole;
}

/* A child that writes the report, killed after that time; returns whether it had finished before. */
static bool write_and_kill(double seconds)
{
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        int drawn;
        (void)lds_job_folder(&job, at("report"), NULL, &drawn, NULL);
        _exit(0);
    }
    struct timespec wait = {(time_t)seconds, (long)(1e9 * (seconds - (double)(time_t)seconds))};
    nanosleep(&wait, NULL);
    kill(child, SIGKILL);
    int state = 0;
    while (waitpid(child, &state, 0) < 0 && errno == EINTR)
        ;
    /* A grandchild about to become gnuplot holds the lock as long as it lives; setup made this process inherit it. */
    while (waitpid(-1, NULL, 0) > 0 || errno == EINTR)
        ;
    return WIFEXITED(state);
}

/* Killed at many moments of a run, for the first report and for one that replaces another: what is there is the old
 * report, the new one, or none; the user's file is there; the next run removes everything else. */
static void killed_at_any_moment(void **state)
{
    (void)state;
    enum { TRIES = 16 };
    struct timespec begin, end;
    struct sim_random random;
    sim_random_seed(&random, 20260517);
    char *type = sheet.type, old[] = "Old", new[] = "New";
    sheet.type = old;
    clock_gettime(CLOCK_MONOTONIC, &begin);
    write_or_fail();
    clock_gettime(CLOCK_MONOTONIC, &end);
    double whole_s = (double)(end.tv_sec - begin.tv_sec) + 1e-9 * (double)(end.tv_nsec - begin.tv_nsec);
    int finished = 0, olds = 0, news = 0;
    for (int i = 0; i < TRIES; i++) {
        bool first = i % 8 == 0; /* nothing is there yet */
        lds_tree_remove(at("report"));
        if (!first) {
            sheet.type = old;
            write_or_fail();
            write_at("report/letter.txt", "dear client\n");
        }
        sheet.type = new;
        double part = i % 2 ? sim_random_between(&random, 0.0, 1.3) : sim_random_between(&random, 0.9, 1.15);
        finished += write_and_kill(whole_s * part);
        struct stat info;
        bool stands = stat(at("report"), &info) == 0;
        if (!(is_whole("Thistlecote New") || (!first && is_whole("Thistlecote Old")) || (first && !stands)))
            fail_msg("half a report after part %g of the time", part);
        if (!first && !says("report/letter.txt", "dear client\n"))
            fail_msg("the user's file is gone after part %g of the time", part);
        olds += is_whole("Thistlecote Old");
        news += is_whole("Thistlecote New");
    }
    print_message("of %d runs %d had ended; %d left the old report, %d the new one\n", TRIES, finished, olds, news);
    assert_true(finished < TRIES && olds > 0);
    sheet.type = new;
    write_or_fail(); /* this run removes whatever the killed ones left */
    sheet.type = type;
    lds_tree_remove(at("report"));
}

/* A run that is still alive is not cleared away by another. */
static void a_live_run_stays(void **state)
{
    (void)state;
    struct lds_whole_folder folder;
    struct lds_error error = {0};
    assert_int_equal(lds_whole_folder_open(&folder, at("report"), &error), LDS_OK);
    assert_int_equal(left_over(), 1);
    int drawn;
    assert_int_equal(lds_job_folder(&job, at("report"), NULL, &drawn, &error), LDS_OK);
    assert_int_equal(left_over(), 1);
    assert_int_equal(access(folder.temporary, R_OK), 0);
    lds_whole_folder_abandon(&folder);
    assert_int_equal(left_over(), 0);
}

/* An older report that was moved aside, where folders cannot be exchanged, comes back. */
static void put_aside(void **state)
{
    (void)state;
    char aside[900];
    write_or_fail();
    snprintf(aside, sizeof aside, "%s", at(".report.loadside-1-0.old"));
    write_at("report/letter.txt", "dear client\n");
    assert_int_equal(rename(at("report"), aside), 0);
    write_or_fail();
    assert_true(says("report/letter.txt", "dear client\n"));
}

/* Acts as a full disk: files may only grow to a limited size, for many sizes. */
static void no_room(void **state)
{
    (void)state;
    size_t size;
    char *before = made_bytes(at("report/report.txt"), &size);
    assert_non_null(before);
    for (rlim_t most = 1; most < 200000; most *= 3) {
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            struct rlimit limit = {most, most};
            struct lds_error error = {0};
            int drawn;
            signal(SIGXFSZ, SIG_IGN);
            setrlimit(RLIMIT_FSIZE, &limit);
            enum lds_status status = lds_job_folder(&job, at("report"), NULL, &drawn, &error);
            _exit(status == LDS_IO && strstr(error.message, "File too large") ? 3 : status == LDS_OK ? 0 : 4);
        }
        int ended = 0;
        assert_int_equal(waitpid(child, &ended, 0), child);
        assert_true(WIFEXITED(ended) && (WEXITSTATUS(ended) == 3 || (WEXITSTATUS(ended) == 0 && most > 10000)));
        assert_true(is_whole("Thistlecote"));
        assert_true(says("report/report.txt", before));
        assert_int_equal(left_over(), 0);
    }
    free(before);
}

static void compare_trees(const char *one, const char *other)
{
    struct lds_file_list list, more;
    struct lds_error error = {0};
    assert_int_equal(lds_tree_list(at(one), &list, &error), LDS_OK);
    assert_int_equal(lds_tree_list(at(other), &more, &error), LDS_OK);
    assert_int_equal(list.count, more.count);
    for (size_t i = 0; i < list.count; i++) {
        char path[900];
        size_t a, b;
        assert_string_equal(list.file[i], more.file[i]);
        snprintf(path, sizeof path, "%s/%s", one, list.file[i]);
        char *first = made_bytes(at(path), &a);
        snprintf(path, sizeof path, "%s/%s", other, list.file[i]);
        char *second = made_bytes(at(path), &b);
        if (a != b || memcmp(first, second, a) != 0)
            fail_msg("%s differs", list.file[i]);
        free(first);
        free(second);
    }
    lds_file_list_free(&list);
    lds_file_list_free(&more);
}

/* Pictures too. */
static void same_bytes(void **state)
{
    char *path = *state;
    struct lds_sheet small;
    struct lds_job again;
    struct lds_error error = {0};
    int drawn = 0, later = 0;
    made_capture("x1.wav", 31, 48000, 1, 0.5, 1e-4, 0.0);
    made_capture("x2.wav", 32, 48000, 1, 0.5, 3e-5, 0.0);
    made_read(&small, "[capture a]\nfile = x1.wav\nrole = idle\nside = before\n"
                      "[capture b]\nfile = x2.wav\nrole = idle\nside = after\n");
    setenv("PATH", path, 1);
    made_run(&small, 1, &again);
    assert_int_equal(lds_job_folder(&again, at("one"), &(struct lds_folder_options){.threads = 1}, &drawn, &error),
                     LDS_OK);
    lds_job_free(&again);
    made_run(&small, 2, &again);
    sleep(1); /* so that a date in a file would differ */
    assert_int_equal(lds_job_folder(&again, at("two"), &(struct lds_folder_options){.threads = 3}, &later, &error),
                     LDS_OK);
    compare_trees("one", "two");
    assert_int_equal(drawn, later);
    assert_int_equal(exists("two/plots/idle/comparison-channel1-spectra.svg"), drawn);
    assert_false(exists("two/plots/idle/comparison-channel1-spectra.png"));
    assert_false(exists("two/plots/idle/x1-channel1-spectrum.svg"));
    assert_int_equal(lds_job_folder(&again, at("all"), &(struct lds_folder_options){.all_plots = true}, &later, &error),
                     LDS_OK);
    assert_int_equal(exists("all/plots/idle/comparison-channel1-spectra.png"), drawn);
    assert_int_equal(exists("all/plots/idle/x1-channel1-spectrum.svg"), drawn);
    lds_job_free(&again);
    lds_sheet_free(&small);
    setenv("PATH", "/nowhere", 1);
    if (!drawn)
        print_message("no gnuplot: pictures were not compared\n");
}

/* Only same_bytes needs gnuplot, which takes its time. */
static int setup(void **state)
{
    if (files_setup(state) || prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0) != 0)
        return 1;
    *state = strdup(getenv("PATH") ? getenv("PATH") : "");
    setenv("PATH", "/nowhere", 1);
    snprintf(root, sizeof root, "%s", files_path("folders"));
    if (mkdir(root, 0777) != 0)
        return 1;
    made_captures();
    made_read(&sheet, made_sheet);
    made_run(&sheet, 2, &job);
    return 0;
}

static int teardown(void **state)
{
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    lds_tree_remove(root);
    free(*state);
    return files_teardown(state);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_holds_everything),
        cmocka_unit_test(text_fits_and_is_safe),
        cmocka_unit_test(hostile_text),
        cmocka_unit_test(own_files_stay),
        cmocka_unit_test(places_that_will_not_do),
        cmocka_unit_test(killed_at_any_moment),
        cmocka_unit_test(a_live_run_stays),
        cmocka_unit_test(put_aside),
        cmocka_unit_test(no_room),
        cmocka_unit_test(same_bytes),
    };
    return cmocka_run_group_tests_name("folder", tests, setup, teardown);
}
