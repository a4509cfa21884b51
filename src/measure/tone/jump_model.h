/* The model of a stretch of a tone with jumps of its phase, fitted by least squares: the tone throughout (its amplitude
 * and phase bend as a parabola), its harmonics, hum and an offset; and for each jump, from there on, another tone with
 * harmonics. */
#ifndef LDS_MEASURE_TONE_JUMP_MODEL_H
#define LDS_MEASURE_TONE_JUMP_MODEL_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "measure/tone/jump_fit.h"

enum {
    LDS_JUMP_BENDS = 3,
    LDS_JUMP_HARMONICS = 5, /* orders 2 to this */
    LDS_JUMP_HUM = 3,
    LDS_JUMP_WAVES = 6, /* of orders 1 to 3, whose phase a jump changes: cosine and sine each */
    LDS_JUMP_BASE = 2 + 2 * LDS_JUMP_BENDS + 2 * (LDS_JUMP_HARMONICS - 1) + 2 * LDS_JUMP_HUM,
    LDS_JUMP_COLUMNS = LDS_JUMP_BASE + LDS_JUMP_FITS * LDS_JUMP_WAVES,
    /* a row holds one sample of each column of the base, of the residual and of the stretch */
    LDS_JUMP_RESIDUAL = LDS_JUMP_BASE,
    LDS_JUMP_SAMPLE,
    LDS_JUMP_WIDTH
};

/* Sums, from some sample to the end of the stretch, of each wave times each member of the row. A jump's columns are
 * waves that begin at its sample, so these are their products too. */
struct lds_jump_sums {
    double of[LDS_JUMP_WAVES][LDS_JUMP_WIDTH];
};

struct lds_jump_model {
    const struct lds_stretch *stretch;
    size_t n, base, columns;
    double (*row)[LDS_JUMP_WIDTH];
    struct lds_jump_sums *every;                       /* the sums from every 64th sample on */
    size_t waves, wave[LDS_JUMP_WAVES];                /* the column of each; the first two are the tone */
    double gram[LDS_JUMP_COLUMNS][LDS_JUMP_COLUMNS];   /* products of the jumps' columns, less the base's part */
    double square[LDS_JUMP_COLUMNS];                   /* of each column with itself */
    double factor[LDS_JUMP_COLUMNS][LDS_JUMP_COLUMNS]; /* upper triangle */
    double product[LDS_JUMP_COLUMNS], weight[LDS_JUMP_COLUMNS];
    double variance; /* of the residual */
    double tone_hz;
    size_t jumps, at[LDS_JUMP_FITS];
    struct lds_jump_sums from[LDS_JUMP_FITS]; /* of each jump's sample */
    int orders;
};

/* false: no memory. Free with lds_jump_model_free. */
bool lds_jump_model_make(struct lds_jump_model *m, const struct lds_stretch *stretch);
void lds_jump_model_free(struct lds_jump_model *m);
/* Begins with the tone at another frequency; the jumps stay where they are. */
void lds_jump_model_retune(struct lds_jump_model *m, double tone_hz);

void lds_jump_model_append(struct lds_jump_model *m, size_t place);
void lds_jump_model_remove(struct lds_jump_model *m, size_t jump);
/* Weights, residual and variance with the jumps as they are now. */
void lds_jump_model_solve(struct lds_jump_model *m);

/* The place from `first` to `last` where one more jump of the tone explains the most; *most: by how much the sum of
 * squares falls. Only every grid-th sample is tried, counted from the last. The model must be solved. */
size_t lds_jump_model_best(const struct lds_jump_model *m, size_t first, size_t last, size_t grid, double *most);

/* The complex amplitude that a jump adds to the tone. */
double complex lds_jump_model_turn(const struct lds_jump_model *m, size_t jump);
/* The variance of that amplitude's real part. */
double lds_jump_model_variance(const struct lds_jump_model *m, size_t jump);
/* Power of the residual about the tone; *noise: what white noise would give. Hum beside the tone, or a tone that moves
 * in a way the model does not follow, makes it larger. */
double lds_jump_model_about_tone(const struct lds_jump_model *m, double *noise);

#endif
