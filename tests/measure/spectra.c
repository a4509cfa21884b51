#include "measure/spectra.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "spectrum/cascade.h"
#include "spectrum/window.h"

static void need(const void *memory)
{
    if (memory)
        return;
    fputs("tests: out of memory\n", stderr);
    exit(1);
}

void spectrum_of(const double *x, size_t n, double rate_hz, struct lds_density *density)
{
    struct lds_plan plan;
    struct lds_listener nobody = {0};
    if (!lds_plan_make(&plan, rate_hz, (int64_t)n, 0.0, 0.0))
        need(NULL);
    struct lds_cascade *cascade = lds_cascade_new(&plan, &nobody);
    need(cascade);
    for (size_t at = 0; at < n; at += LDS_CHUNK)
        lds_cascade_push(cascade, x + at, n - at < LDS_CHUNK ? n - at : LDS_CHUNK);
    lds_cascade_finish(cascade, density);
    lds_cascade_free(cascade);
    lds_plan_free(&plan);
}

void spectrum_made(double (*density)(double frequency_hz), double bin_dof, double band_dof, struct lds_density *made)
{
    static const struct {
        double rate_hz;
        int n, first, last;
    } level[2] = {{6000.0, 6000, 0, 2000}, {48000.0, 12000, 500, 5400}};
    memset(made, 0, sizeof *made);
    made->seconds = 100.0;
    made->end_hz = 21600.0;
    made->levels = 2;
    lds_store_init(&made->store, 2 * (LDS_BLOCKS + 1) * lds_store_room(6001 * sizeof(double)));
    for (int i = 0; i < 2; i++) {
        struct lds_level *l = &made->level[i];
        *l = (struct lds_level){.rate_hz = level[i].rate_hz,
                                .n = level[i].n,
                                .hop = level[i].n / 4,
                                .bin_hz = level[i].rate_hz / level[i].n,
                                .first = level[i].first,
                                .last = level[i].last,
                                .frames = 100,
                                .bin_dof = bin_dof,
                                .band_dof = band_dof};
        l->enbw_bins = lds_window_enbw(&lds_window_analysis);
        size_t bins = (size_t)l->n / 2 + 1;
        l->power = lds_store_take(&made->store, bins * sizeof(double));
        need(l->power);
        for (size_t k = 0; k < bins; k++)
            l->power[k] = density((double)k * l->bin_hz);
        for (int b = 0; b < LDS_BLOCKS; b++) {
            l->block[b] = lds_store_take(&made->store, bins * sizeof(double));
            need(l->block[b]);
            memcpy(l->block[b], l->power, bins * sizeof(double));
            l->block_frames[b] = 12;
        }
    }
}
