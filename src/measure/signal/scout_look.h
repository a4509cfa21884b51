/* What the parts of the look share: the spectrum of a short stretch. Powers are mean squares. */
#ifndef LDS_MEASURE_SIGNAL_SCOUT_LOOK_H
#define LDS_MEASURE_SIGNAL_SCOUT_LOOK_H

#include "measure/signal/scout.h"

enum { LDS_SCOUT_LOBE = 7, LDS_SCOUT_LOWEST = 8 }; /* bins */

struct lds_stretch {
    const struct lds_scout_request *request;
    size_t n, bins;
    double bin_hz;
    double *whole; /* as it was before lines were removed */
    double *power; /* for a line, the sum over its lobe divided by the window's noise bandwidth */
    double total;  /* of everything but DC */
};

struct lds_scout_line {
    size_t bin;
    double frequency_hz;
    double power;
};

/* Spectrum of n samples. false: no memory. Free *look with lds_scout_stretch_free. */
bool lds_scout_transform(const double *x, size_t n, const struct lds_scout_request *request, struct lds_stretch *look);
void lds_scout_stretch_free(struct lds_stretch *look);
/* The strongest line with its peak in bins [low, high]. false: there is none. */
bool lds_scout_strongest(const struct lds_stretch *look, size_t low, size_t high, struct lds_scout_line *line);
/* The line within one bin of a frequency, removed or not, and the power that noise alone would have there. Both are 0
 * beyond the ends. */
void lds_scout_at(const struct lds_stretch *look, double frequency_hz, struct lds_scout_line *line, double *noise);
/* Removes a line from the spectrum. */
void lds_scout_remove(struct lds_stretch *look, const struct lds_scout_line *line);
/* Whether it stands out of its surroundings as a line does and 1/f noise does not. */
bool lds_scout_is_line(const struct lds_stretch *look, const struct lds_scout_line *line);
/* Level of a line as a sine, relative to full scale. */
double lds_scout_dbfs(double power);
/* Whether a level is at least this much: in volts at the load if known, else relative to full scale. */
bool lds_scout_reaches(const struct lds_stretch *look, double power, double volts, double dbfs);

/* What a line at a mains order is. */
enum lds_hum_verdict { LDS_HUM_NOT, LDS_HUM_MAYBE, LDS_HUM_SURE };
enum lds_hum_verdict lds_hum_judge(const struct lds_stretch *look, const struct lds_scout_line *line, int *order);
/* Whether a line is one of the orders of a comb, and not stronger than its neighbours suggest. */
bool lds_hum_belongs(const struct lds_stretch *look, const struct lds_scout_line *line, double mains_hz);

/* Looks for tones besides the first: fills scout->second_hz and tones. mains_hz: of a comb that was found, or 0. */
void lds_scout_second(struct lds_stretch *look, const struct lds_scout_line *first, double mains_hz,
                      struct lds_scout *scout);

#endif
