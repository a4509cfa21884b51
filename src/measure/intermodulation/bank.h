/* Two tones and their products. In each frame of the audio level they are demodulated with the phases of both tones,
 * then averaged over the capture, as harmonics are with the phase of one tone. */
#ifndef LDS_MEASURE_INTERMODULATION_BANK_H
#define LDS_MEASURE_INTERMODULATION_BANK_H

#include "measure/intermodulation/products.h"
#include "measure/tone/frame_line.h"

/* Frames a quarter apart: those this far from each other have no sample in common. */
enum { LDS_PRODUCT_APART = 4, LDS_PRODUCT_FRAMES = 2 * LDS_PRODUCT_APART + 1 };

struct lds_product_frame {
    double level[2], hz[2];
    double complex product[LDS_PRODUCTS_MAX];
};

struct lds_product_bank {
    struct lds_frame_lines lines;
    struct lds_frame_tone tone[2]; /* the lower first */
    int frames;
    struct lds_product_frame frame[LDS_PRODUCT_FRAMES]; /* the latest ones, frame i at index i modulo their number */
    int used;                                           /* frames in which both tones are steady */
    struct lds_product_frame sum;                       /* over these; after the end their mean */
    double scatter[LDS_PRODUCTS_MAX]; /* sums of the products' squares; after the end the variance of one frame */
    size_t products;
    struct lds_product product[LDS_PRODUCTS_MAX];
};

/* tone_hz: approximate, the lower first. */
void lds_product_bank_init(struct lds_product_bank *bank, const struct lds_plan_level *level, const double tone_hz[2]);
void lds_product_bank_frame(struct lds_product_bank *bank, const struct lds_frame *frame);
/* Ends the capture: means in `sum`. */
void lds_product_bank_finish(struct lds_product_bank *bank);

#endif
