#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "report/sample.h"
#include "whole_file.h"

static char *in(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    return path;
}

static int entries(const char *folder)
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    int count = 0;
    for (struct dirent *entry; (entry = readdir(dir));)
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(dir);
    return count;
}

static void test_appears_whole(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = in(folder, "a.json");
    struct lds_error error = {0};
    struct lds_whole_file file;
    assert_int_equal(lds_whole_file_open(&file, path, &error), LDS_OK);
    fputs("new", file.out);
    fflush(file.out);
    assert_int_equal(access(path, F_OK), -1); /* it is not there before it is complete */
    assert_int_equal(lds_whole_file_commit(&file, &error), LDS_OK);
    char *text = read_all(path);
    assert_string_equal(text, "new");
    assert_int_equal(entries(folder), 1);
    free(text);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
}

static void test_abandoned_leaves_the_old(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = in(folder, "a.json"), *link = in(folder, "link");
    FILE *old = fopen(path, "w");
    fputs("old", old);
    fclose(old);
    assert_int_equal(chmod(path, 0640), 0);
    assert_int_equal(symlink("a.json", link), 0);
    struct lds_whole_file file;
    assert_int_equal(lds_whole_file_open(&file, link, NULL), LDS_OK);
    fputs("half", file.out);
    lds_whole_file_abandon(&file);
    char *text = read_all(path);
    assert_string_equal(text, "old");
    free(text);
    assert_int_equal(entries(folder), 2);

    /* Through a link the file is replaced, not the link; its mode stays. */
    assert_int_equal(lds_whole_file_open(&file, link, NULL), LDS_OK);
    fputs("new", file.out);
    assert_int_equal(lds_whole_file_commit(&file, NULL), LDS_OK);
    struct stat info;
    assert_int_equal(lstat(link, &info), 0);
    assert_true(S_ISLNK(info.st_mode));
    assert_int_equal(stat(path, &info), 0);
    assert_int_equal(info.st_mode & 0777, 0640);
    text = read_all(path);
    assert_string_equal(text, "new");
    free(text);
    unlink(link);
    unlink(path);
    rmdir(folder);
    free(link);
    free(path);
    free(folder);
}

/* /dev/full takes no byte: both a small file, which fails at the flush, and one larger than every buffer give errors
 * with the reason, and the device is still there. */
static void test_full_disk(void **state)
{
    (void)state;
    for (size_t bytes = 1; bytes <= 1000000; bytes *= 1000) {
        struct lds_error error = {0};
        struct lds_whole_file file;
        assert_int_equal(lds_whole_file_open(&file, "/dev/full", &error), LDS_OK);
        for (size_t i = 0; i < bytes; i++)
            fputc('x', file.out);
        assert_int_equal(lds_whole_file_commit(&file, &error), LDS_IO);
        assert_non_null(strstr(error.message, "/dev/full"));
        assert_non_null(strstr(error.message, "No space left"));
        struct stat info;
        assert_int_equal(stat("/dev/full", &info), 0);
        assert_true(S_ISCHR(info.st_mode));
    }
}

static void test_no_such_folder(void **state)
{
    (void)state;
    struct lds_error error = {0};
    struct lds_whole_file file;
    assert_int_equal(lds_whole_file_open(&file, "/no/such/folder/a.json", &error), LDS_IO);
    assert_non_null(strstr(error.message, "/no/such/folder/a.json"));
    assert_int_equal(lds_whole_file_open(&file, "/", &error), LDS_IO);
    assert_int_equal(lds_whole_file_open(&file, "", &error), LDS_IO);
}

/* root may write anywhere, so the test becomes another user for the attempt (65534: nobody). */
static void test_unwritable_folder(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = in(folder, "a.json");
    assert_int_equal(chmod(folder, 0555), 0);
    bool root = geteuid() == 0;
    if (root)
        assert_int_equal(seteuid(65534), 0);
    struct lds_whole_file file;
    struct lds_error error = {0};
    enum lds_status status = lds_whole_file_open(&file, path, &error);
    if (root)
        assert_int_equal(seteuid(0), 0);
    assert_int_equal(status, LDS_IO);
    assert_non_null(strstr(error.message, "Permission denied"));
    assert_int_equal(chmod(folder, 0700), 0);
    assert_int_equal(entries(folder), 0);
    rmdir(folder);
    free(path);
    free(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_appears_whole),     cmocka_unit_test(test_abandoned_leaves_the_old),
        cmocka_unit_test(test_full_disk),         cmocka_unit_test(test_no_such_folder),
        cmocka_unit_test(test_unwritable_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
