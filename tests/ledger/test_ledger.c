/* What is put into a ledger comes out of it, once. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "compare/made.h"
#include "ledger/jobs.h"

struct place {
    char *folder, *path;
};

static int set_up(void **state)
{
    struct place *place = malloc(sizeof *place);
    place->folder = ledger_folder();
    place->path = path_in(place->folder, "amplifiers.ledger");
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

static bool add(const char *path, const char *serial, const char *date, double more_db)
{
    struct made_job made;
    struct lds_error error = {0};
    bool added = false;
    make_job(&made, serial, date, more_db);
    if (lds_ledger_add_job(path, &made.job, &added, &error) != LDS_OK)
        fail_msg("%s", error.message);
    free_job(&made);
    return added;
}

static void read_history(const char *path, const char *name, struct lds_ledger_history *history)
{
    struct lds_ledger *ledger;
    struct lds_ledger_unit *unit;
    struct lds_error error = {0};
    size_t units;
    if (lds_ledger_open(path, LDS_LEDGER_READ_ONLY, &ledger, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_int_equal(lds_ledger_units(ledger, &unit, &units, NULL), LDS_OK);
    const struct lds_ledger_unit *found = lds_ledger_find(unit, units, name, &error);
    if (!found)
        fail_msg("%s", error.message);
    assert_int_equal(lds_ledger_history(ledger, found, history, NULL), LDS_OK);
    lds_ledger_units_free(unit, units);
    lds_ledger_close(ledger);
}

static const struct lds_ledger_series *find_series(const struct lds_ledger_history *history, const char *key,
                                                   int channel)
{
    for (size_t i = 0; i < history->series; i++)
        if (strcmp(history->serie[i].key, key) == 0 && history->serie[i].channel == channel)
            return &history->serie[i];
    fail_msg("no series %s of channel %d", key, channel);
    return NULL;
}

static void test_comes_back(void **state)
{
    const struct place *place = *state;
    struct lds_ledger_history history;
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    assert_true(add(place->path, "0042", "2024-06-11", -3.0));
    read_history(place->path, "0042", &history);
    assert_string_equal(history.unit.make, "Thistlecote");
    assert_string_equal(history.unit.type, "Sedge 25");
    assert_string_equal(history.unit.first_date, "2019-03-02");
    assert_string_equal(history.unit.last_date, "2024-06-11");
    assert_int_equal(history.jobs, 2);
    const struct lds_ledger_job *job = &history.job[0];
    assert_string_equal(job->client, "the village hall");
    assert_string_equal(job->work, "earth wiring, snubbers");
    assert_string_equal(job->program, "loadside 0.1.0");
    assert_int_equal(job->parts, 1);
    assert_string_equal(job->part[0].after, "22 nF");
    assert_int_equal(job->captures, JOB_CAPTURES);
    assert_string_equal(job->capture[3].file, "ten-after.wav");
    assert_ptr_equal(job->capture[3].role, lds_role_find("sine"));
    assert_int_equal(job->capture[3].when, LDS_WHEN_AFTER);
    assert_true(job->capture[3].power_w == 10.0 && job->capture[3].load_ohm == 8.0);
    assert_true(job->capture[3].seconds == 10.0 && job->capture[3].rate_hz == 48000.0);
    assert_true(isnan(job->capture[0].power_w));
    assert_int_equal(strlen(job->capture[0].sha256), 64);

    const struct lds_ledger_series *thd = find_series(&history, "thd", 2);
    assert_int_equal(thd->points, 4);
    assert_true(thd->main && thd->orders[1] == 19 && thd->load_ohm == 8.0);
    assert_int_equal(thd->point[0].when, LDS_WHEN_BEFORE);
    assert_true(thd->point[0].value == -78.0 && thd->point[1].value == -88.0);
    assert_true(thd->point[3].value == -91.0 && thd->point[3].job == 1);
    assert_true(fabs(thd->point[3].high - (-91.0 + 0.196)) < 1e-4);
    /* The load of an idle amplifier is no condition; a pair has its two channels. */
    assert_true(isnan(find_series(&history, "noise.band.20-20k", 1)->load_ohm));
    assert_int_equal(find_series(&history, "crosstalk", 1)->other, 2);
    assert_int_equal(find_series(&history, "crosstalk", 1)->points, 4);
    lds_ledger_history_free(&history);
}

/* A channel is followed by its number, and has the name of the latest job that names it. */
static void test_channel_names(void **state)
{
    const struct place *place = *state;
    static const char *const names[3][2] = {{"left", NULL}, {"upper", "right"}, {NULL, NULL}};
    static const char *const dates[3] = {"2019-03-02", "2021-05-09", "2024-06-11"};
    struct lds_ledger_history history;
    for (int i = 0; i < 3; i++) {
        struct made_job made;
        bool added;
        make_job(&made, "0042", dates[i], i);
        for (int c = 0; c < JOB_CAPTURES; c++) {
            name_channel(&made.measurement[c], 1, names[i][0]);
            name_channel(&made.measurement[c], 2, names[i][1]);
        }
        assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
        free_job(&made);
    }
    read_history(place->path, "0042", &history);
    assert_int_equal(history.job[0].capture[1].names, 1);
    assert_int_equal(history.job[0].capture[1].channel_name[0].channel, 1);
    assert_string_equal(history.job[0].capture[1].channel_name[0].name, "left");
    assert_int_equal(history.job[1].capture[1].names, 2);
    assert_int_equal(history.job[2].capture[1].names, 0);
    const struct lds_ledger_series *pair = find_series(&history, "crosstalk", 1);
    assert_int_equal(find_series(&history, "thd", 1)->points, 6);
    assert_string_equal(find_series(&history, "thd", 1)->channel_name, "upper");
    assert_null(find_series(&history, "thd", 1)->other_name);
    assert_string_equal(find_series(&history, "thd", 2)->channel_name, "right");
    assert_string_equal(pair->channel_name, "upper");
    assert_string_equal(pair->other_name, "right");
    lds_ledger_history_free(&history);
}

static void test_twice_changes_nothing(void **state)
{
    const struct place *place = *state;
    char before[65], after[65];
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    file_sum(place->path, before);
    assert_false(add(place->path, "0042", "2019-03-02", 0.0));
    file_sum(place->path, after);
    assert_string_equal(before, after);

    /* In another order of the sheet it is the same job; with another date, unit or capture it is not. */
    struct made_job made;
    bool added = true;
    make_job(&made, "0042", "2019-03-02", 0.0);
    struct lds_job_file first = made.file[0];
    made.file[0] = made.file[1];
    made.file[1] = first;
    assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
    assert_false(added);
    free_job(&made);
    assert_true(add(place->path, "0042", "2019-03-03", 0.0));
    assert_true(add(place->path, "0043", "2019-03-02", 0.0));
    assert_true(add(place->path, "0042", "2019-03-02", 0.5));
    struct lds_ledger_history history;
    read_history(place->path, "0042", &history);
    assert_int_equal(history.jobs, 3);
    lds_ledger_history_free(&history);
}

static void test_capture_without_sum(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    struct lds_error error = {0};
    bool added = true;
    make_job(&made, "0042", "2019-03-02", 0.0);
    made.file[2].sha256[0] = '\0';
    assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "ten-before.wav"));
    assert_false(added);
    free_job(&made);
}

/* A unit that cannot be recognised again counts once per job. */
static void test_without_serial(void **state)
{
    const struct place *place = *state;
    struct lds_ledger *ledger;
    struct lds_ledger_unit *unit;
    size_t units;
    assert_true(add(place->path, NULL, "2019-03-02", 0.0));
    assert_true(add(place->path, "", "2020-03-02", 0.0));
    assert_true(add(place->path, "0042", "2021-03-02", 0.0));
    assert_false(add(place->path, NULL, "2019-03-02", 0.0));
    assert_int_equal(lds_ledger_open(place->path, LDS_LEDGER_READ_ONLY, &ledger, NULL), LDS_OK);
    assert_int_equal(lds_ledger_units(ledger, &unit, &units, NULL), LDS_OK);
    assert_int_equal(units, 3);
    assert_string_equal(unit[0].serial, "0042"); /* those with a serial number come first */
    assert_null(unit[1].serial);
    assert_null(unit[2].serial);
    assert_ptr_equal(lds_ledger_find(unit, units, "sedge 25/2020-03-02", NULL), &unit[2]);
    lds_ledger_units_free(unit, units);
    lds_ledger_close(ledger);
}

static void test_find(void **state)
{
    (void)state;
    char make[] = "Thistlecote", sedge[] = "Sedge 25", rush[] = "Rush 8", one[] = "0042", two[] = "0142",
         small[] = "a1", large[] = "A1";
    struct lds_ledger_unit unit[] = {{.make = make, .type = sedge, .serial = one},
                                     {.make = make, .type = rush, .serial = one},
                                     {.make = make, .type = sedge, .serial = two},
                                     {.make = make, .type = sedge, .serial = small},
                                     {.make = make, .type = sedge, .serial = large}};
    struct lds_error error = {0};
    assert_ptr_equal(lds_ledger_find(unit, 5, "0142", &error), &unit[2]);
    assert_ptr_equal(lds_ledger_find(unit, 5, "rush 8/0042", &error), &unit[1]);
    assert_ptr_equal(lds_ledger_find(unit, 5, "Thistlecote/Sedge 25/0042", &error), &unit[0]);
    assert_ptr_equal(lds_ledger_find(unit, 5, "A1", &error), &unit[4]);
    assert_null(lds_ledger_find(unit, 5, "0042", &error));
    assert_non_null(strstr(error.message, "2 units of that name"));
    assert_null(lds_ledger_find(unit, 5, "0143", &error));
    assert_non_null(strstr(error.message, "the nearest is 0142"));
    assert_null(lds_ledger_find(unit, 5, "Sedge 52/0042", &error));
    assert_non_null(strstr(error.message, "the nearest is Sedge 25/0042"));
    assert_null(lds_ledger_find(unit, 0, "0143", &error));
    assert_non_null(strstr(error.message, "no such unit"));
}

/* Five units, 0, 1, 2, 4 and 8 dB: the median of their THD is that of 2 dB, the deviations are 2, 1, 0, 2, 6. */
static void test_standing(void **state)
{
    const struct place *place = *state;
    const double db[] = {0.0, 1.0, 2.0, 4.0, 8.0};
    for (int i = 0; i < 5; i++) {
        char serial[8];
        snprintf(serial, sizeof serial, "%d", i);
        assert_true(add(place->path, serial, "2020-01-01", db[i]));
    }
    assert_true(add(place->path, "1", "2018-01-01", 40.0)); /* an older job of it does not count */
    struct lds_ledger_history history;
    read_history(place->path, "1", &history);
    assert_int_equal(history.population, 5);
    assert_int_equal(history.unnamed, 0);
    const struct lds_ledger_standing *thd = &find_series(&history, "thd", 1)->standing;
    assert_int_equal(thd->units, 5);
    assert_true(thd->value == -88.0);
    assert_int_equal(thd->lower, 1);
    assert_int_equal(thd->higher, 3);
    assert_int_equal(thd->alike, 0);
    assert_true(fabs(thd->median - -87.0) < 1e-9);
    assert_true(fabs(thd->spread - 1.4826 * 2.0) < 1e-9);
    const struct lds_ledger_standing *power = &find_series(&history, "tone.power", 1)->standing;
    assert_int_equal(power->alike, 4);
    assert_true(power->spread == 0.0);
    lds_ledger_history_free(&history);
}

/* Another power, load or type is another population. An upper limit is not a value; where it is below all others, the
 * unit counts as lower. */
static void test_standing_keeps_conditions(void **state)
{
    const struct place *place = *state;
    static char other[] = "Sedge 30";
    assert_true(add(place->path, "1", "2020-01-01", 0.0));
    for (int i = 0; i < 4; i++) {
        struct made_job made;
        bool added;
        char serial[8];
        snprintf(serial, sizeof serial, "%d", 10 + i);
        make_job(&made, serial, "2020-01-01", 0.0);
        if (i == 0)
            made.sheet.type = other;
        for (int k = 2; i == 1 && k < 4; k++)
            made.capture[k].power_w = 20.0;
        for (int k = 2; i == 2 && k < 4; k++)
            made.measurement[k].bench.load_ohm = 4.0;
        if (i == 3) {
            struct lds_figure *thd = &made.measurement[3].channel[0].figure[1];
            assert_string_equal(thd->key, "thd");
            thd->value = thd->low = NAN;
            thd->high = -100.0;
            thd->flags = LDS_FLAG_BELOW_FLOOR | LDS_FLAG_CHAIN_NOT_MEASURED;
        }
        assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
        free_job(&made);
    }
    struct lds_ledger_history history;
    read_history(place->path, "1", &history);
    assert_int_equal(history.population, 4);
    const struct lds_ledger_standing *thd = &find_series(&history, "thd", 1)->standing;
    assert_int_equal(thd->units, 2);
    assert_int_equal(thd->known, 1);
    assert_int_equal(thd->lower, 1);
    assert_true(thd->median == -89.0 && isnan(thd->spread));
    assert_int_equal(find_series(&history, "noise.band.20-20k", 1)->standing.units, 4);
    lds_ledger_history_free(&history);
    read_history(place->path, "13", &history);
    const struct lds_ledger_point *point = &find_series(&history, "thd", 1)->point[1];
    assert_true(isnan(point->value) && isnan(point->low) && point->high == -100.0);
    assert_int_equal(point->flags, LDS_FLAG_BELOW_FLOOR | LDS_FLAG_CHAIN_NOT_MEASURED);
    lds_ledger_history_free(&history);
}

/* The load of a capture is that of the channel with the highest power, which may have a bench of its own. */
static void test_load_of_channel(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    bool added;
    make_job(&made, "1", "2020-01-01", 0.0);
    for (int k = 2; k < 4; k++) {
        made.measurement[k].bench.load_ohm = NAN;
        lds_bench_add(&made.measurement[k].bench, 1)->load_ohm = 16.0;
        lds_bench_add(&made.measurement[k].bench, 2)->load_ohm = 4.0;
        made.measurement[k].channel[1].figure[0].value *= 3.0;
    }
    assert_string_equal(made.measurement[2].channel[1].figure[0].key, "tone.power");
    assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
    free_job(&made);
    struct lds_ledger_history history;
    read_history(place->path, "1", &history);
    assert_true(history.job->capture[3].load_ohm == 4.0);
    assert_true(find_series(&history, "thd", 1)->load_ohm == 4.0);
    lds_ledger_history_free(&history);
}

/* Three captures of one side are one point. */
static void test_repeats(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    bool added;
    make_job(&made, "1", "2020-01-01", 0.0);
    for (int k = 1; k < 4; k++) { /* all three: idle, after, 100, 110 and 130 uV */
        made.capture[k].role = lds_role_find("idle");
        made.capture[k].when = LDS_WHEN_AFTER;
        made.capture[k].power_w = NAN;
        made.capture[k].repeat = k;
        lds_measurement_free(&made.measurement[k]);
        made_capture(&made.measurement[k], "x.wav", 1);
        made_figure(&made.measurement[k], "noise.a", k == 1 ? 100e-6 : k == 2 ? 110e-6 : 130e-6, 1e-6);
    }
    assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
    free_job(&made);
    struct lds_ledger_history history;
    read_history(place->path, "1", &history);
    const struct lds_ledger_series *noise = find_series(&history, "noise.a", 1);
    assert_int_equal(noise->points, 1);
    assert_int_equal(noise->point[0].captures, 3);
    assert_true(noise->point[0].value == 110e-6);
    assert_true(fabs(noise->point[0].low - 98.04e-6) < 1e-8);
    assert_true(fabs(noise->point[0].high - 131.96e-6) < 1e-8);
    lds_ledger_history_free(&history);
}

/* Whatever the role, a capture comes back as it was added, with what the row of its role says is kept. */
static void test_every_role(void **state)
{
    const struct place *place = *state;
    size_t roles;
    const struct lds_role *role = lds_roles(&roles);
    for (size_t i = 0; i < roles; i++) {
        struct made_job made;
        struct lds_ledger_history history;
        bool added;
        char serial[24];
        snprintf(serial, sizeof serial, "%zu", i + 1);
        make_job(&made, serial, "2020-01-01", 0.0);
        made.capture[2].role = &role[i];
        made.capture[2].power_w = role[i].power ? 10.0 : (double)NAN;
        made.capture[2].frequency_hz = role[i].tone ? 1000.0 : (double)NAN;
        made.measurement[2].bench.load_ohm = 8.0;
        assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
        free_job(&made);
        read_history(place->path, serial, &history);
        const struct lds_ledger_capture *capture = &history.job->capture[2];
        assert_ptr_equal(capture->role, &role[i]);
        assert_true(role[i].power ? capture->power_w == 10.0 : isnan(capture->power_w));
        assert_true(role[i].tone ? capture->tone_hz == 1000.0 : isnan(capture->tone_hz));
        size_t of_role = 0;
        for (size_t s = 0; s < history.series; s++) {
            const struct lds_ledger_series *series = &history.serie[s];
            if (strcmp(series->key, "tone.power") != 0 || series->role != &role[i] ||
                series->point->when != LDS_WHEN_BEFORE)
                continue;
            of_role++;
            assert_true(isnan(series->power_w) == !role[i].power && isnan(series->load_ohm) == !role[i].power);
            assert_true(isnan(series->tone_hz) == !role[i].tone);
        }
        assert_int_equal(of_role, role[i].chain ? 0 : 2); /* channels */
        lds_ledger_history_free(&history);
    }
}

/* Two tones at one power, one of them stated: each has a history of its own, with points from job to job. */
static void test_tones(void **state)
{
    const struct place *place = *state;
    for (int day = 1; day < 4; day++) {
        struct made_job made;
        char date[16];
        bool added;
        snprintf(date, sizeof date, "2020-01-0%d", day);
        make_job(&made, "1", date, 0.0);
        for (int k = 2; k < 4; k++) { /* both after: -70 dB at 1 kHz, -50 dB at 6 kHz, 1 dB less each day */
            made.capture[k].when = LDS_WHEN_AFTER;
            lds_measurement_free(&made.measurement[k]);
            made_capture(&made.measurement[k], "x.wav", 1);
            made_figure(&made.measurement[k], "tone.frequency", k == 2 ? 1000.0 + day : 6000.0 - 10.0 * day, 1e-3);
            made_figure(&made.measurement[k], "tone.level", 8.9, 1e-3);
            made_figure(&made.measurement[k], "thd", (k == 2 ? -70.0 : -50.0) - day, 0.25);
        }
        made.capture[2].frequency_hz = day == 2 ? 1000.0 : (double)NAN;
        assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
        free_job(&made);
    }
    struct lds_ledger_history history;
    read_history(place->path, "1", &history);
    size_t found = 0;
    for (size_t i = 0; i < history.series; i++) {
        const struct lds_ledger_series *thd = &history.serie[i];
        if (strcmp(thd->key, "thd") != 0)
            continue;
        assert_true(fabs(thd->tone_hz - (found == 0 ? 1001.0 : 5990.0)) < 1e-9); /* that of the first job */
        assert_int_equal(thd->points, 3);
        for (int day = 1; day < 4; day++) {
            const struct lds_ledger_point *point = &thd->point[day - 1];
            assert_int_equal(point->captures, 1);
            assert_true(point->value == (found == 0 ? -70.0 : -50.0) - day);
            assert_true(fabs(point->high - point->low - 4.0 * 0.25) < 0.1);
        }
        found++;
    }
    assert_int_equal(found, 2);
    assert_true(history.job[1].capture[2].tone_hz == 1000.0);
    assert_true(isnan(history.job[1].capture[0].tone_hz));
    lds_ledger_history_free(&history);
}

static void test_hostile_texts(void **state)
{
    const struct place *place = *state;
    static const char *const texts[] = {"'; DROP TABLE job; --",
                                        "\"quoted\" %s%n%d",
                                        "\x1b[31mred\x07\x01\r\n\t",
                                        "=1+2",
                                        "; . :memory:",
                                        "Hörsaal 広間 ∞",
                                        "\xe2\x80\xae turned",
                                        "?1 :a @b $c",
                                        "a\\b/c/d"};
    const size_t count = sizeof texts / sizeof texts[0];
    for (size_t i = 0; i < count; i++) {
        struct made_job made;
        bool added = false;
        char *text = strdup(texts[i]);
        make_job(&made, texts[i], "2020-01-01", 0.0);
        made.sheet.make = made.sheet.type = made.sheet.client = made.sheet.work = made.part[0].name = text;
        made.capture[0].note = text;
        name_channel(&made.measurement[0], 1, text);
        struct lds_error error = {0};
        if (lds_ledger_add_job(place->path, &made.job, &added, &error) != LDS_OK)
            fail_msg("%s: %s", text, error.message);
        assert_true(added);
        assert_int_equal(lds_ledger_add_job(place->path, &made.job, &added, NULL), LDS_OK);
        assert_false(added);
        free(text);
        free_job(&made);
    }
    for (size_t i = 0; i < count; i++) {
        struct lds_ledger_history history;
        read_history(place->path, texts[i], &history);
        assert_int_equal(history.jobs, 1);
        assert_string_equal(history.unit.make, texts[i]);
        assert_string_equal(history.unit.serial, texts[i]);
        assert_string_equal(history.job[0].client, texts[i]);
        assert_string_equal(history.job[0].work, texts[i]);
        assert_string_equal(history.job[0].part[0].name, texts[i]);
        assert_string_equal(history.job[0].capture[0].note, texts[i]);
        assert_string_equal(history.job[0].capture[0].channel_name[0].name, texts[i]);
        lds_ledger_history_free(&history);
    }
}

static void write_file(const char *path, const void *bytes, size_t size)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, size, out), size);
    fclose(out);
}

/* Opening for reading and for writing both fail with that word, and the file is unchanged. */
static void refused(const char *path, const char *word)
{
    char before[65], after[65];
    struct lds_ledger *ledger;
    file_sum(path, before);
    for (int write = 0; write < 2; write++) {
        struct lds_error error = {0};
        assert_int_not_equal(lds_ledger_open(path, write ? LDS_LEDGER_CREATE : LDS_LEDGER_READ_ONLY, &ledger, &error),
                             LDS_OK);
        assert_null(ledger);
        if (!strstr(error.message, word) || strchr(error.message, '\n'))
            fail_msg("'%s' expected in: %s", word, error.message);
        assert_non_null(strstr(error.message, path));
    }
    file_sum(path, after);
    assert_string_equal(before, after);
}

static void change_byte(const char *path, long offset, int byte)
{
    FILE *file = fopen(path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, offset, SEEK_SET), 0);
    fputc(byte, file);
    fclose(file);
}

static void test_no_ledger(void **state)
{
    const struct place *place = *state;
    struct lds_ledger *ledger;
    struct lds_error error = {0};
    assert_int_equal(lds_ledger_open(place->path, LDS_LEDGER_READ_ONLY, &ledger, &error), LDS_IO);
    assert_non_null(strstr(error.message, "no such file"));
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, &error), LDS_IO);
    assert_int_equal(access(place->path, F_OK), -1);
    refused(place->folder, "a folder");
    write_file(place->path, "These are words, no ledger.\n", 28);
    refused(place->path, "not a ledger");
    char zeros[5000] = {0};
    write_file(place->path, zeros, sizeof zeros);
    refused(place->path, "not a ledger");
    unlink(place->path);
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    change_byte(place->path, 68, 'X'); /* application_id */
    refused(place->path, "another program");
}

static void test_newer_version(void **state)
{
    const struct place *place = *state;
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    change_byte(place->path, 63, 6); /* user_version */
    refused(place->path, "version 6");
    change_byte(place->path, 63, 0);
    refused(place->path, "damaged");
    for (unsigned char version = 1; version < 5; version++) { /* its tables are those of 5 */
        change_byte(place->path, 63, version);
        refused(place->path, "damaged");
    }
    change_byte(place->path, 63, 5);
    change_byte(place->path, 19, 2);
    refused(place->path, "write-ahead");
}

static void test_empty_file(void **state)
{
    const struct place *place = *state;
    struct lds_ledger *ledger;
    struct lds_error error = {0};
    write_file(place->path, "", 0);
    assert_int_equal(lds_ledger_open(place->path, LDS_LEDGER_READ_ONLY, &ledger, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "empty"));
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
}

static void test_read_only(void **state)
{
    const struct place *place = *state;
    struct lds_ledger *ledger;
    struct made_job made;
    struct lds_error error = {0};
    bool added = true;
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    make_job(&made, "0043", "2019-03-02", 0.0);
    assert_int_equal(lds_ledger_open(place->path, LDS_LEDGER_READ_ONLY, &ledger, NULL), LDS_OK);
    assert_int_equal(lds_ledger_add(ledger, &made.job, &added, &error), LDS_BAD_USE);
    assert_false(added);
    lds_ledger_close(ledger);
    free_job(&made);
}

/* SQLite would silently open this one read-only. root may write anywhere, so the test becomes another user for the
 * attempt (65534: nobody). */
static void test_unwritable(void **state)
{
    const struct place *place = *state;
    struct made_job made;
    struct lds_error error = {0};
    bool added = true, root = geteuid() == 0;
    assert_true(add(place->path, "0042", "2019-03-02", 0.0));
    assert_int_equal(chmod(place->path, 0444), 0);
    assert_int_equal(chmod(place->folder, 0755), 0);
    make_job(&made, "0043", "2019-03-02", 0.0);
    if (root)
        assert_int_equal(seteuid(65534), 0);
    enum lds_status status = lds_ledger_add_job(place->path, &made.job, &added, &error);
    char *text = read_all_of(place->path, NULL);
    if (root)
        assert_int_equal(seteuid(0), 0);
    assert_int_equal(status, LDS_IO);
    assert_non_null(strstr(error.message, "cannot be written"));
    assert_non_null(text);
    free(text);
    free_job(&made);
}

/* Names that SQLite would take for a file in memory or an address are names like any other. */
static void test_odd_names(void **state)
{
    const struct place *place = *state;
    static const char *const names[] = {":memory:", "file:a.db?mode=memory", "-", "a%20b #c", "ünï.ledger"};
    char before[4096];
    assert_non_null(getcwd(before, sizeof before));
    assert_int_equal(chdir(place->folder), 0);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        assert_true(add(names[i], "0042", "2019-03-02", 0.0));
        assert_int_equal(access(names[i], F_OK), 0);
        assert_false(add(names[i], "0042", "2019-03-02", 0.0));
    }
    assert_int_equal(chdir(before), 0);
    struct lds_ledger *ledger;
    assert_int_equal(lds_ledger_open("", LDS_LEDGER_CREATE, &ledger, NULL), LDS_IO);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_comes_back),
        TEST(test_channel_names),
        TEST(test_twice_changes_nothing),
        TEST(test_without_serial),
        TEST(test_capture_without_sum),
        TEST(test_find),
        TEST(test_standing),
        TEST(test_repeats),
        TEST(test_every_role),
        TEST(test_standing_keeps_conditions),
        TEST(test_load_of_channel),
        TEST(test_no_ledger),
        TEST(test_hostile_texts),
        TEST(test_tones),
        TEST(test_empty_file),
        TEST(test_newer_version),
        TEST(test_read_only),
        TEST(test_unwritable),
        TEST(test_odd_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
