/* A damaged ledger is refused, unless the damaged bytes held nothing: it never reads wrong, and is never changed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ledger/jobs.h"

struct whole {
    char *folder, *path, *text;
    unsigned char *bytes;
    long size;
};

static void read_bytes(struct whole *whole)
{
    FILE *in = fopen(whole->path, "rb");
    assert_non_null(in);
    assert_int_equal(fseek(in, 0, SEEK_END), 0);
    whole->size = ftell(in);
    rewind(in);
    whole->bytes = malloc((size_t)whole->size);
    assert_int_equal(fread(whole->bytes, 1, (size_t)whole->size, in), whole->size);
    fclose(in);
}

static int set_up(void **state)
{
    struct whole *whole = calloc(1, sizeof *whole);
    whole->folder = ledger_folder();
    whole->path = path_in(whole->folder, "a.ledger");
    for (int i = 0; i < 6; i++) {
        struct made_job made;
        bool added;
        char serial[8];
        snprintf(serial, sizeof serial, "%04d", i / 2);
        make_job(&made, i < 5 ? serial : NULL, i % 2 ? "2024-06-11" : "2019-03-02", i);
        assert_int_equal(lds_ledger_add_job(whole->path, &made.job, &added, NULL), LDS_OK);
        assert_true(added);
        free_job(&made);
    }
    whole->text = read_all_of(whole->path, NULL);
    assert_non_null(whole->text);
    read_bytes(whole);
    *state = whole;
    return 0;
}

static int tear_down(void **state)
{
    struct whole *whole = *state;
    remove_folder(whole->folder);
    free(whole->path);
    free(whole->text);
    free(whole->bytes);
    free(whole);
    return 0;
}

static void write_bytes(const char *path, const unsigned char *bytes, long size)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, (size_t)size, out), size);
    fclose(out);
}

/* Reads the file, and tries to add what it holds already. true: refused. */
static bool refused_or_right(const struct whole *whole, const char *path, const char *what)
{
    char before[65], after[65];
    struct lds_error error = {0};
    struct made_job made;
    bool added = false;
    file_sum(path, before);
    char *text = read_all_of(path, &error);
    if (text && strcmp(text, whole->text) != 0)
        fail_msg("%s: it reads otherwise", what);
    if (!text && (error.message[0] == '\0' || strchr(error.message, '\n')))
        fail_msg("%s: no message of one line: '%s'", what, error.message);
    make_job(&made, "0000", "2019-03-02", 0.0);
    enum lds_status status = lds_ledger_add_job(path, &made.job, &added, NULL);
    free_job(&made);
    file_sum(path, after);
    if (strcmp(before, after) != 0)
        fail_msg("%s: altered", what);
    if (added || (status == LDS_OK) != (text != NULL))
        fail_msg("%s: added %d, read %d, written %d: %s", what, added, text != NULL, status, error.message);
    bool refused = text == NULL;
    free(text);
    return refused;
}

/* Every byte of the header, then bytes all over the file, each with one bit flipped, all bits flipped, and set to 0. */
static void test_flipped_bytes(void **state)
{
    const struct whole *whole = *state;
    char *path = path_in(whole->folder, "flipped.ledger");
    unsigned char *bytes = malloc((size_t)whole->size);
    int tried = 0, refused = 0;
    for (long at = 0; at < whole->size; at += at < 100 ? 1 : 89) {
        const unsigned char changed[] = {whole->bytes[at] ^ (unsigned char)(1u << at % 8),
                                         (unsigned char)~whole->bytes[at], 0};
        for (int i = 0; i < 3; i++) {
            char what[64];
            memcpy(bytes, whole->bytes, (size_t)whole->size);
            bytes[at] = changed[i];
            write_bytes(path, bytes, whole->size);
            snprintf(what, sizeof what, "byte %ld from %02x to %02x", at, whole->bytes[at], changed[i]);
            refused += refused_or_right(whole, path, what);
            tried++;
        }
    }
    print_message("%d bytes changed in a ledger of %ld, %d refused, the others read right\n", tried, whole->size,
                  refused);
    assert_true(refused > tried / 4); /* the check does not accept everything */
    free(bytes);
    free(path);
}

static void test_cut_short(void **state)
{
    const struct whole *whole = *state;
    char *path = path_in(whole->folder, "cut.ledger");
    for (long size = 1; size < whole->size; size += size < 4096 ? 257 : 1531) {
        char what[64];
        write_bytes(path, whole->bytes, size);
        snprintf(what, sizeof what, "the first %ld bytes", size);
        assert_true(refused_or_right(whole, path, what));
    }
    free(path);
}

/* A page of zeros, like one that never reached the disk. */
static void test_lost_pages(void **state)
{
    const struct whole *whole = *state;
    char *path = path_in(whole->folder, "lost.ledger");
    unsigned char *bytes = malloc((size_t)whole->size);
    for (long at = 0; at < whole->size; at += 4096) {
        char what[64];
        memcpy(bytes, whole->bytes, (size_t)whole->size);
        memset(bytes + at, 0, 4096);
        write_bytes(path, bytes, whole->size);
        snprintf(what, sizeof what, "no page at %ld", at);
        assert_true(refused_or_right(whole, path, what));
    }
    free(bytes);
    free(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flipped_bytes),
        cmocka_unit_test(test_cut_short),
        cmocka_unit_test(test_lost_pages),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
