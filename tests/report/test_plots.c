#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "loadside/report.h"
#include "record/series.h"
#include "report/plot.h"
#include "report/sample.h"

enum { SKIPPED = 77 };

static bool ends_with(const char *name, const char *suffix)
{
    size_t length = strlen(name), tail = strlen(suffix);
    return length >= tail && strcmp(name + length - tail, suffix) == 0;
}

/* Counts files by their suffix, checks their names and that they are not empty, and removes them and the folder. */
static void take_away(char *folder, int *scripts, int *data, int *pictures)
{
    *scripts = *data = *pictures = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry; (entry = readdir(dir));) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        for (const char *c = entry->d_name; *c; c++)
            if (!strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.-_", *c))
                fail_msg("a file is named \"%s\"", entry->d_name);
        char *path = NULL;
        assert_true(asprintf(&path, "%s/%s", folder, entry->d_name) > 0);
        struct stat info;
        assert_int_equal(stat(path, &info), 0);
        assert_true(info.st_size > 100);
        *scripts += ends_with(path, ".gp");
        *data += ends_with(path, ".dat");
        *pictures += ends_with(path, ".png") || ends_with(path, ".svg") || ends_with(path, ".pdf");
        unlink(path);
        free(path);
    }
    closedir(dir);
    assert_int_equal(rmdir(folder), 0);
    free(folder);
}

static void keep_channels(struct lds_measurement *measurement, size_t kept)
{
    size_t all = measurement->channels;
    struct lds_measurement rest = {.channels = all - kept, .channel = calloc(all - kept, sizeof(struct lds_channel))};
    memcpy(rest.channel, &measurement->channel[kept], (all - kept) * sizeof(struct lds_channel));
    measurement->channels = kept;
    lds_measurement_free(&rest);
}

static void test_draws_everything(void **state)
{
    (void)state;
    struct lds_measurement both[2] = {sample_measurement("a/before.wav", true),
                                      sample_measurement("b/Before.flac", false)};
    keep_channels(&both[1], 1);
    char *folder = new_folder();
    rmdir(folder); /* it is created if missing */
    int drawn = 0, scripts, data, pictures;
    struct lds_error error = {0};
    if (lds_report_plots(both, 2, folder, LDS_PLOT_PDF, &drawn, &error) != LDS_OK)
        fail_msg("%s", error.message);
    take_away(folder, &scripts, &data, &pictures);
    assert_int_equal(drawn, 1);
    assert_int_equal(scripts, 3 * 5); /* two captures of one name, three channels in total, five pictures */
    assert_int_equal(data, scripts);
    assert_int_equal(pictures, 3 * scripts);
    lds_measurement_free(&both[0]);
    lds_measurement_free(&both[1]);
}

static char *data_of(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    char *data = read_all(path);
    free(path);
    return data;
}

/* Lines stand at their level over a floor of one bandwidth; a peak that is no line has a mark of its own. */
static void test_spectrum_levels(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("a.wav", true);
    keep_channels(&measurement, 1);
    struct lds_channel *channel = &measurement.channel[0];
    struct lds_series *density = lds_channel_own_series(channel, "density"),
                      *spectrum = lds_channel_own_series(channel, "spectrum");
    const struct lds_series *harmonics = lds_channel_series(channel, "harmonics");
    enum { PEAK = 2674 }; /* at 30 kHz or so */
    double peak_hz = lds_series_value(spectrum, PEAK, LDS_CURVE_X);
    lds_series_set(density, PEAK, LDS_CURVE_Y, 11.0 * 290e-9);
    lds_series_set(spectrum, PEAK, LDS_CURVE_Y, 11.0 * 290e-9 * sqrt(1.9));
    lds_series_set(density, PEAK + 40, LDS_CURVE_Y, 9.0 * 290e-9); /* less than 20 dB over the floor */
    char *folder = new_folder();
    int drawn = 0, scripts, pictures, files;
    assert_int_equal(lds_report_plots(&measurement, 1, folder, LDS_PLOT_SCRIPTS, &drawn, NULL), LDS_OK);
    char *data = data_of(folder, "a-channel1-spectrum.dat");
    for (double hz = 12.5; hz < 60e3; hz *= pow(10.0, 0.1)) {
        double truth = 20.0 * log10(290e-9 * sqrt(1.0 + 38.0 / hz));
        assert_true(fabs(sample_plotted(data, 0, hz, 1) - truth) < 0.01);
    }
    for (size_t i = 0; i < 5; i++)
        assert_true(fabs(sample_plotted(data, 1, lds_series_value(harmonics, i, LDS_LINE_HZ), 1) -
                         20.0 * log10(lds_series_value(harmonics, i, LDS_LINE_LEVEL))) < 0.01);
    assert_true(fabs(sample_plotted(data, 5, peak_hz, 1) - 20.0 * log10(11.0 * 290e-9 * sqrt(1.9))) < 0.01);
    assert_true(isnan(sample_plotted(data, 5, lds_series_value(spectrum, PEAK + 40, LDS_CURVE_X), 1)));
    free(data);
    take_away(folder, &scripts, &files, &pictures);
    lds_measurement_free(&measurement);
}

/* For the page of a job: only the spectrum of the first capture, as SVG; or nothing. Scripts and data are complete. */
/* A short logarithmic axis has labels between the powers of ten. */
static void test_labels_of_short_axes(void **state)
{
    (void)state;
    static const struct {
        double first, last;
        const char *labels; /* NULL: powers of ten alone */
    } axis[] = {{20.0, 20e3, NULL},
                {1e3, 32e3, NULL}, /* 1.505 decades */
                {4e3, 32e3, "set xtics add (5000, 20000)\n"},
                {31.25, 500.0, "set xtics add (50, 200, 500)\n"},
                {0.02, 0.3, "set xtics add (0.02, 0.05, 0.2)\n"},
                {2500.0, 4500.0, "set xtics add (3000, 4000)\n"}};
    for (size_t i = 0; i < sizeof axis / sizeof axis[0]; i++) {
        char text[1024] = "";
        FILE *out = tmpfile();
        assert_non_null(out);
        lds_plot_frequency_axis(out, axis[i].first, axis[i].last);
        rewind(out);
        assert_true(fread(text, 1, sizeof text - 1, out) > 0);
        fclose(out);
        if (axis[i].labels ? !strstr(text, axis[i].labels) : strstr(text, "set xtics") != NULL)
            fail_msg("from %g to %g: %s", axis[i].first, axis[i].last, text);
    }
}

static void test_draws_for_the_page(void **state)
{
    (void)state;
    static const struct {
        unsigned options;
        int pictures;
    } cases[] = {{LDS_PLOT_PAGE, 2}, {LDS_PLOT_SCRIPTS, 0}};
    struct lds_measurement both[2] = {sample_measurement("a.wav", true), sample_measurement("b.wav", false)};
    for (size_t i = 0; i < 2; i++) {
        char *folder = new_folder();
        int drawn = 0, scripts, data, pictures;
        struct lds_error error = {0};
        if (lds_report_plots(both, 2, folder, cases[i].options, &drawn, &error) != LDS_OK)
            fail_msg("%s", error.message);
        take_away(folder, &scripts, &data, &pictures);
        assert_int_equal(drawn, 1);
        assert_int_equal(scripts, 4 * 5);
        assert_int_equal(data, scripts);
        assert_int_equal(pictures, cases[i].pictures);
    }
    lds_measurement_free(&both[0]);
    lds_measurement_free(&both[1]);
}

/* More pictures than one gnuplot draws. */
static void test_many(void **state)
{
    (void)state;
    enum { CAPTURES = 42 };
    struct lds_measurement *many = calloc(CAPTURES, sizeof *many);
    assert_non_null(many);
    for (size_t i = 0; i < CAPTURES; i++) {
        many[i] = sample_measurement("same.wav", true);
        keep_channels(&many[i], 1);
        static const char *const none[] = {"spectrum", "density", "residual", "floor", "mains_waveform"};
        for (size_t k = 0; k < sizeof none / sizeof none[0]; k++)
            sample_cut(&many[i].channel[0], none[k], 0);
    }
    char *folder = new_folder();
    int drawn = 0, scripts, data, pictures;
    struct lds_error error = {0};
    if (lds_report_plots(many, CAPTURES, folder, 0, &drawn, &error) != LDS_OK)
        fail_msg("%s", error.message);
    take_away(folder, &scripts, &data, &pictures);
    assert_int_equal(scripts, CAPTURES);
    assert_int_equal(pictures, 2 * CAPTURES);
    for (size_t i = 0; i < CAPTURES; i++)
        lds_measurement_free(&many[i]);
    free(many);
}

static void test_nasty_names(void **state)
{
    (void)state;
    struct lds_measurement measurement[32];
    assert_true(nasty_names_count <= 32);
    for (size_t i = 0; i < nasty_names_count; i++) {
        measurement[i] = sample_measurement(nasty_names[i], true);
        keep_channels(&measurement[i], 1);
        /* one picture each is enough to read the name */
        static const char *const none[] = {"spectrum", "density", "residual", "floor", "harmonics"};
        for (size_t k = 0; k < sizeof none / sizeof none[0]; k++)
            sample_cut(&measurement[i].channel[0], none[k], 0);
    }
    char *folder = new_folder();
    int drawn = 0, scripts, data, pictures;
    struct lds_error error = {0};
    if (lds_report_plots(measurement, nasty_names_count, folder, 0, &drawn, &error) != LDS_OK)
        fail_msg("%s", error.message);
    take_away(folder, &scripts, &data, &pictures); /* which also finds an empty file "nasty" */
    assert_int_equal(drawn, 1);
    assert_int_equal(scripts, nasty_names_count);
    assert_int_equal(pictures, 2 * scripts);
    for (size_t i = 0; i < nasty_names_count; i++)
        lds_measurement_free(&measurement[i]);
}

/* Channels with nothing, with one point, with only unknowns and zeros: no picture, or one that gnuplot accepts. */
static void test_bare_channels(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("bare.wav", true);
    struct lds_channel *first = &measurement.channel[0], *second = &measurement.channel[1];
    static const struct {
        const char *key;
        int column;
    } unknown[] = {{"harmonics", LDS_LINE_LEVEL},
                   {"harmonics", LDS_LINE_RELATIVE},
                   {"mains", LDS_LINE_LEVEL},
                   {"floor", LDS_FLOOR_DENSITY}};
    for (size_t k = 0; k < sizeof unknown / sizeof unknown[0]; k++) {
        struct lds_series *series = lds_channel_own_series(first, unknown[k].key);
        for (size_t i = 0; i < series->rows; i++)
            lds_series_set(series, i, unknown[k].column, NAN);
    }
    sample_cut(first, "spurs", 0);
    sample_cut(second, "floor", 1);
    sample_cut(second, "harmonics", 1);
    static const char *const curve[] = {"spectrum", "density", "residual", "mains_waveform"};
    for (size_t k = 0; k < sizeof curve / sizeof curve[0]; k++) {
        struct lds_series *zeros = lds_channel_own_series(first, curve[k]);
        for (size_t i = 0; k < 3 && i < zeros->rows; i++)
            lds_series_set(zeros, i, LDS_CURVE_Y, 0.0);
        sample_cut(second, curve[k], 1);
    }
    char *folder = new_folder();
    int drawn = 0, scripts, data, pictures;
    struct lds_error error = {0};
    if (lds_report_plots(&measurement, 1, folder, 0, &drawn, &error) != LDS_OK)
        fail_msg("%s", error.message);
    take_away(folder, &scripts, &data, &pictures);
    assert_int_equal(scripts, 5);
    assert_int_equal(pictures, 10);
    lds_measurement_free(&measurement);
}

static void test_without_gnuplot(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("a.wav", true);
    char *folder = new_folder();
    char *path = strdup(getenv("PATH") ? getenv("PATH") : "");
    setenv("PATH", folder, 1);
    int drawn = 1, scripts, data, pictures;
    assert_int_equal(lds_report_plots(&measurement, 1, folder, 0, &drawn, NULL), LDS_OK);
    setenv("PATH", path, 1);
    free(path);
    take_away(folder, &scripts, &data, &pictures);
    assert_int_equal(drawn, 0);
    assert_int_equal(scripts, 10);
    assert_int_equal(data, 10);
    assert_int_equal(pictures, 0);
    lds_measurement_free(&measurement);
}

static void test_no_folder(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("a.wav", true);
    struct lds_error error = {0};
    int drawn = 1;
    assert_int_equal(lds_report_plots(&measurement, 1, "/dev/null", 0, &drawn, &error), LDS_IO);
    assert_int_equal(drawn, 0);
    assert_non_null(strstr(error.message, "/dev/null"));
    assert_int_equal(lds_report_plots(&measurement, 1, "/no/such/parent/plots", 0, &drawn, &error), LDS_IO);
    lds_measurement_free(&measurement);
}

static bool have_gnuplot(void)
{
    char *path = strdup(getenv("PATH") ? getenv("PATH") : "");
    bool found = false;
    char *rest = path;
    for (char *folder; !found && (folder = strsep(&rest, ":"));) {
        char *program = NULL;
        assert_true(asprintf(&program, "%s/gnuplot", folder) > 0);
        found = access(program, X_OK) == 0;
        free(program);
    }
    free(path);
    return found;
}

int main(void)
{
    if (!have_gnuplot()) {
        fputs("skipped: gnuplot is not installed\n", stderr);
        return SKIPPED;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_draws_everything),
        cmocka_unit_test(test_spectrum_levels),
        cmocka_unit_test(test_labels_of_short_axes),
        cmocka_unit_test(test_draws_for_the_page),
        cmocka_unit_test(test_many),
        cmocka_unit_test(test_nasty_names),
        cmocka_unit_test(test_bare_channels),
        cmocka_unit_test(test_without_gnuplot),
        cmocka_unit_test(test_no_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
