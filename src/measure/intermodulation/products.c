#include "measure/intermodulation/products.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

int lds_product_order(const struct lds_product *product)
{
    return abs(product->of[0]) + abs(product->of[1]);
}

double lds_product_hz(const struct lds_product *product, const double tone_hz[2])
{
    return product->of[0] * tone_hz[0] + product->of[1] * tone_hz[1];
}

size_t lds_products_room(int orders)
{
    return (size_t)(orders * (orders + 1));
}

/* Each line once: of a product and its negative, the one above 0 Hz. */
size_t lds_products_list(const double tone_hz[2], int orders, bool harmonics, struct lds_product *product)
{
    size_t count = 0;
    for (int order = 1; order <= orders; order++)
        for (int low = -order; low <= order; low++) {
            int high = order - abs(low);
            struct lds_product one = {{low, high}};
            if ((!harmonics && (low == 0 || high == 0)) || (high == 0 && low < 0))
                continue;
            if (lds_product_hz(&one, tone_hz) < 0.0)
                one = (struct lds_product){{-low, -high}};
            product[count++] = one;
        }
    return count;
}

static int write_term(char *text, size_t size, const char *sign, int times, int tone)
{
    if (times > 1)
        return snprintf(text, size, "%s%d f%d", sign, times, tone + 1);
    return snprintf(text, size, "%sf%d", sign, tone + 1);
}

/* A term that is added comes first; if both are, the higher tone. */
void lds_product_name(const struct lds_product *product, char *text, size_t size)
{
    int first = product->of[1] > 0 ? 1 : 0, second = 1 - first;
    int used = write_term(text, size, "", product->of[first], first);
    if (product->of[second] != 0 && used > 0 && (size_t)used < size)
        write_term(text + used, size - (size_t)used, product->of[second] > 0 ? " + " : " - ", abs(product->of[second]),
                   second);
}

double lds_product_nearest(const struct lds_product *product, const double tone_hz[2], struct lds_product *nearest)
{
    struct lds_product line[LDS_PRODUCT_ORDERS * (LDS_PRODUCT_ORDERS + 1)];
    size_t count = lds_products_list(tone_hz, LDS_PRODUCT_ORDERS, true, line);
    double least = lds_product_hz(product, tone_hz);
    *nearest = (struct lds_product){{0, 0}};
    for (size_t i = 0; i < count; i++) {
        double apart = fabs(lds_product_hz(&line[i], tone_hz) - lds_product_hz(product, tone_hz));
        if ((line[i].of[0] == product->of[0] && line[i].of[1] == product->of[1]) || !(apart < least))
            continue;
        least = apart;
        *nearest = line[i];
    }
    return least;
}

static int rising(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

double lds_products_spacing(const double tone_hz[2], double least_hz)
{
    struct lds_product line[LDS_PRODUCT_ORDERS * (LDS_PRODUCT_ORDERS + 1)];
    double hz[LDS_PRODUCT_ORDERS * (LDS_PRODUCT_ORDERS + 1) + 1], spacing = INFINITY;
    size_t count = lds_products_list(tone_hz, LDS_PRODUCT_ORDERS, true, line);
    hz[count] = 0.0;
    for (size_t i = 0; i < count; i++)
        hz[i] = lds_product_hz(&line[i], tone_hz);
    qsort(hz, count + 1, sizeof *hz, rising);
    for (size_t i = 0; i <= count; i++)
        for (size_t k = i + 1; k <= count; k++)
            if (hz[k] - hz[i] >= least_hz) {
                spacing = fmin(spacing, hz[k] - hz[i]);
                break;
            }
    return spacing;
}
