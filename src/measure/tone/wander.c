#include "measure/tone/wander.h"

#include <math.h>

enum { LENGTHS = 3 };
static const double EDGE_HZ = 33.0;  /* edge of the widest band: flat to 20 Hz, and no response from 50 Hz on */
static const double REACH_S = 0.082; /* half the length of its filter */
static const double MIDDLE_S = 0.2;
static const double SLOW_S = 1.0;
static const double CLEAR = 5.0;    /* times the movement that noise makes */
static const double RIPPLE = 0.005; /* of the low-pass up to 20 Hz */
static const double FOLLOWED_S = 0.5;

double lds_wander_slope(const double *y, size_t count, double step_s)
{
    double centre = 0.5 * (double)(count - 1), sxy = 0.0;
    for (size_t i = 0; i < count; i++)
        sxy += ((double)i - centre) * y[i];
    double n = (double)count;
    return sxy * 12.0 / (n * (n * n - 1.0)) / step_s;
}

/* Lowest to highest of a frequency known at first_s, first_s + step_s, ...; a straight line extends it to both ends of
 * the stream, so that a steady creep counts in full. */
static double span(const double *hz, size_t count, double first_s, double step_s, double seconds)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, hz[i]);
        high = fmax(high, hz[i]);
    }
    double slope = count > 1 ? lds_wander_slope(hz, count, step_s) : 0.0;
    double last_s = first_s + (double)(count - 1) * step_s;
    double begin = hz[0] - slope * first_s, end = hz[count - 1] + slope * (seconds - last_s);
    return fmax(high, fmax(begin, end)) - fmin(low, fmin(begin, end));
}

/* The slope of y through a low-pass at EDGE_HZ: windowed sinc, Hamming. Returns the number of points. */
static size_t fast_slope(const double *y, size_t count, double step_s, double *out)
{
    size_t half = (size_t)lround(REACH_S / step_s);
    if (half < 2 || count < 2 * half + 2)
        return 0;
    double weight[2 * 64 + 1], sum = 0.0, edge = fmin(EDGE_HZ * step_s, 0.4);
    half = half > 64 ? 64 : half;
    for (size_t k = 0; k <= 2 * half; k++) {
        double at = (double)k - (double)half, x = 2.0 * M_PI * edge * at;
        weight[k] = (at == 0.0 ? 1.0 : sin(x) / x) * (0.54 + 0.46 * cos(M_PI * at / ((double)half + 1.0)));
        sum += weight[k];
    }
    size_t points = count - 1 - 2 * half;
    for (size_t i = 0; i < points; i++) {
        out[i] = 0.0;
        for (size_t k = 0; k <= 2 * half; k++)
            out[i] += weight[k] / sum * (y[i + k + 1] - y[i + k]) / step_s;
    }
    return points;
}

static size_t smooth_slope(const double *y, size_t count, double step_s, double length_s, size_t *stride, double *out)
{
    size_t length = (size_t)(length_s / step_s) + 1, points = 0;
    *stride = length / 4 > 0 ? length / 4 : 1;
    if (length < 3 || count < 2 * length)
        return 0;
    for (size_t i = 0; i + length <= count; i += *stride)
        out[points++] = lds_wander_slope(y + i, length, step_s);
    return points;
}

/* Peak to peak of the slope of y over 2 pi, smoothed by one of the lengths. NAN: too short. */
static double moved(const struct lds_motion *m, const double *y, int length, double seconds, double *scratch)
{
    size_t stride = 1, points;
    double length_s = length == 1 ? MIDDLE_S : fmax(SLOW_S, seconds / 64.0), half_s = 0.5 * length_s;
    if (length == 0) {
        points = fast_slope(y, m->count, m->step_s, scratch);
        half_s = ((double)(m->count - points) * 0.5) * m->step_s;
    } else {
        points = smooth_slope(y, m->count, m->step_s, length_s, &stride, scratch);
    }
    if (points == 0)
        return NAN;
    return span(scratch, points, m->first_s + half_s, m->step_s * (double)stride, seconds) / (2.0 * M_PI);
}

/* Largest rms deviation of y from a straight line over half a second. */
static double about_lines(const struct lds_motion *m, const double *y)
{
    size_t length = (size_t)(FOLLOWED_S / m->step_s) + 1;
    length = length < m->count ? length : m->count;
    double worst = 0.0;
    for (size_t i = 0; length > 2 && i + length <= m->count; i += length / 2) {
        double slope = lds_wander_slope(y + i, length, 1.0), mean = 0.0, square = 0.0;
        for (size_t k = 0; k < length; k++)
            mean += y[i + k] / (double)length;
        for (size_t k = 0; k < length; k++) {
            double off = y[i + k] - mean - slope * ((double)k - 0.5 * (double)(length - 1));
            square += off * off / (double)length;
        }
        worst = fmax(worst, square);
    }
    return sqrt(worst);
}

/* Noise added to a tone moves the logarithm of its amplitude as much as its phase, so the amplitude shows how much of
 * the movement is noise. The widest band in which the movement is clear of noise is used; if there is none, the
 * slowest, which has the least noise. */
void lds_wander_find(const struct lds_motion *motion, double seconds, double *scratch, struct lds_wander *wander)
{
    *wander = (struct lds_wander){.hz = NAN, .u_hz = NAN};
    double *level = scratch, *room = scratch + motion->count;
    for (size_t i = 0; i < motion->count; i++)
        level[i] = log(fmax(motion->amplitude[i], 1e-300));
    for (int length = 0; length < LENGTHS; length++) {
        double hz = moved(motion, motion->phase, length, seconds, room),
               noise = moved(motion, level, length, seconds, room);
        if (isnan(hz) || (length < LENGTHS - 1 && !(hz > CLEAR * noise)))
            continue;
        /* The peak-to-peak value of noise is four to seven standard deviations. */
        wander->hz = sqrt(fmax(0.0, hz * hz - noise * noise));
        wander->u_hz = hypot((hz > CLEAR * noise ? 0.25 : 0.5) * noise, RIPPLE * wander->hz);
        wander->bandwidth_hz = length == 0 ? 20.0 : 0.5 / (length == 1 ? MIDDLE_S : fmax(SLOW_S, seconds / 64.0));
        break;
    }
    double phase = about_lines(motion, motion->phase), noise = about_lines(motion, level);
    wander->unfollowed_rad = sqrt(fmax(0.0, phase * phase - noise * noise));
}
