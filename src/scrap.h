/* A string under construction: printf into out, then take text. Unlike open_memstream of glibc, which loses what it
 * finds no memory for without a word (2.36), a scrap that is not whole says so when it is closed. */
#ifndef LDS_SCRAP_H
#define LDS_SCRAP_H

#include <stdbool.h>
#include <stdio.h>

struct lds_scrap { /* stays where it is while it is open */
    FILE *out;
    char *text;  /* once closed: to be freed, NULL when it is not whole */
    size_t size; /* bytes of text, the 0 at its end apart */
    size_t room;
    bool failed;
};

/* Both note that memory ran out (scarce.h) when they return false. */
bool lds_scrap_open(struct lds_scrap *scrap);
bool lds_scrap_close(struct lds_scrap *scrap);

#endif
