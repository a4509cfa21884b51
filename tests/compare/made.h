/* Measurements made by hand, with known figures. */
#ifndef MADE_H
#define MADE_H

#include "loadside/compare.h"
#include "loadside/series.h"

/* A capture with that many channels: calibrated, 10 s, 48 kHz, no figures yet. Free it with lds_measurement_free. */
void made_capture(struct lds_measurement *m, const char *file, size_t channels);

/* Appends a figure to channel 1 (or the channel given): 95 % limits at +-1.96 u. */
struct lds_figure *made_figure(struct lds_measurement *m, const char *key, double value, double u);
struct lds_figure *made_in(struct lds_measurement *m, size_t channel, const char *key, double value, double u);

/* Below the floor: only an upper limit. */
struct lds_figure *made_below(struct lds_measurement *m, const char *key, double high);

/* An idle amplifier's noise and hum, all within 0.01 dB of the same values plus noise_db and hum_db. */
void made_idle(struct lds_measurement *m, const char *file, double noise_db, double hum_db);

/* A driven one: 1 kHz, 8 V, THD -90 dB plus thd_db. */
void made_driven(struct lds_measurement *m, const char *file, double level_db, double thd_db);

/* Rows of channel 1: a harmonic or mains order (relative_db: of harmonics alone), a spur, a band of the floor. */
void made_line(struct lds_measurement *m, const char *key, int order, double frequency_hz, struct lds_cell level,
               double relative_db);
/* One of two tones or their products, by its name. */
void made_product(struct lds_measurement *m, const char *name, int order, double frequency_hz, struct lds_cell level);
void made_spur(struct lds_measurement *m, double frequency_hz, double level, double margin_db, const char *origin);
void made_band(struct lds_measurement *m, double low_hz, double high_hz, double level, double dof);

/* That series of channel 1, added when it is not there. */
struct lds_series *made_series(struct lds_measurement *m, const char *key);

const struct lds_change *made_find(const struct lds_comparison *comparison, const char *key);
const char *made_why_not(const struct lds_comparison *comparison, const char *key);

#endif
