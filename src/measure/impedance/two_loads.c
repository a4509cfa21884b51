#include "measure/impedance/two_loads.h"

#include <math.h>
#include <string.h>

#include "loadside/quantity.h"
#include "measure/statistics/uncertainty.h"

static const double LEAST_OHM = 0.1, MOST_OHM = 1e9, MOST_PERCENT = 50.0;
/* Of the conductances: closer together, the tolerances of the loads hide any difference. */
static const double LEAST_APART = 0.02;

/* "1%" or "1 %" */
static bool parse_percent(const char *text, double *percent)
{
    return lds_quantity_parse(text, "%", percent) && *percent >= 0.0 && *percent <= MOST_PERCENT;
}

bool lds_load_parse(const char *text, struct lds_load *load)
{
    char ohm[32];
    const char *colon = strchr(text, ':');
    const size_t length = colon ? (size_t)(colon - text) : strlen(text);
    *load = (struct lds_load){NAN, NAN};
    if (length >= sizeof ohm || (colon && !parse_percent(colon + 1, &load->percent)))
        return false;
    memcpy(ohm, text, length);
    ohm[length] = '\0';
    if (strcmp(ohm, "open") == 0 || strcmp(ohm, "inf") == 0) {
        load->ohm = INFINITY;
        return !colon;
    }
    return lds_quantity_parse(ohm, "ohm", &load->ohm) && load->ohm >= LEAST_OHM && load->ohm <= MOST_OHM;
}

void lds_impedance_options_init(struct lds_impedance_options *options)
{
    *options = (struct lds_impedance_options){.load = {{NAN, NAN}, {NAN, NAN}}, .damping_ohm = 8.0, .repeat_db = NAN};
}

const char *lds_two_loads_refused(const struct lds_load load[2])
{
    const double a = 1.0 / load[0].ohm, b = 1.0 / load[1].ohm;
    if (isnan(a) || isnan(b))
        return "the loads are not known; two expected; state them, as in --loads 8,open";
    if (fabs(a - b) <= LEAST_APART * fmax(a, b))
        return "the two loads are nearly the same; two that differ expected, such as 8 ohm and open";
    return NULL;
}

/* Relative standard uncertainty, from limits +-a: a/sqrt(3) (JCGM 100:2008, 4.3.7). */
static double relative_u(const struct lds_load *load)
{
    return isnan(load->percent) ? 0.0 : load->percent / 100.0 / sqrt(3.0);
}

/* The magnitude, from the real part and the square of the imaginary part. It takes the sign of the real part, and is
 * continuous where that crosses 0. */
static double magnitude(double real, double imaginary2)
{
    return real >= 0.0 ? sqrt(real * real + imaginary2) : sqrt(imaginary2) + real;
}

/* Noise raises the square of the imaginary part, so its variance is subtracted: where the phases show nothing, the
 * magnitude is the real part. Limits of a function of two estimates from the limits of each: MOVER, as in compare (Zou
 * and Donner 2008). */
static void set_limits(double real, double imaginary, double u_real, double u_imaginary, struct lds_source_impedance *z)
{
    const double k = lds_coverage(z->dof), size = fabs(imaginary);
    const double square = fmax(0.0, size * size - u_imaginary * u_imaginary);
    const bool turned = size > k * u_imaginary; /* the imaginary part stands out of its noise */
    const double sign = real < 0.0 && (!turned || -real > k * u_real) ? -1.0 : 1.0;
    const double along = sign * real, value = magnitude(along, square);
    const double least = turned ? pow(size - k * u_imaginary, 2.0) : 0.0, most = pow(size + k * u_imaginary, 2.0);
    const double up = hypot(magnitude(along + k * u_real, square) - value,
                            turned ? magnitude(along, fmax(most, square)) - value : 0.0);
    const double down =
        hypot(value - magnitude(along - k * u_real, square), value - magnitude(along, fmin(least, square)));
    z->value = sign * value;
    z->low = sign > 0.0 ? value - down : -value - up;
    z->high = sign > 0.0 ? value + up : -value + down;
    z->u = 0.5 * (up + down) / k;
}

bool lds_two_loads(const struct lds_load load[2], const struct lds_load_step *step,
                   struct lds_source_impedance *impedance)
{
    const double a = 1.0 / load[0].ohm, b = 1.0 / load[1].ohm; /* conductances: 0 for an open output */
    const bool phases = !isnan(step->u[1]);
    const double complex ratio = phases ? cexp(step->log_ratio) : exp(creal(step->log_ratio));
    const double complex below = b - ratio * a;
    if (!(creal(below / (b - a)) > 0.0))
        return false;
    const double complex z = (ratio - 1.0) / below;
    const double complex slope = ratio * (b - a) / (below * below); /* dz over d(log ratio) */
    const double u_turn = phases ? step->u[1] : 0.0;
    *impedance = (struct lds_source_impedance){.ohm = z, .slope = cabs(slope), .dof = step->dof};
    set_limits(creal(z), cimag(z), hypot(creal(slope) * step->u[0], cimag(slope) * u_turn),
               hypot(cimag(slope) * step->u[0], creal(slope) * u_turn), impedance);
    /* d ln z over d ln R_A is -d ln z/d ln a = -ratio a/below; over d ln R_B it is b/below. */
    impedance->u_loads = fabs(impedance->value) * hypot(creal(ratio * a / below) * relative_u(&load[0]),
                                                        creal(b / below) * relative_u(&load[1]));
    return true;
}
