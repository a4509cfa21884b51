/* A look at a short stretch before the pass: whether there is a tone, and where. */
#ifndef LDS_MEASURE_SIGNAL_SCOUT_H
#define LDS_MEASURE_SIGNAL_SCOUT_H

#include <stdbool.h>
#include <stddef.h>

struct lds_scout {
    double tone_hz;   /* NAN: there is none */
    double level;     /* rms of that tone, of samples */
    double second_hz; /* of a second tone; NAN: there is none */
    int tones;        /* strong ones that do not derive from each other */
    bool hum;         /* the strongest line was taken for hum */
    double mains_hz;  /* of that hum; else 0 */
    int hum_order;    /* > 0: the tone may as well be hum of this mains order */
    char why[192];    /* why there is none, for the absent figures */
};

struct lds_scout_request {
    double rate_hz;        /* after decimation to the audio level */
    bool in_volts;         /* 1.0 is not full scale */
    double volts_per_unit; /* at the load; NAN: not calibrated */
    double given_hz;       /* NAN: search; 0: there is no tone; else the tone is searched within one lobe of it */
};

/* Looks at n samples. false: no memory. */
bool lds_scout_look(const double *x, size_t n, const struct lds_scout_request *request, struct lds_scout *scout);

/* The lowest tone that a look at n samples can find. */
double lds_scout_lowest_hz(size_t n, double rate_hz);

#endif
