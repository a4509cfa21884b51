#include "measure/known/part_window.h"

#include <math.h>

double lds_part_window_at(const struct lds_part_window *window, size_t i)
{
    const size_t edge = (size_t)(LDS_PART_EDGE * (double)window->length), length = window->length;
    const size_t rise = edge < window->before ? edge : window->before;
    if (i < rise)
        return 0.5 - 0.5 * cos(M_PI * ((double)i + 0.5) / (double)rise);
    return i >= length - edge ? 0.5 - 0.5 * cos(M_PI * ((double)(length - i) - 0.5) / (double)edge) : 1.0;
}

double complex lds_part_window_transform(const struct lds_part_window *window, double cycles)
{
    const double length = (double)window->length, edge = LDS_PART_EDGE * length, q = 2.0 * cycles * edge;
    const double middle = 0.5 * (length - 1.0) - (double)window->before, x = M_PI * cycles;
    const double edges = fabs(fabs(q) - 1.0) < 1e-6 ? M_PI_4 : cos(M_PI_2 * q) / (1.0 - q * q);
    const double flat = x == 0.0 ? length - edge : sin(x * (length - edge)) / x;
    return flat * edges * cexp(I * 2.0 * x * middle);
}

double lds_part_window_bound(const struct lds_part_window *window, double cycles)
{
    const double length = (double)window->length, edge = LDS_PART_EDGE * length, q = 2.0 * fabs(cycles) * edge;
    const double most = length - edge, edges = q < 1.5 ? 1.0 : 1.0 / (q * q - 1.0);
    return cycles == 0.0 ? most : fmin(most, edges / (M_PI * fabs(cycles)));
}
