/* The decimator's filters: flat to 0.4 of the output rate, aliases down by more than 160 dB, delay as stated. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "spectrum/decimate.h"

enum { CHUNK = 4096 };

/* A frequency folded into 0..1/2 of the input rate. */
static double fold(double f)
{
    f -= floor(f);
    return f > 0.5 ? 1.0 - f : f;
}

static void check_response(int stages)
{
    struct lds_decimator *d = lds_decimator_new(stages, 0.4, CHUNK);
    assert_non_null(d);
    double out_rate = ldexp(1.0, -stages), ripple = 0.0, alias = 0.0;
    for (double f = 0.0; f <= 0.4 * out_rate; f += out_rate / 2000.0) {
        ripple = fmax(ripple, fabs(lds_decimator_gain(d, f) - 1.0));
        for (int k = 1; k < 1 << stages; k++) {
            alias = fmax(alias, fabs(lds_decimator_gain(d, fold(k * out_rate + f))));
            alias = fmax(alias, fabs(lds_decimator_gain(d, fold(k * out_rate - f))));
        }
    }
    lds_decimator_free(d);
    assert_true(ripple < 1e-7);
    assert_true(20.0 * log10(alias) < -160.0);
}

static void test_response(void **state)
{
    (void)state;
    for (int stages = 1; stages <= 7; stages++)
        check_response(stages);
}

/* A cosine comes out as the same cosine, whatever the sizes of the pushes. */
static void test_waveform(void **state)
{
    (void)state;
    for (int stages = 0; stages <= 4; stages++) {
        struct lds_decimator *d = lds_decimator_new(stages, 0.4, CHUNK);
        assert_non_null(d);
        double f = 0.37 * ldexp(1.0, -stages), delay = (double)lds_decimator_delay(d), worst = 0.0;
        size_t at = 0, came = 0;
        for (size_t cut = 1; at < 60000; cut = cut * 7 % CHUNK + 1) {
            static double x[CHUNK];
            for (size_t i = 0; i < cut; i++)
                x[i] = cos(2.0 * M_PI * f * (double)(at + i));
            at += cut;
            const double *out;
            size_t n;
            lds_decimator_push(d, x, cut, &out, &n);
            for (size_t i = 0; i < n; i++, came++)
                worst = fmax(worst, fabs(out[i] - cos(2.0 * M_PI * f * (delay + ldexp((double)came, stages)))));
        }
        lds_decimator_free(d);
        assert_true((double)came > (ldexp(60000.0, -stages) - 200.0));
        assert_true(worst < 1e-7);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_response), cmocka_unit_test(test_waveform)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
