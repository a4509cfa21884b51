/* Saved measurements of the capture chain alone that benches name (`chain`). */
#ifndef LDS_JOB_SAVED_CHAINS_H
#define LDS_JOB_SAVED_CHAINS_H

#include <stdbool.h>

#include "job/remarks.h"

struct lds_saved_chain {
    const char *path; /* of the sheet's bench */
    struct lds_measurement *measurement;
    size_t count;
};

struct lds_saved_chains {
    struct lds_saved_chain *chain;
    size_t count;
};

/* Reads each once; one that cannot be read is a fault of the first capture that has the bench. false: no memory. Free
 * the chains in either case. */
bool lds_saved_chains_read(const struct lds_sheet *sheet, struct lds_saved_chains *chains, struct lds_faults *faults);
void lds_saved_chains_free(struct lds_saved_chains *chains);

/* The chain that a bench names; NULL: it names none. */
const struct lds_saved_chain *lds_saved_chain_of(const struct lds_saved_chains *chains, const struct lds_bench *bench);

#endif
