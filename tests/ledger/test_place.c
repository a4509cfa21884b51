/* A capture that is not in the ledger, among the units of a type. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/made.h"
#include "ledger/jobs.h"
#include "loadside/report.h"
#include "safe_text.h"

struct place {
    char *folder, *path;
};

static void add(const char *path, const char *serial, double more_db, double power_w)
{
    struct made_job made;
    struct lds_error error = {0};
    bool added = false;
    make_job(&made, serial, "2020-01-01", more_db);
    made.capture[2].power_w = made.capture[3].power_w = power_w;
    if (lds_ledger_add_job(path, &made.job, &added, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_true(added);
    free_job(&made);
}

/* Five units at 10 W: 0, 1, 2, 4 and 8 dB, and one at 20 W. */
static int set_up(void **state)
{
    static const double db[] = {0.0, 1.0, 2.0, 4.0, 8.0};
    struct place *place = malloc(sizeof *place);
    place->folder = ledger_folder();
    place->path = path_in(place->folder, "amplifiers.ledger");
    for (int i = 0; i < 5; i++) {
        char serial[8];
        snprintf(serial, sizeof serial, "%d", i);
        add(place->path, serial, db[i], 10.0);
    }
    add(place->path, "5", 0.0, 20.0);
    *state = place;
    return 0;
}

static int tear_down(void **state)
{
    struct place *place = *state;
    remove_folder(place->folder);
    free(place->path);
    free(place);
    return 0;
}

/* The sine of a unit after the work, with the tone that identifies its role; the power of channel 1 is as given. */
static struct lds_measurement *make_sine(struct made_job *made, double more_db, double power_w)
{
    make_job(made, "new", "2026-01-01", more_db);
    struct lds_measurement *sine = &made->measurement[3];
    for (size_t c = 1; c <= 2; c++)
        made_in(sine, c, "tone.level", 8.9, 0.01);
    assert_string_equal(sine->channel[0].figure[0].key, "tone.power");
    sine->channel[0].figure[0].value = power_w;
    return sine;
}

static void stand(const char *path, const char *type, const struct lds_measurement *measurement,
                  struct lds_ledger_history *placed)
{
    struct lds_ledger *ledger;
    struct lds_error error = {0};
    char before[65], after[65];
    file_sum(path, before);
    assert_int_equal(lds_ledger_open(path, LDS_LEDGER_READ_ONLY, &ledger, NULL), LDS_OK);
    if (lds_ledger_place(ledger, "Thistlecote", type, measurement, placed, &error) != LDS_OK)
        fail_msg("%s", error.message);
    lds_ledger_close(ledger);
    file_sum(path, after);
    assert_string_equal(before, after);
}

static const struct lds_ledger_standing *standing_of(const struct lds_ledger_history *placed, const char *key,
                                                     int channel)
{
    for (size_t i = 0; i < placed->series; i++)
        if (strcmp(placed->serie[i].key, key) == 0 && placed->serie[i].channel == channel)
            return &placed->serie[i].standing;
    fail_msg("no series %s of channel %d", key, channel);
    return NULL;
}

/* THD of channel 1 at 1.5 dB among -89, -88, -87, -85 and -81 dB: the median and the deviations 2, 1, 0, 2, 6 are of
 * those five alone. */
static void test_sine(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    struct lds_ledger_history placed;
    stand(place->path, "Sedge 25", make_sine(&made, 1.5, 10.25), &placed);
    free_job(&made); /* the result has its own copies */
    assert_int_equal(placed.population, 6);
    assert_ptr_equal(placed.job->capture->role, lds_role_find("sine"));
    assert_true(placed.job->capture->power_w == 10.0);
    assert_string_equal(placed.job->capture->file, "ten-after.wav");
    for (int channel = 1; channel <= 2; channel++) {
        const struct lds_ledger_standing *thd = standing_of(&placed, "thd", channel);
        double more = channel - 1;
        assert_int_equal(thd->units, 5);
        assert_int_equal(thd->known, 5);
        assert_int_equal(thd->lower, 2);
        assert_int_equal(thd->higher, 3);
        assert_int_equal(thd->alike, 0);
        assert_true(fabs(thd->value - (-87.5 + more)) < 1e-9);
        assert_true(fabs(thd->median - (-87.0 + more)) < 1e-9);
        assert_true(fabs(thd->spread - 1.4826 * 2.0) < 1e-9);
    }
    /* Crosstalk of the pair, limits at 0.5 dB: -80 to -72 dB, and -78.5 is like its neighbours. */
    assert_int_equal(standing_of(&placed, "crosstalk", 1)->alike, 2);
    assert_int_equal(standing_of(&placed, "crosstalk", 1)->lower, 1);
    lds_ledger_history_free(&placed);
}

/* An idle capture has no power, and its load does not matter: all six. */
static void test_idle(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    struct lds_ledger_history placed;
    make_job(&made, "new", "2026-01-01", -3.0);
    made.measurement[1].bench.load_ohm = 4.0;
    stand(place->path, "Sedge 25", &made.measurement[1], &placed);
    free_job(&made);
    assert_ptr_equal(placed.job->capture->role, lds_role_find("idle"));
    assert_true(isnan(placed.job->capture->power_w));
    assert_int_equal(standing_of(&placed, "mains.total", 2)->units, 6);
    assert_int_equal(standing_of(&placed, "mains.total", 2)->higher, 6);
    lds_ledger_history_free(&placed);
}

/* The stated power is the nearest within 3 %; another power, load or rate has no units. */
static void test_conditions(void **state)
{
    const struct place *place = *state;
    static const struct {
        double power_w, load_ohm, rate_hz, as_w;
        size_t units;
    } row[] = {{9.71, 8.0, 48e3, 10.0, 5},  {10.29, 8.0, 48e3, 10.0, 5}, {10.31, 8.0, 48e3, 10.31, 0},
               {19.5, 8.0, 48e3, 20.0, 1},  {13.0, 8.0, 48e3, 13.0, 0},  {10.25, 4.0, 48e3, 10.25, 0},
               {10.25, 8.0, 96e3, 10.25, 0}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct made_job made;
        struct lds_ledger_history placed;
        struct lds_measurement *sine = make_sine(&made, 1.5, row[i].power_w);
        sine->channel[1].figure[0].value = 1e-6; /* not driven */
        sine->bench.load_ohm = row[i].load_ohm;
        sine->rate_hz = row[i].rate_hz;
        stand(place->path, "Sedge 25", sine, &placed);
        assert_true(placed.job->capture->power_w == row[i].as_w);
        assert_int_equal(standing_of(&placed, "thd", 1)->units, row[i].units);
        assert_int_equal(isnan(standing_of(&placed, "thd", 1)->median), row[i].units == 0);
        lds_ledger_history_free(&placed);
        free_job(&made);
    }
    struct made_job made;
    struct lds_ledger_history placed;
    stand(place->path, "Sedge 30", make_sine(&made, 0.0, 10.0), &placed);
    assert_int_equal(placed.population, 0);
    lds_ledger_history_free(&placed);
    free_job(&made);
}

static void test_find_type(void **state)
{
    (void)state;
    char make[] = "Thistlecote", other[] = "Bramblewick", sedge[] = "Sedge 25", rush[] = "Rush 8", one[] = "1",
         two[] = "2";
    const struct lds_ledger_unit unit[] = {{.make = other, .type = rush, .serial = one},
                                           {.make = make, .type = rush, .serial = one},
                                           {.make = make, .type = sedge, .serial = one},
                                           {.make = make, .type = sedge, .serial = two},
                                           {.make = make, .serial = two}};
    struct lds_error error = {0};
    assert_string_equal(lds_ledger_find_type(unit, 5, "sedge 25", &error)->type, sedge);
    assert_ptr_equal(lds_ledger_find_type(unit, 5, "Thistlecote/Rush 8", &error), &unit[1]);
    assert_null(lds_ledger_find_type(unit, 5, "Rush 8", &error));
    assert_non_null(strstr(error.message, "2 types of that name"));
    assert_null(lds_ledger_find_type(unit, 5, "Sedge 52", &error));
    assert_non_null(strstr(error.message, "no such type in the ledger; the nearest is Sedge 25"));
    assert_null(lds_ledger_find_type(unit, 5, "Thistlecoat/Sedge 25", &error));
    assert_non_null(strstr(error.message, "the nearest is Thistlecote/Sedge 25"));
    assert_null(lds_ledger_find_type(unit, 5, "", &error));
    assert_null(lds_ledger_find_type(unit, 0, "Sedge 25", &error));
}

static char *text_of(const struct place *place, double power_w)
{
    struct made_job made;
    struct lds_ledger_history placed;
    char *text = NULL;
    size_t size;
    stand(place->path, "Sedge 25", make_sine(&made, 1.5, power_w), &placed);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_standing_text(&placed, 0, out, NULL), LDS_OK);
    fclose(out);
    lds_ledger_history_free(&placed);
    free_job(&made);
    return text;
}

static void test_text(void **state)
{
    const struct place *place = *state;
    char *text = text_of(place, 10.25);
    assert_ptr_equal(strstr(text, "ten-after.wav among the units of Thistlecote Sedge 25\n\n6 units of this"), text);
    assert_non_null(strstr(text, "Sine, 10 W into 8 ohm, sampled at 48 kHz, channel 1\n"));
    assert_non_null(strstr(text, "dB       -87.50  -87.00     3.0      2      0      3\n"));
    assert_null(strstr(text, "No unit"));
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
        assert_true(lds_words_width(line) <= 80);
    free(text);
    text = text_of(place, 13.0);
    assert_non_null(strstr(text, "Sine, 13 W into 8 ohm, sampled at 48 kHz, channel 1\n"));
    assert_non_null(strstr(text, "No unit in the ledger has these figures under these conditions.\n"));
    assert_null(strstr(text, "median  "));
    free(text);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, set_up, tear_down)
    const struct CMUnitTest tests[] = {TEST(test_sine), TEST(test_idle), TEST(test_conditions),
                                       cmocka_unit_test(test_find_type), TEST(test_text)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
