#include "job/path_between.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scrap.h"

/* The real path of the folder in which a file is, or is to be. */
static char *folder_of(const char *file)
{
    const char *slash = strrchr(file, '/');
    char *folder = slash == file ? strdup("/") : slash ? strndup(file, (size_t)(slash - file)) : strdup(".");
    char *real = folder ? realpath(folder, NULL) : NULL;
    free(folder);
    return real;
}

/* How much of both is the same, up to the end of a folder's name. */
static size_t common(const char *a, const char *b)
{
    size_t same = 0;
    for (size_t i = 0;; i++) {
        bool end_a = a[i] == '/' || !a[i], end_b = b[i] == '/' || !b[i];
        if (end_a && end_b)
            same = i;
        if (a[i] != b[i] || !a[i])
            return same;
    }
}

char *lds_path_between(const char *file, const char *folder)
{
    char *from = folder_of(file), *to = realpath(folder, NULL);
    struct lds_scrap between = {0};
    if (from && to && lds_scrap_open(&between)) {
        size_t same = common(from, to);
        for (const char *at = from + same; same > 0 && *at; at++)
            fputs(*at == '/' ? "../" : "", between.out);
        const char *rest = same > 0 ? to + same + (to[same] == '/') : to;
        bool ended = !*rest || strcmp(rest, "/") == 0;
        fprintf(between.out, "%s%s", rest, ended ? "" : "/");
        (void)lds_scrap_close(&between);
    }
    free(from);
    free(to);
    return between.text;
}
