#include "measure/intermodulation/bank.h"

#include <math.h>

/* Between frames that share samples a steady tone's level changes by less than this factor. */
static const double STEADY = 2.0;

void lds_product_bank_init(struct lds_product_bank *bank, const struct lds_plan_level *level, const double tone_hz[2])
{
    *bank = (struct lds_product_bank){.tone = {{.tone_hz = tone_hz[0]}, {.tone_hz = tone_hz[1]}}};
    lds_frame_lines_init(&bank->lines, level);
    bank->products = lds_products_list(tone_hz, LDS_PRODUCT_ORDERS, false, bank->product);
}

static const struct lds_product_frame *frame_of(const struct lds_product_bank *bank, int i)
{
    return &bank->frame[i % LDS_PRODUCT_FRAMES];
}

/* A tone that begins or ends within a frame spreads over the whole spectrum, even where the window attenuates the edge.
 * It shows in the frames beside that one: one of them has hardly any of the tone. */
static bool is_steady(const struct lds_product_bank *bank, int i)
{
    const double *own = frame_of(bank, i)->level;
    for (int k = i - LDS_PRODUCT_APART; k <= i + LDS_PRODUCT_APART; k++) {
        if (k < 0 || k >= bank->frames)
            continue;
        for (int t = 0; t < 2; t++) {
            double level = frame_of(bank, k)->level[t];
            if (!(level > own[t] / STEADY) || !(level < own[t] * STEADY))
                return false;
        }
    }
    return true;
}

static void use(struct lds_product_bank *bank, int i)
{
    const struct lds_product_frame *frame = frame_of(bank, i);
    if (i < 0 || !is_steady(bank, i))
        return;
    for (int t = 0; t < 2; t++) {
        bank->sum.level[t] += frame->level[t];
        bank->sum.hz[t] += frame->hz[t];
    }
    for (size_t p = 0; p < bank->products; p++) {
        bank->sum.product[p] += frame->product[p];
        bank->scatter[p] += creal(frame->product[p] * conj(frame->product[p]));
    }
    bank->used++;
}

void lds_product_bank_frame(struct lds_product_bank *bank, const struct lds_frame *frame)
{
    struct lds_product_frame *here = &bank->frame[bank->frames % LDS_PRODUCT_FRAMES];
    double *hz = here->hz, phase[2];
    for (int t = 0; t < 2; t++) {
        hz[t] = lds_frame_tone_follow(&bank->tone[t], &bank->lines, frame);
        double complex tone = lds_frame_line(&bank->lines, frame, hz[t]);
        here->level[t] = cabs(tone);
        phase[t] = carg(tone);
    }
    for (size_t i = 0; i < bank->products; i++) {
        const struct lds_product *product = &bank->product[i];
        double angle = product->of[0] * phase[0] + product->of[1] * phase[1];
        here->product[i] = lds_frame_line(&bank->lines, frame, lds_product_hz(product, hz)) * cexp(-I * angle);
    }
    bank->frames++;
    if (bank->frames > LDS_PRODUCT_APART)
        use(bank, bank->frames - 1 - LDS_PRODUCT_APART);
}

void lds_product_bank_finish(struct lds_product_bank *bank)
{
    int left = bank->frames < LDS_PRODUCT_APART ? bank->frames : LDS_PRODUCT_APART;
    for (int i = bank->frames - left; i < bank->frames; i++)
        use(bank, i);
    double used = bank->used > 0 ? bank->used : 1;
    for (int t = 0; t < 2; t++) {
        bank->sum.level[t] /= used;
        bank->sum.hz[t] /= used;
    }
    for (size_t p = 0; p < bank->products; p++) {
        double complex mean = bank->sum.product[p] / used;
        double about = bank->scatter[p] - used * creal(mean * conj(mean));
        bank->scatter[p] = bank->used > 1 ? fmax(about, 0.0) / (used - 1.0) : (double)NAN;
        bank->sum.product[p] = mean;
    }
}
