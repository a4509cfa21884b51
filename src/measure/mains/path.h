/* First estimates of the comb's phase, to start the tracking from. */
#ifndef LDS_MEASURE_MAINS_PATH_H
#define LDS_MEASURE_MAINS_PATH_H

#include "measure/mains/segment.h"

struct lds_mains_path {
    int orders; /* those that steer the tracking */
    int order[LDS_MAINS_ORDERS];
    double noise[LDS_MAINS_ORDERS + 1]; /* mean |z|^2 of the noise at one point, per order */
};

/* A wandering frequency, from frames hop_s apart. false: no memory. */
bool lds_mains_path_find(const struct lds_mains_path *path, const struct lds_mains_bands *bands, double hop_s,
                         double *phase);
/* The best constant frequency within reach_hz: for short segments, and hum too weak to be followed. */
void lds_mains_path_constant(const struct lds_mains_path *path, const struct lds_mains_bands *bands, double reach_hz,
                             double *phase);

#endif
