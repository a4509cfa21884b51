#include "measure/intermodulation/suspected.h"

#include <math.h>
#include <stdlib.h>

#include "measure/intermodulation/products.h"

/* A hard limit at the peaks makes lines of high orders: above all sums and differences with multiples of the lower
 * tone, around the higher tone and its first harmonics. */
enum { ORDERS = 60, OF_BOTH = 20, OF_HIGHER = 3 };

/* The first tone and its harmonics are known already. */
static bool is_suspected(const struct lds_product *line, int first)
{
    bool likely = lds_product_order(line) <= OF_BOTH || abs(line->of[1]) <= OF_HIGHER;
    return likely && line->of[1 - first] != 0;
}

bool lds_suspect_products(struct lds_findings *findings, const double tone_hz[2], int first, double wander)
{
    struct lds_product *line = malloc(lds_products_room(ORDERS) * sizeof *line);
    if (!line)
        return false;
    size_t count = lds_products_list(tone_hz, ORDERS, true, line);
    bool done = true;
    for (size_t i = 0; done && i < count; i++) {
        double hz = lds_product_hz(&line[i], tone_hz);
        if (!is_suspected(&line[i], first) || !(hz > 0.0) || hz >= findings->density.end_hz)
            continue;
        done = lds_lines_add(&findings->lines, &(struct lds_known_line){.kind = LDS_LINE_HARMONIC,
                                                                        .order = lds_product_order(&line[i]),
                                                                        .frequency_hz = hz,
                                                                        .spread_hz = wander * hz,
                                                                        .power = NAN});
    }
    free(line);
    return done;
}
