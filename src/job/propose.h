/* A sheet proposed from the captures in a folder. */
#ifndef LDS_JOB_PROPOSE_H
#define LDS_JOB_PROPOSE_H

#include <stdio.h>

#include "job/look.h"

enum { LDS_WHY = 140 }; /* a line of a sheet has at most 198 characters */

struct lds_proposed {
    char *file;     /* in the folder */
    char name[120]; /* of its section */
    struct lds_look look;
    const struct lds_role *role;
    char holds[LDS_WHY]; /* "a tone of 1 kHz"; what its role says */
    bool named_chain;
    enum lds_when when;
    char why_when[LDS_WHY];
    double tone_hz;    /* of a sine; NAN: none */
    double nominal_hz; /* the frequency to state; NAN: none, as another tone is close */
    double power_w;    /* of the strongest channel; NAN: not known */
    double nominal_w;
    int power_channel;
    int driven; /* 0: the sheet need not state it */
    int repeat;
    const struct lds_proposed *repeats; /* the first one of its kind; NULL: itself */
};

struct lds_proposal {
    const char *path, *folder;
    char *beside; /* path from the sheet's folder to this one: "", or with a slash at its end */
    char *bench_file;
    struct lds_bench bench;
    size_t benches; /* in the folder */
    char bench_names[LDS_WHY];
    size_t count;
    struct lds_proposed *one;
    struct lds_remarks *said;
};

/* Looks at one capture of the folder; LDS_IO or LDS_BAD_INPUT: it is none. */
enum lds_status lds_propose_look(const struct lds_proposal *proposal, struct lds_proposed *one,
                                 struct lds_error *error);

/* Writes the proposal; its context is the proposal. */
void lds_propose_write(FILE *out, const void *context);

#endif
