#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/report.h"
#include "record/series.h"
#include "report/sample.h"

enum { COLUMNS = 17, ROWS_MAX = 2000 };
enum {
    FILE_NAME,
    CHANNEL,
    KEY,
    LABEL,
    VALUE,
    UNIT,
    LOW,
    HIGH,
    U_A,
    U_B,
    DOF,
    BAND_LOW,
    BAND_HIGH,
    FIRST,
    LAST,
    FLAGS,
    REASON
};

struct table {
    char *cell[ROWS_MAX][COLUMNS];
    size_t rows;
};

/* One cell by the grammar of RFC 4180; *text goes past it and the comma. Returns true when the row ends after it. */
static bool read_cell(char **text, char **cell)
{
    char *from = *text, *to = *text;
    *cell = to;
    bool ended;
    if (*from == '"') {
        for (from++;; from++) {
            if (*from == '"' && *++from != '"')
                break;
            assert_int_not_equal(*from, '\0');
            *to++ = *from;
        }
    } else {
        while (*from != ',' && *from != '\r') {
            assert_true(*from != '"' && *from != '\n' && *from != '\0');
            *to++ = *from++;
        }
    }
    ended = *from == '\r';
    assert_true(ended || *from == ',');
    if (ended)
        assert_int_equal(*++from, '\n');
    *text = from + 1;
    *to = '\0';
    return ended;
}

static struct table *parse(char *text)
{
    struct table *table = calloc(1, sizeof *table);
    while (*text) {
        assert_true(table->rows < ROWS_MAX);
        for (int column = 0; column < COLUMNS; column++)
            assert_int_equal(read_cell(&text, &table->cell[table->rows][column]), column == COLUMNS - 1);
        table->rows++;
    }
    return table;
}

static char *written(const struct lds_measurement *measurement, size_t count)
{
    char *folder = new_folder(), *path = NULL;
    assert_true(asprintf(&path, "%s/a.csv", folder) > 0);
    assert_int_equal(lds_report_csv(measurement, count, path, NULL), LDS_OK);
    char *text = read_all(path);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    return text;
}

static char **row_of(struct table *table, const char *channel, const char *key)
{
    for (size_t i = 1; i < table->rows; i++)
        if (strcmp(table->cell[i][CHANNEL], channel) == 0 && strcmp(table->cell[i][KEY], key) == 0)
            return table->cell[i];
    fail_msg("no row %s of channel %s", key, channel);
    return NULL;
}

static void test_rows(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    measurement.channel[1].problem[0].ceiling = 21.25;
    char *text = written(&measurement, 1);
    struct table *table = parse(text);
    assert_string_equal(table->cell[0][FILE_NAME], "file");
    assert_string_equal(table->cell[0][BAND_HIGH], "band_high_hz");
    assert_string_equal(table->cell[0][REASON], "absent_reason");
    char **row = row_of(table, "1", "thd");
    assert_string_equal(row[FILE_NAME], "before.wav");
    assert_string_equal(row[VALUE], "-90.402"); /* a number keeps its sign and gets no quote */
    assert_string_equal(row[UNIT], "dB");
    assert_string_equal(row[FIRST], "2");
    assert_string_equal(row[LAST], "20");
    assert_string_equal(row[BAND_HIGH], "20000");
    assert_string_equal(row[FLAGS], "chain not measured");
    row = row_of(table, "2", "noise.band.20k-100k");
    assert_string_equal(row[FLAGS], "band cut; unsteady");
    assert_string_equal(row[VALUE], "8.81e-05");
    row = row_of(table, "1", "mains.even");
    assert_string_equal(row[VALUE], "");
    assert_string_equal(row[HIGH], "2.31e-06");
    assert_string_equal(row_of(table, "1", "level.dc")[REASON], "the bench does not say that the input is DC coupled");
    assert_string_equal(row_of(table, "1", "harmonic.2.relative")[UNIT], "dB");
    assert_string_equal(row_of(table, "1", "harmonic.2.level")[UNIT], "V");
    assert_string_equal(row_of(table, "1", "mains.line.3")[UNIT], "V");
    assert_string_equal(row_of(table, "1", "spur.2.frequency")[VALUE], "61234.5");
    assert_string_equal(row_of(table, "2", "problem.1.at")[VALUE], "1.234");
    assert_string_equal(row_of(table, "2", "problem.1.ceiling")[VALUE], "21.25");
    assert_string_equal(row_of(table, "2", "problem.1.ceiling")[UNIT], "V");
    assert_string_equal(row_of(table, "1 and 2", "balance")[VALUE], "-0.0123");
    free(table);
    free(text);
    lds_measurement_free(&measurement);
}

static void test_nasty_names(void **state)
{
    (void)state;
    for (size_t i = 0; i < nasty_names_count; i++) {
        struct lds_measurement measurement = sample_measurement(nasty_names[i], true);
        char *text = written(&measurement, 1);
        struct table *table = parse(text);
        const char *name = table->cell[1][FILE_NAME];
        if (nasty_names[i][0] && strchr("=+-@", nasty_names[i][0])) {
            assert_int_equal(name[0], '\'');
            assert_string_equal(name + 1, nasty_names[i]);
        } else if (!strstr(nasty_names[i], "UTF-8")) {
            bool red = strstr(nasty_names[i], "red"), turned = strstr(nasty_names[i], "turned");
            assert_string_equal(name, red      ? "\\x1b[31mred\\x07.wav"
                                      : turned ? "turned \\u202e about.wav"
                                               : nasty_names[i]);
        }
        assert_null(strpbrk(text, "\x1b\x07"));
        free(table);
        free(text);
        lds_measurement_free(&measurement);
    }
}

static void test_formulas_stay_text(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement(" =1+1", true);
    struct lds_series *spurs = lds_channel_own_series(&measurement.channel[0], "spurs");
    strcpy(spurs->text[0], "@cmd|' /C x'!A0");
    strcpy(spurs->text[1], "\ttab");
    char *text = written(&measurement, 1);
    struct table *table = parse(text);
    assert_string_equal(table->cell[1][FILE_NAME], "' =1+1");
    assert_string_equal(row_of(table, "1", "spur.1.level")[LABEL], "'@cmd|' /C x'!A0");
    assert_string_equal(row_of(table, "1", "spur.2.level")[LABEL], "'\ttab");
    free(table);
    free(text);
    lds_measurement_free(&measurement);
}

static void test_full_disk(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    struct lds_error error = {0};
    assert_int_equal(lds_report_csv(&measurement, 1, "/dev/full", &error), LDS_IO);
    assert_int_equal(lds_report_csv(&measurement, 1, "/no/such/folder/a.csv", &error), LDS_IO);
    lds_measurement_free(&measurement);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rows),
        cmocka_unit_test(test_nasty_names),
        cmocka_unit_test(test_formulas_stay_text),
        cmocka_unit_test(test_full_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
