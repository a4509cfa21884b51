/* Tables of the documents, for tests that compare them with those of the program. */
#ifndef TESTS_DOCUMENTED_H
#define TESTS_DOCUMENTED_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The document of that name; to be closed. */
static inline FILE *documented_open(const char *name)
{
    char path[512];
    assert_non_null(getenv("DOCS"));
    snprintf(path, sizeof path, "%s/%s", getenv("DOCS"), name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    return file;
}

/* The n-th cell of a row, without the marks of code. */
static inline void documented_cell(const char *row, int n, char *text, size_t size)
{
    for (int i = 0; i <= n; i++) {
        row = strchr(row, '|');
        assert_non_null(row);
        row++;
    }
    size_t used = 0;
    for (row += strspn(row, " "); *row && *row != '|' && *row != '\n' && used + 1 < size; row++)
        if (*row != '`')
            text[used++] = *row;
    while (used > 0 && text[used - 1] == ' ')
        used--;
    text[used] = '\0';
}

static inline void documented_as(const char *row, int n, const char *wanted)
{
    char text[512];
    documented_cell(row, n, text, sizeof text);
    assert_string_equal(text, wanted);
}

#endif
