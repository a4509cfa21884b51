/* The floor under lines, and bands of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "measure/spectra.h"
#include "measure/spurs/lines.h"
#include "measure/statistics/interval.h"
#include "simulate/check.h"
#include "simulate/signals.h"
#include "spectrum/cascade.h"
#include "spectrum/window.h"

enum { RATE = 48000 };

static double one(double frequency_hz)
{
    (void)frequency_hz;
    return 1.0;
}

static double pink(double frequency_hz)
{
    return 1.0 / fmax(frequency_hz, 1.0);
}

static double steep(double frequency_hz)
{
    return pow(fmax(frequency_hz, 1.0) / 1e3, -3.0);
}

static struct lds_band_power band_of(const struct lds_floor *floor, double low_hz, double high_hz, unsigned keep)
{
    struct lds_band_power band;
    lds_floor_band(floor, low_hz, high_hz, keep, NULL, NULL, &band);
    return band;
}

static void bins_are_cut_in_proportion(void **state)
{
    (void)state;
    struct lds_density density;
    struct lds_floor floor;
    spectrum_made(one, 100.0, 50.0, &density);
    assert_true(lds_floor_find(&floor, &density, NULL));
    /* inside a bin, over many, across the edge of the levels, and all */
    check_close(band_of(&floor, 100.1, 100.3, 0).power, 0.2, 1e-12);
    check_close(band_of(&floor, 20.7, 1500.2, 0).power, 1479.5, 1e-9);
    check_close(band_of(&floor, 1000.0, 5000.0, 0).power, 4000.0, 1e-9);
    check_close(band_of(&floor, 1997.3, 1998.9, 0).power, 1.6, 1e-9);
    check_close(band_of(&floor, 0.0, 1e6, 0).power, lds_floor_edge(&density, 2), 1e-8);
    /* white: band_dof a hertz, but each bin's own scatter is taken off the mean of squares */
    check_close(band_of(&floor, 1000.0, 5000.0, 0).dof / (50.0 * 4000.0 * 1.02), 1.0, 0.002);
    /* a band far narrower than a bin is worth a bin: 2 sqrt(pi) times the lobe's standard deviation of 1.04 Hz */
    check_close(band_of(&floor, 100.1, 100.3, 0).dof / (50.0 * 2.0 * sqrt(M_PI) * 1.04 * 1.02), 1.0, 0.03);
    lds_floor_free(&floor);
    lds_density_free(&density);
}

/* nu = band_dof (sum S df)^2 / sum S^2 df: for 1/f from a to b that is ln(b/a)^2 / (1/a - 1/b) hertz. */
static void coloured_degrees_of_freedom(void **state)
{
    (void)state;
    struct lds_density density;
    struct lds_floor floor;
    spectrum_made(pink, 1e4, 50.0, &density);
    assert_true(lds_floor_find(&floor, &density, NULL));
    struct lds_band_power band = band_of(&floor, 100.0, 10e3, 0);
    double integral = log(100.0), squares = 1.0 / 100.0 - 1.0 / 10e3;
    check_close(band.power, integral, 1e-3);
    check_close(band.dof / (50.0 * integral * integral / squares), 1.0, 0.01);
    lds_floor_free(&floor);
    lds_density_free(&density);
}

/* On smooth spectra the robust floor is the spectrum over the chi-square's median/mean, also where they fall steeply.
 */
static void reference_follows_slopes(void **state)
{
    (void)state;
    static double (*const shape[])(double) = {one, pink, steep};
    for (int s = 0; s < 3; s++) {
        struct lds_density density;
        struct lds_floor floor;
        spectrum_made(shape[s], 1e9, 50.0, &density);
        assert_true(lds_floor_find(&floor, &density, NULL));
        for (int i = 0; i < 2; i++)
            for (int k = i ? 500 : 20; k < density.level[i].last; k++)
                check_close(floor.reference[i][k] / density.level[i].power[k], 1.0, i == 0 && k < 128 ? 0.1 : 0.03);
        lds_floor_free(&floor);
        lds_density_free(&density);
    }
}

static void put_line(struct lds_density *density, double frequency_hz, double power)
{
    for (int i = 0; i < density->levels; i++) {
        struct lds_level *level = &density->level[i];
        for (int k = 0; k <= level->n / 2; k++) {
            double offset = k - frequency_hz / level->bin_hz;
            double w = fabs(offset) < LDS_LOBE_BINS ? lds_window_transform(&lds_window_analysis, offset) : 0.0;
            double add = power * w * w / (level->enbw_bins * level->bin_hz);
            level->power[k] += add;
            for (int b = 0; b < LDS_BLOCKS; b++)
                level->block[b][k] += add;
        }
    }
}

static void lines_go_and_stay(void **state)
{
    (void)state;
    struct lds_density density;
    struct lds_floor floor;
    spectrum_made(pink, 100.0, 50.0, &density);
    struct lds_lines known = {0};
    static const struct lds_known_line line[] = {
        {.kind = LDS_LINE_SPUR, .frequency_hz = 3000.3, .power = 1e-2},
        {.kind = LDS_LINE_TONE, .frequency_hz = 1000.4, .power = 1e3},
        {.kind = LDS_LINE_MAINS, .frequency_hz = 50.2, .power = 1.0},
        {.kind = LDS_LINE_HARMONIC, .frequency_hz = 2000.8, .power = 1e-1},
    };
    for (int l = 0; l < 4; l++) {
        assert_true(lds_lines_add(&known, &line[l]));
        put_line(&density, line[l].frequency_hz, line[l].power);
    }
    for (size_t l = 1; l < known.count; l++)
        assert_true(known.line[l - 1].frequency_hz < known.line[l].frequency_hz);
    assert_true(lds_floor_find(&floor, &density, &known));
    double noise = log(1000.0);
    struct lds_band_power out = band_of(&floor, 20.0, 20e3, 0);
    check_close(out.power / noise, 1.0, 0.002);
    assert_true(out.removed_hz > 40.0 && out.removed_hz < 150.0);
    for (int b = 0; b < LDS_BLOCKS; b++)
        check_close(out.block[b] / noise, 1.0, 0.002);
    struct lds_band_power hum = band_of(&floor, 20.0, 20e3, 1u << LDS_LINE_MAINS | 1u << LDS_LINE_SPUR);
    check_close(hum.power, noise + 1.01, 0.01);
    check_close(band_of(&floor, 20.0, 20e3, 1u << LDS_LINE_TONE).power, noise + 1e3, 0.02);
    check_close(lds_floor_line_power(&floor, 1000.4, 0.0, NULL), 1e3, 1.0);
    /* A line that is kept is steady: it adds 4 P S/band_dof to the variance, not that of noise of its power. */
    check_close((hum.variance - out.variance) / (4.0 / 50.0 * (1.0 / 50.2 + 1e-2 / 3000.3)), 1.0, 0.25);
    double dof;
    check_close(lds_floor_density(&floor, 1000.4, 20.0, &dof), 1e-3, 2e-5);
    assert_true(dof > 1000.0);
    lds_floor_free(&floor);
    lds_density_free(&density);
    free(known.line);
}

static void make_noise(double *x, size_t n, uint64_t seed)
{
    struct sim_random random;
    sim_random_seed(&random, seed);
    memset(x, 0, n * sizeof *x);
    sim_add_white(x, n, RATE, 1e-6, &random);
}

/* Suspected lines are taken when they are there, and hardly ever when they are not. */
static void suspects(void **state)
{
    (void)state;
    enum { SECONDS = 4, SUSPECTS = 400 };
    const size_t n = SECONDS * RATE;
    double *x = sim_samples(n);
    make_noise(x, n, 31);
    struct sim_tone tone = {.frequency_hz = 5025.0, .level = 1e-5};
    sim_add_tone(x, n, RATE, &tone);
    struct lds_density density;
    spectrum_of(x, n, RATE, &density);
    struct lds_lines known = {0};
    for (int l = 0; l < SUSPECTS; l++) {
        struct lds_known_line line = {.kind = LDS_LINE_HARMONIC, .frequency_hz = 50.25 * (l + 1), .power = NAN};
        assert_true(lds_lines_add(&known, &line));
    }
    struct lds_floor floor;
    assert_true(lds_floor_find(&floor, &density, &known));
    int taken = 0;
    for (int i = 0; i < density.levels; i++)
        taken += floor.gaps[i];
    const struct lds_level *level = lds_density_level(&density, 5025.0);
    assert_int_equal(floor.taken[level - density.level][lround(5025.0 / level->bin_hz)], 1 + LDS_LINE_HARMONIC);
    if (taken > 1 + 4)
        fail_msg("seed 31: %d of %d suspects taken", taken - 1, SUSPECTS);
    check_close(band_of(&floor, 20.0, 20e3, 0).power / (1e-12 * 19980.0), 1.0, 0.02);
    lds_floor_free(&floor);
    lds_density_free(&density);
    free(known.line);
    free(x);
}

/* A floor found again with other lines equals one found with them from the start, to the bit. */
static void found_again(void **state)
{
    (void)state;
    enum { SECONDS = 4, LINES = 12 };
    const size_t n = SECONDS * RATE;
    double *x = sim_samples(n);
    make_noise(x, n, 32);
    struct lds_lines few = {0}, all = {0}, *const which[] = {&all, &few, &all};
    for (int l = 0; l < LINES; l++) {
        struct sim_tone tone = {.frequency_hz = 53.7 * pow(1.6, l), .level = l % 3 == 0 ? 1e-2 : 1e-6};
        sim_add_tone(x, n, RATE, &tone);
        struct lds_known_line line = {
            .kind = LDS_LINE_SPUR, .frequency_hz = tone.frequency_hz, .power = tone.level * tone.level};
        assert_true(lds_lines_add(&all, &line));
        assert_true(l % 2 || lds_lines_add(&few, &line));
    }
    struct lds_density density;
    spectrum_of(x, n, RATE, &density);
    struct lds_floor again;
    assert_true(lds_floor_find(&again, &density, NULL));
    for (size_t w = 0; w < sizeof which / sizeof which[0]; w++) {
        struct lds_floor fresh;
        assert_true(lds_floor_find_again(&again, which[w]));
        assert_true(lds_floor_find(&fresh, &density, which[w]));
        assert_int_equal(again.lines, fresh.lines);
        for (int i = 0; i < density.levels; i++) {
            size_t bins = (size_t)density.level[i].n / 2 + 1;
            assert_memory_equal(again.taken[i], fresh.taken[i], bins);
            assert_memory_equal(again.reference[i], fresh.reference[i], bins * sizeof(double));
            assert_memory_equal(again.filled[i], fresh.filled[i], bins * sizeof(double));
            assert_int_equal(again.gaps[i], fresh.gaps[i]);
        }
        lds_floor_free(&fresh);
    }
    lds_floor_free(&again);
    lds_density_free(&density);
    free(few.line);
    free(all.line);
    free(x);
}

static void silence(void **state)
{
    (void)state;
    double *x = sim_samples(RATE);
    memset(x, 0, RATE * sizeof *x);
    struct lds_density density;
    struct lds_floor floor;
    spectrum_of(x, RATE, RATE, &density);
    assert_true(lds_floor_find(&floor, &density, NULL));
    struct lds_band_power band = band_of(&floor, 20.0, 20e3, 0);
    check_close(band.power, 0.0, 0.0);
    check_close(band.variance, 0.0, 0.0);
    lds_floor_free(&floor);
    lds_density_free(&density);
    free(x);
}

/* A capture's mean, however large, is not noise. */
static void mean_is_left_out(void **state)
{
    (void)state;
    const size_t n = 2 * RATE;
    double *x = sim_samples(n);
    make_noise(x, n, 32);
    for (size_t i = 0; i < n; i++)
        x[i] += 0.5;
    struct lds_density density;
    struct lds_floor floor;
    spectrum_of(x, n, RATE, &density);
    assert_true(lds_floor_find(&floor, &density, NULL));
    check_close(band_of(&floor, 5.0, 100.0, 0).power / (1e-12 * 95.0), 1.0, 0.4);
    check_close(band_of(&floor, 20.0, 20e3, 0).power / (1e-12 * 19980.0), 1.0, 0.03);
    lds_floor_free(&floor);
    lds_density_free(&density);
    free(x);
}

static void intervals_of_bands(void **state)
{
    (void)state;
    struct lds_band_power band = {.power = 2.0, .variance = 2.0 * 4.0 / 16.0, .dof = 16.0, .blocks = LDS_BLOCKS};
    for (int b = 0; b < LDS_BLOCKS; b++) {
        band.block[b] = 2.0;
        band.block_variance[b] = LDS_BLOCKS * band.variance;
    }
    double u, dof, low, high;
    bool unsteady;
    lds_band_interval(&band, &u, &dof, &low, &high, &unsteady);
    /* the 95 % factors of chi-square with 16 degrees of freedom: 0.554682 .. 2.316268 */
    check_close(low / 2.0, 0.554682, 1e-5);
    check_close(high / 2.0, 2.316268, 1e-5);
    check_close(u, sqrt(0.5), 1e-12);
    assert_false(unsteady);
    band.dof = 4000.0;
    band.variance = 2.0 * 4.0 / 4000.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        band.block[b] = b % 2 ? 1.5 : 2.5;
        band.block_variance[b] = LDS_BLOCKS * band.variance;
    }
    lds_band_interval(&band, &u, &dof, &low, &high, &unsteady);
    assert_true(unsteady);
    check_close(dof, 7.0, 0.0);
    check_close(high - 2.0, 2.364624 * 0.5 * sqrt(8.0 / 7.0) / sqrt(8.0), 1e-5); /* t(7) at 97.5 % */
    check_close(low, 4.0 - high, 1e-12);
    /* GSL's inverse gives up at some thousands of degrees of freedom; tables: nu = 2000, 0.940804 .. 1.064993 */
    check_close(1.0 / lds_chi_square_quantile(0.975, 2000.0), 0.940804, 1e-6);
    check_close(1.0 / lds_chi_square_quantile(0.025, 2000.0), 1.064993, 1e-6);
    check_close(1.0 / lds_chi_square_quantile(0.025, 999.999), 1.093784, 2e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bins_are_cut_in_proportion),
        cmocka_unit_test(coloured_degrees_of_freedom),
        cmocka_unit_test(reference_follows_slopes),
        cmocka_unit_test(lines_go_and_stay),
        cmocka_unit_test(suspects),
        cmocka_unit_test(found_again),
        cmocka_unit_test(silence),
        cmocka_unit_test(mean_is_left_out),
        cmocka_unit_test(intervals_of_bands),
    };
    return cmocka_run_group_tests_name("lines", tests, NULL, NULL);
}
