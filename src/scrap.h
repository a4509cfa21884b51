/* A string under construction: print to out, then take text. glibc's open_memstream (2.36) silently drops what it finds
 * no memory for; closing a scrap reports that it is incomplete. */
#ifndef LDS_SCRAP_H
#define LDS_SCRAP_H

#include <stdbool.h>
#include <stdio.h>

struct lds_scrap { /* must not be moved while it is open */
    FILE *out;
    char *text;  /* once closed: to be freed; NULL when incomplete */
    size_t size; /* bytes of text, without the 0 at its end */
    size_t room;
    bool failed;
};

/* Both note that memory ran out (scarce.h) when they return false. */
bool lds_scrap_open(struct lds_scrap *scrap);
bool lds_scrap_close(struct lds_scrap *scrap);

#endif
