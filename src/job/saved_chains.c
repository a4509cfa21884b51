#include "job/saved_chains.h"

#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "loadside/saved.h"

const struct lds_saved_chain *lds_saved_chain_of(const struct lds_saved_chains *chains, const struct lds_bench *bench)
{
    for (size_t i = 0; bench->chain && i < chains->count; i++)
        if (strcmp(chains->chain[i].path, bench->chain) == 0)
            return &chains->chain[i];
    return NULL;
}

bool lds_saved_chains_read(const struct lds_sheet *sheet, struct lds_saved_chains *chains, struct lds_faults *faults)
{
    *chains = (struct lds_saved_chains){0};
    for (size_t i = 0; i < sheet->captures; i++) {
        const struct lds_sheet_capture *capture = &sheet->capture[i];
        struct lds_error error = {0};
        if (capture->role->chain || !capture->bench.chain || lds_saved_chain_of(chains, &capture->bench))
            continue;
        struct lds_saved_chain *chain = lds_grow(&chains->chain, &chains->count, sizeof *chain);
        if (!chain)
            return false;
        chain->path = capture->bench.chain;
        const enum lds_status status = lds_saved_read(chain->path, &chain->measurement, &chain->count, &error);
        if (status == LDS_NO_MEMORY)
            return false;
        if (status)
            lds_fault(faults, capture->line, "chain of the bench: %s", error.message);
    }
    return true;
}

void lds_saved_chains_free(struct lds_saved_chains *chains)
{
    for (size_t i = 0; i < chains->count; i++) {
        for (size_t k = 0; k < chains->chain[i].count; k++)
            lds_measurement_free(&chains->chain[i].measurement[k]);
        free(chains->chain[i].measurement);
    }
    free(chains->chain);
    *chains = (struct lds_saved_chains){0};
}
