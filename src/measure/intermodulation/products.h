/* The lines that two tones make: sums and differences of their multiples. */
#ifndef LDS_MEASURE_INTERMODULATION_PRODUCTS_H
#define LDS_MEASURE_INTERMODULATION_PRODUCTS_H

#include <stdbool.h>
#include <stddef.h>

/* Products up to this order are measured, and must be clear of each other, of the tones and of their harmonics. */
enum { LDS_PRODUCT_ORDERS = 5 };
/* of[0] times the lower tone plus of[1] times the higher one; the sum is positive. */
struct lds_product {
    int of[2];
};
enum { LDS_PRODUCTS_MAX = LDS_PRODUCT_ORDERS * (LDS_PRODUCT_ORDERS - 1) };

int lds_product_order(const struct lds_product *product);
double lds_product_hz(const struct lds_product *product, const double tone_hz[2]);

/* Lists the products (neither number 0) up to that order, the lower orders first; harmonics: the tones and their
 * harmonics too. product: room for lds_products_room(order). Returns how many. */
size_t lds_products_list(const double tone_hz[2], int orders, bool harmonics, struct lds_product *product);
size_t lds_products_room(int orders);

/* "f2 - f1", "2 f1 - f2", "f2 + 2 f1", "3 f1" */
void lds_product_name(const struct lds_product *product, char *text, size_t size);

/* The nearest other line of these tones up to LDS_PRODUCT_ORDERS, 0 Hz among them (both numbers 0); returns how far it
 * is. */
double lds_product_nearest(const struct lds_product *product, const double tone_hz[2], struct lds_product *nearest);

/* The smallest distance between any two such lines that is at least least_hz. INFINITY: there is none. */
double lds_products_spacing(const double tone_hz[2], double least_hz);

#endif
