/* The window routines against published figures of merit: Heinzel, Ruediger and Schilling 2002, "Spectrum and spectral
 * density estimation by the Discrete Fourier transform (DFT), including a comprehensive list of window functions and
 * some new flat-top windows", appendix C (read in tables that reproduce it), and Welch 1967 (IEEE Trans. AU-15(2)) for
 * the degrees of freedom of an average. Printed digits are checked to half a unit of the last one. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "simulate/check.h"
#include "spectrum/welch.h"
#include "spectrum/window.h"

struct published {
    struct lds_window window;
    double nenbw, emax_db, psll_db; /* as printed */
    double nenbw_unit, psll_unit;   /* of the last printed digit */
};

/* Two side lobes are printed truncated, not rounded, and are compared with what the coefficients give: Nuttall4c,
 * -98.17 (printed 98.1), and SFT4M, -66.55 (printed 66.5). HFT169D ends 0.06364622, 0.00521942, 0.00010599 (a copy in
 * circulation has 0.06364621 and loses 2 dB of side lobe). */
static const struct published table[] = {
    {{"Hann", 2, {0.5, 0.5}}, 1.5000, -1.4236, -31.5, 1e-4, 0.1},
    {{"Hamming", 2, {0.54, 0.46}}, 1.3628, -1.7514, -42.7, 1e-4, 0.1},
    {{"BH92", 4, {0.35875, 0.48829, 0.14128, 0.01168}}, 2.0044, -0.8256, -92.0, 1e-4, 0.1},
    {{"Nuttall3", 3, {0.375, 0.5, 0.125}}, 1.9444, -0.8630, -46.7, 1e-4, 0.1},
    {{"Nuttall3a", 3, {0.40897, 0.5, 0.09103}}, 1.7721, -1.0453, -64.2, 1e-4, 0.1},
    {{"Nuttall3b", 3, {0.4243801, 0.4973406, 0.0782793}}, 1.7037, -1.1352, -71.5, 1e-4, 0.1},
    {{"Nuttall4", 4, {0.3125, 0.46875, 0.1875, 0.03125}}, 2.31, -0.6184, -60.9, 1e-2, 0.1},
    {{"Nuttall4a", 4, {0.338946, 0.481973, 0.161054, 0.018027}}, 2.1253, -0.7321, -82.6, 1e-4, 0.1},
    {{"Nuttall4b", 4, {0.355768, 0.487396, 0.144232, 0.012604}}, 2.0212, -0.8118, -93.3, 1e-4, 0.1},
    {{"Nuttall4c", 4, {0.3635819, 0.4891775, 0.1365995, 0.0106411}}, 1.9761, -0.8506, -98.17, 1e-4, 0.01},
    {{"SFT3F", 3, {0.26526, 0.5, 0.23474}}, 3.1681, 0.0082, -31.7, 1e-4, 0.1},
    {{"SFT4F", 4, {0.21706, 0.42103, 0.28294, 0.07897}}, 3.7970, 0.0041, -44.7, 1e-4, 0.1},
    {{"SFT5F", 5, {0.1881, 0.36923, 0.28702, 0.13077, 0.02488}}, 4.3412, -0.0025, -57.3, 1e-4, 0.1},
    {{"SFT3M", 3, {0.28235, 0.52105, 0.19659}}, 2.9452, -0.0115, -44.2, 1e-4, 0.1},
    {{"SFT4M", 4, {0.241906, 0.460841, 0.255381, 0.041872}}, 3.3868, -0.0067, -66.55, 1e-4, 0.01},
    {{"SFT5M", 5, {0.209671, 0.407331, 0.281225, 0.092669, 0.0091036}}, 3.8852, 0.0039, -89.9, 1e-4, 0.1},
    {{"HFT70", 4, {1, 1.90796, 1.07349, 0.18199}}, 3.4129, -0.0065, -70.4, 1e-4, 0.1},
    {{"HFT95", 5, {1, 1.9383379, 1.3045202, 0.402827, 0.0350665}}, 3.8112, 0.0044, -95.0, 1e-4, 0.1},
    {{"HFT90D", 5, {1, 1.942604, 1.340318, 0.440811, 0.043097}}, 3.8832, -0.0039, -90.2, 1e-4, 0.1},
    {{"HFT116D", 6, {1, 1.9575375, 1.4780705, 0.6367431, 0.1228389, 0.0066288}}, 4.2186, -0.0028, -116.8, 1e-4, 0.1},
    {{"HFT144D", 7, {1, 1.96760033, 1.57983607, 0.81123644, 0.22583558, 0.02773848, 0.0009036}},
     4.5386,
     0.0021,
     -144.1,
     1e-4,
     0.1},
    {{"HFT169D", 8, {1, 1.97441843, 1.65409889, 0.95788187, 0.3367342, 0.06364622, 0.00521942, 0.00010599}},
     4.8347,
     0.0017,
     -169.5,
     1e-4,
     0.1},
    {{"HFT196D",
      9,
      {1, 1.97928042, 1.710288951, 1.081629853, 0.448734314, 0.112376628, 0.015122992, 0.000871252, 0.000011896}},
     5.1134,
     0.0013,
     -196.2,
     1e-4,
     0.1},
    {{"HFT223D",
      10,
      {1, 1.98298997309, 1.75556083063, 1.19037717712, 0.56155440797, 0.17296769663, 0.03233247087, 0.00324954578,
       0.00013801040, 0.00000132725}},
     5.3888,
     -0.0011,
     -223.0,
     1e-4,
     0.1},
    {{"HFT248D",
      11,
      {1, 1.985844164102, 1.791176438506, 1.282075284005, 0.667777530266, 0.240160796576, 0.056656381764,
       0.008134974479, 0.000624544650, 0.000019808998, 0.000000132974}},
     5.6512,
     0.0009,
     -248.4,
     1e-4,
     0.1},
};
enum { WINDOWS = sizeof table / sizeof table[0] };

static double transform_db(const struct lds_window *window, double offset)
{
    return 20.0 * log10(fabs(lds_window_transform(window, offset)));
}

/* Highest side lobe: the main lobe of every window here ends at as many bins as it has terms. */
static double highest_side_lobe_db(const struct lds_window *window)
{
    double highest = -INFINITY;
    for (int i = 1; i < 6000; i++)
        highest = fmax(highest, transform_db(window, window->terms + 0.01 * i));
    return highest;
}

static void test_enbw(void **state)
{
    (void)state;
    for (int i = 0; i < WINDOWS; i++) {
        print_message("%s\n", table[i].window.name);
        check_close(lds_window_enbw(&table[i].window), table[i].nenbw, 0.5 * table[i].nenbw_unit + 1e-9);
    }
}

static void test_flatness(void **state)
{
    (void)state;
    for (int i = 0; i < WINDOWS; i++) {
        double extreme = 0.0;
        for (int j = 1; j <= 1000; j++) {
            const double db = transform_db(&table[i].window, 0.5 * j / 1000.0);
            if (fabs(db) > fabs(extreme))
                extreme = db;
        }
        print_message("%s %.5f dB\n", table[i].window.name, extreme);
        /* Where dip and rise are equal to the last digit the printed sign is either; the size must agree. */
        check_close(fabs(extreme), fabs(table[i].emax_db), 0.51e-4);
    }
}

static void test_side_lobes(void **state)
{
    (void)state;
    for (int i = 0; i < WINDOWS; i++) {
        const double highest = highest_side_lobe_db(&table[i].window);
        print_message("%s %.3f dB\n", table[i].window.name, highest);
        check_close(highest, table[i].psll_db, 0.51 * table[i].psll_unit);
    }
}

/* The analysis window, from its samples by the defining sums and not by the closed forms. */
static void test_analysis_window(void **state)
{
    (void)state;
    enum { N = 256 };
    double w[N], sum = 0.0, square = 0.0;
    lds_window_fill(&lds_window_analysis, N, w);
    for (int i = 0; i < N; i++) {
        sum += w[i];
        square += w[i] * w[i];
    }
    check_close(N * square / (sum * sum), lds_window_enbw(&lds_window_analysis), 1e-12);
    for (int i = 0; i < 40; i++) {
        const double offset = 0.37 * i;
        double re = 0.0; /* periodic about n = N/2: real there */
        for (int n = 0; n < N; n++)
            re += w[n] * cos(2.0 * M_PI * offset * (n - N / 2) / N);
        /* Beside the aliases of the transform, 1e-10 below the main lobe at N = 256. */
        check_close(re / sum, lds_window_transform(&lds_window_analysis, offset), 1e-9);
    }
    assert_true(highest_side_lobe_db(&lds_window_analysis) < -180.0);
}

struct edof {
    const char *window;
    double overlap, dof[4]; /* of 8, 16, 32 and 100 frames */
};

/* nu = 2K / (1 + 2 sum (1 - m/K) rho(m)), rho the square of the window's own correlation (Welch 1967; that it is the
 * square was confirmed by Monte Carlo: 15.17 measured for Hann, half overlapped, K = 8). */
static const struct edof degrees[] = {
    {"Hann", 0.50, {15.2583, 30.4158, 60.7315, 189.5735}},
    {"Hann", 0.75, {8.8786, 17.1733, 33.7909, 104.4477}},
    {"Hamming", 0.50, {14.6034, 29.0259, 57.8724, 180.4723}},
    {"Hamming", 0.75, {8.1741, 15.7340, 30.8879, 95.3297}},
    {"BH92", 0.50, {15.9605, 31.9154, 63.8252, 199.4417}},
    {"BH92", 0.75, {11.6584, 22.8702, 45.3065, 140.6754}},
    {"Nuttall4c", 0.75, {11.5178, 22.5797, 44.7168, 138.8153}},
    {"HFT90D", 0.75, {15.9780, 31.9524, 63.9012, 199.6833}},
    {"HFT144D", 0.75, {15.9330, 31.8564, 63.7033, 199.0525}},
    {"HFT248D", 0.75, {15.8725, 31.7270, 63.4360, 198.1993}},
};

static const struct lds_window *find_window(const char *name)
{
    for (int i = 0; i < WINDOWS; i++)
        if (strcmp(table[i].window.name, name) == 0)
            return &table[i].window;
    fail_msg("no window %s", name);
    return NULL;
}

static void test_welch_degrees_of_freedom(void **state)
{
    (void)state;
    enum { N = 4096 };
    static const int frames[4] = {8, 16, 32, 100};
    double *w = malloc(N * sizeof *w);
    assert_non_null(w);
    for (size_t i = 0; i < sizeof degrees / sizeof degrees[0]; i++) {
        lds_window_fill(find_window(degrees[i].window), N, w);
        for (int k = 0; k < 4; k++) {
            struct lds_welch welch;
            lds_welch_statistics(w, N, (int)((1.0 - degrees[i].overlap) * N), 48000.0, frames[k], &welch);
            print_message("%s %g %d\n", degrees[i].window, degrees[i].overlap, frames[k]);
            check_close(welch.bin_dof, degrees[i].dof[k], 0.6e-4 + 1e-6 * frames[k]); /* four printed decimals */
        }
    }
    free(w);
}

/* A band of white noise through Hann at half overlap. By Parseval the variance of its power is that of sum over frames
 * and samples of w^2[n] w^2[n + mS]; for Hann the sums are 35/128 for a frame with itself and 3/128 for it with both
 * neighbours, against (3/8)^2: nu = 2BT/(19/18). (Monte Carlo of 80000 averages: 1.048 +- 0.005; the two bins at a
 * band's edges apart.) */
static void test_band_degrees_of_freedom(void **state)
{
    (void)state;
    enum { N = 1024, S = N / 2, K = 400 };
    double *w = malloc(N * sizeof *w);
    assert_non_null(w);
    lds_window_fill(&lds_window_hann, N, w);
    double products = 0.0, energy = 0.0;
    for (int m = -1; m <= 1; m++)
        for (int n = 0; n < N; n++)
            if (n + m * S >= 0 && n + m * S < N)
                products += w[n] * w[n] * w[n + m * S] * w[n + m * S];
    for (int n = 0; n < N; n++)
        energy += w[n] * w[n];
    const double constant = products * S / (energy * energy);
    struct lds_welch welch;
    lds_welch_statistics(w, N, S, 48000.0, K, &welch);
    /* The capture's length that counts is K hops (its ends weigh less): T = K S/fs. */
    const double seconds = K * (double)S / 48000.0;
    print_message("constant %.4f, nu per hertz %.5f\n", constant, welch.band_dof);
    check_close(constant, 19.0 / 18.0, 1e-9);
    check_close(welch.band_dof * constant / (2.0 * seconds), 1.0, 1.0 / K); /* the ends have one neighbour */
    free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_enbw),
        cmocka_unit_test(test_flatness),
        cmocka_unit_test(test_side_lobes),
        cmocka_unit_test(test_analysis_window),
        cmocka_unit_test(test_welch_degrees_of_freedom),
        cmocka_unit_test(test_band_degrees_of_freedom),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
