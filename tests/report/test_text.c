#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "record/record.h"
#include "record/series.h"
#include "report/sample.h"
#include "safe_text.h"

/* Which text: all of it, one screen, one screen with keys. */
enum form { FULL, SCREEN, KEYS, FORMS };

static char *written_as(enum form form, const struct lds_measurement *measurement, size_t count)
{
    FILE *out = tmpfile();
    assert_non_null(out);
    if (form == FULL)
        assert_int_equal(lds_report_text(measurement, count, out, NULL), LDS_OK);
    else
        assert_int_equal(lds_report_screen(measurement, count, form == KEYS ? LDS_SCREEN_KEYS : 0, out, NULL), LDS_OK);
    size_t size = (size_t)ftell(out);
    char *text = calloc(size + 1, 1);
    rewind(out);
    assert_int_equal(fread(text, 1, size, out), size);
    fclose(out);
    return text;
}

static char *written(const struct lds_measurement *measurement, size_t count)
{
    return written_as(FULL, measurement, count);
}

/* No line wider than 80 columns, no trailing spaces, no control characters. */
static void assert_page(const char *text, unsigned seed)
{
    while (*text) {
        size_t length = strcspn(text, "\n");
        char line[1024];
        assert_true(length < sizeof line);
        memcpy(line, text, length);
        line[length] = '\0';
        if (lds_words_width(line) > 80)
            fail_msg("seed %u: %d columns: %s", seed, lds_words_width(line), line);
        if (length > 0 && line[length - 1] == ' ')
            fail_msg("seed %u: ends in spaces: \"%s\"", seed, line);
        for (size_t i = 0; i < length; i++)
            assert_true((unsigned char)line[i] >= 0x20 && line[i] != 0x7f);
        text += length;
        text += *text == '\n';
    }
}

static void compare_with(const char *name, enum form form, const struct lds_measurement *measurement)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", getenv("GOLDEN"), name) > 0);
    char *text = written_as(form, measurement, 1);
    FILE *made = getenv("GOLDEN_MAKE") ? fopen(path, "w") : NULL; /* then look at what changed */
    if (made) {
        fputs(text, made);
        fclose(made);
    }
    char *expected = read_all(path);
    assert_string_equal(text, expected);
    assert_page(text, 0);
    free(text);
    free(expected);
    free(path);
}

static void test_golden(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("recordings/Sedge 25, sine, before.wav", true);
    compare_with("golden_calibrated.txt", FULL, &measurement);
    compare_with("golden_screen.txt", SCREEN, &measurement);
    compare_with("golden_keys.txt", KEYS, &measurement);
    lds_measurement_free(&measurement);
    measurement = sample_measurement("recordings/Sedge 25, sine, before.wav", false);
    compare_with("golden_uncalibrated.txt", FULL, &measurement);
    setlocale(LC_ALL, "de_DE.UTF-8"); /* a comma for a point, where it is installed */
    compare_with("golden_uncalibrated.txt", FULL, &measurement);
    setlocale(LC_ALL, "C");
    lds_measurement_free(&measurement);
}

static void test_nasty_names(void **state)
{
    (void)state;
    for (size_t i = 0; i < nasty_names_count; i++) {
        struct lds_measurement measurement = sample_measurement(nasty_names[i], true);
        measurement.bench.name = strdup(nasty_names[i]);
        lds_channel_add_absent(&measurement.channel[0], "snr", "because of %s", nasty_names[i]);
        for (enum form form = FULL; form < FORMS; form++) {
            char *text = written_as(form, &measurement, 1);
            assert_page(text, 0);
            free(text);
        }
        lds_measurement_free(&measurement);
    }
}

/* The lines from one channel's heading to the next heading, or to the end. */
static int lines_of_channel(const char *text, const char *heading, const char *next)
{
    const char *from = strstr(text, heading), *to = next ? strstr(text, next) : NULL;
    int lines = 0;
    assert_non_null(from);
    for (const char *c = from; *c && c != to; c++)
        lines += *c == '\n';
    return lines;
}

/* A channel is one screen of 40 lines, also where every figure and line has every flag, and its notes below are few. */
static void test_screen_is_short(void **state)
{
    (void)state;
    for (int flagged = 0; flagged < 2; flagged++)
        for (enum form form = SCREEN; form < FORMS; form++) {
            struct lds_measurement measurement = sample_measurement("a.wav", true);
            for (int c = 0; flagged && c < 2; c++) {
                struct lds_channel *channel = &measurement.channel[c];
                for (size_t i = 0; i < channel->figures; i++)
                    channel->figure[i].flags = (1u << LDS_FLAGS) - 1;
                for (size_t k = 0; k < channel->series_count; k++)
                    for (size_t i = 0; channel->series[k].flag && i < channel->series[k].rows; i++)
                        channel->series[k].flag[i] |= LDS_FLAG_NEAR_LINE | LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CLIPPED;
            }
            char *text = written_as(form, &measurement, 1);
            int first = lines_of_channel(text, "Channel 1\n", "Channel 2\n"),
                second = lines_of_channel(text, "Channel 2\n", "\n  ¹ "),
                notes = lines_of_channel(text, "\n  ¹ ", NULL);
            if (first > 40 || second > 40 || notes > 24)
                fail_msg("%d and %d lines, %d of notes: %s", first, second, notes, text);
            assert_page(text, 0);
            free(text);
            lds_measurement_free(&measurement);
        }
}

static double any(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    double random = (*seed >> 8) / 16777216.0;
    if (random < 0.03)
        return NAN;
    if (random < 0.04)
        return INFINITY;
    if (random < 0.05)
        return -INFINITY;
    if (random < 0.08)
        return 0.0;
    *seed = *seed * 1664525u + 1013904223u;
    return ((*seed >> 8) % 2 ? -1.0 : 1.0) * pow(10.0, 24.0 * random - 14.0);
}

/* Every row of the table with values and intervals of every size. */
static void test_any_values(void **state)
{
    (void)state;
    size_t rows;
    const struct lds_key *keys = lds_keys(&rows);
    for (unsigned start = 1; start <= 200; start++) {
        unsigned seed = start;
        struct lds_measurement measurement = sample_measurement("a.wav", start % 2);
        for (int c = 0; c < 2; c++) {
            struct lds_channel *channel = &measurement.channel[c];
            for (size_t i = 0; i < rows; i++) {
                char key[64];
                snprintf(key, sizeof key, "%s%s", keys[i].stem, i % 3 ? "" : ".22.4k-22.387k");
                struct lds_figure *figure = lds_channel_add(channel, key);
                figure->value = any(&seed);
                figure->low = any(&seed);
                figure->high = any(&seed);
                figure->removed_hz = any(&seed);
                figure->band_hz[0] = fabs(any(&seed));
                figure->band_hz[1] = fabs(any(&seed));
                figure->orders[1] = i % 5 ? 0 : 1234;
                figure->flags = seed & ((1u << LDS_FLAGS) - 1);
            }
            struct lds_series *lines = lds_channel_own_series(channel, "harmonics");
            for (size_t i = 0; i < lines->rows; i++) {
                lds_series_set(lines, i, LDS_LINE_RELATIVE, -400.0 * (seed % 1000) / 1000.0);
                lds_series_set_limits(lines, i, LDS_LINE_RELATIVE, any(&seed), any(&seed));
                lds_series_set(lines, i, LDS_LINE_LEVEL, fabs(any(&seed)));
                lds_series_set(lines, i, LDS_LINE_PHASE, any(&seed) > 0 ? 180.0 : -180.0);
            }
            lines = lds_channel_own_series(channel, "mains");
            for (size_t i = 0; i < lines->rows; i++) {
                lds_series_set(lines, i, LDS_LINE_LEVEL, fabs(any(&seed)));
                lds_series_set_limits(lines, i, LDS_LINE_LEVEL, any(&seed), any(&seed));
            }
        }
        for (enum form form = FULL; form < FORMS; form++) {
            char *text = written_as(form, &measurement, 1);
            assert_page(text, start);
            free(text);
        }
        lds_measurement_free(&measurement);
    }
}

static void test_trust_comes_first(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("a.wav", true);
    char *text = written(&measurement, 1);
    char *nothing = strstr(text, "Capture sound"), *second = strstr(text, "Channel 2");
    assert_true(nothing && second && nothing < second && nothing < strstr(text, "Level and power"));
    assert_null(strstr(second, "Capture sound"));
    assert_non_null(strstr(second, "gap at 1.234 s"));
    assert_non_null(strstr(text, "; channels driven: not"));
    free(text);

    /* A count speaks for itself, without a list of places or a flag. */
    measurement.channel[0].figure[0].value = 3.0;
    text = written(&measurement, 1);
    assert_non_null(strstr(text, "The recording clips"));
    assert_null(strstr(text, "Capture sound"));
    free(text);
    lds_measurement_free(&measurement);

    struct lds_measurement bare = {.channels = 1, .channel = calloc(1, sizeof(struct lds_channel)), .seconds = NAN};
    bare.window_s = bare.bench.full_scale_v = bare.bench.load_ohm = NAN;
    text = written(&bare, 1);
    assert_null(strstr(text, "Capture sound"));
    assert_non_null(strstr(text, "load not stated"));
    assert_page(text, 0);
    free(text);
    lds_measurement_free(&bare);
}

static void test_full_disk(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("a.wav", true);
    FILE *out = fopen("/dev/full", "w");
    struct lds_error error = {0};
    assert_int_equal(lds_report_text(&measurement, 1, out, &error), LDS_IO);
    fclose(out);
    lds_measurement_free(&measurement);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_golden),
        cmocka_unit_test(test_nasty_names),
        cmocka_unit_test(test_screen_is_short),
        cmocka_unit_test(test_any_values),
        cmocka_unit_test(test_trust_comes_first),
        cmocka_unit_test(test_full_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
