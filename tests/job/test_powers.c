/* Powers of the sheet and of the unit's rating against those of the captures. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/files.h"
#include "made.h"

/* 20 V at the load read 1.0: a sine of peak p gives (20 p)^2/(2 * 8 ohm) = 25 p^2 W. Its THD is 0.1 %. */
static double peak_of(double watts)
{
    return sqrt(watts / 25.0);
}

static const char bench[] = "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n";

/* The summary of a job, its lines joined by single blanks; and what the check says. */
static char *summary_of(const char *text, struct lds_remarks *missing)
{
    struct lds_sheet sheet;
    struct lds_job job;
    struct lds_job_checked checked;
    struct lds_error error = {0};
    char *summary = NULL;
    size_t size;
    made_read(&sheet, text);
    assert_int_equal(lds_job_check(&sheet, &checked, &error), LDS_OK);
    *missing = checked.missing;
    made_run(&sheet, 2, &job);
    FILE *out = open_memstream(&summary, &size);
    assert_non_null(out);
    assert_int_equal(lds_job_summary(&job, out, &error), LDS_OK);
    fclose(out);
    char *to = summary;
    for (const char *from = summary; *from; from++)
        if (*from != ' ' && *from != '\n')
            *to++ = *from;
        else if (to > summary && to[-1] != ' ')
            *to++ = ' ';
    *to = '\0';
    for (size_t i = 0; i < job.missing.count; i++) /* the report gives it with the measured value */
        assert_null(strstr(job.missing.line[i], "capture holds"));
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    lds_remarks_free(&checked.fits);
    lds_remarks_free(&checked.captures);
    return summary;
}

static void expect(const char *summary, const char *words, bool there)
{
    if ((strstr(summary, words) != NULL) != there)
        fail_msg("'%s' %s in: %s", words, there ? "expected" : "not expected", summary);
}

static void stated_powers(void **state)
{
    (void)state;
    static const struct {
        const char *stated, *tolerance, *said; /* said: NULL: nothing */
        double watts;
    } row[] = {
        {"10 W", "", NULL, 10.0},
        {"10 W", "", NULL, 10.45},
        {"10 W", "", NULL, 9.55},
        {"10 W", "", "the sheet says 10 W; this capture holds 10.6 W", 10.6},
        {"10 W", "", "the sheet says 10 W; this capture holds 9.4 W", 9.4},
        {"5 W", "", "the sheet says 5 W; this capture holds 10 W", 10.0},
        {"20 W", "", "the sheet says 20 W; this capture holds 10 W", 10.0},
        {"10 W", "power_tolerance = 1 %\n", "the sheet says 10 W; this capture holds 10.2 W", 10.2},
        {"10 W", "power_tolerance = 50 %\n", NULL, 14.0},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[400], words[120];
        struct lds_remarks missing;
        made_tone("p.wav", (unsigned)i, 1000.0, peak_of(row[i].watts));
        snprintf(text, sizeof text, "[job]\n%s%s[capture p]\nfile = p.wav\nrole = sine\npower = %s\n", row[i].tolerance,
                 bench, row[i].stated);
        char *summary = summary_of(text, &missing);
        snprintf(words, sizeof words, "Beware: p, channel 1: %s.", row[i].said ? row[i].said : "");
        expect(summary, row[i].said ? words : "Beware", row[i].said != NULL);
        expect(summary, "Rating:", false);
        bool told = false;
        snprintf(words, sizeof words, "p: %s.", row[i].said ? row[i].said : "");
        for (size_t k = 0; k < missing.count; k++)
            told =
                told || (row[i].said ? strcmp(missing.line[k], words) == 0 : strstr(missing.line[k], "holds") != NULL);
        assert_true(told == (row[i].said != NULL));
        free(summary);
        lds_remarks_free(&missing);
    }
}

/* The THD is 0.1 %, and THD+N a little more. */
static void ratings(void **state)
{
    (void)state;
    static const struct {
        const char *rating, *said;
        double watts;
        bool over;
    } row[] = {
        {"power = 20 W\nload = 8\ndistortion = 0.2 %\n", "Rating: not shown: 10 W is less than the rated 20 W.", 10.0,
         false},
        {"power = 20 W\nload = 8\ndistortion = 0.2 %\n", "Rating: met: THD+N 0.10", 20.0, false},
        {"power = 20 W\nload = 8\ndistortion = 0.2 %\n", "% at 22 W and 1 kHz, against 0.2 % at 20 W.", 22.0, true},
        {"power = 20 W\nload = 8\ndistortion = 0.05 %\n", "Rating: not met: THD+N 0.10", 20.0, false},
        {"power = 20 W\nload = 8\ndistortion = 0.05 %\n", "Rating: not shown either way: THD+N 0.10", 20.6, true},
        {"power = 20 W\nload = 8\ndistortion = 0.101 %\n", "Rating: not shown either way: THD+N 0.10", 20.0, false},
        {"power = 20 W\nload = 4\ndistortion = 0.2 %\n", "Rating: not shown: it is for 4 Ω.", 20.6, false},
        {"power = 20 W\ndistortion = 0.2 %\n", "Rating: not shown: the load that it is for is not stated.", 20.0,
         false},
        {"power = 20 W\nload = 8\n", "Rating: not shown: the distortion that the 20 W are stated at is not stated.",
         20.0, false},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[400];
        struct lds_remarks missing;
        made_tone("p.wav", (unsigned)i, 1000.0, peak_of(row[i].watts));
        snprintf(text, sizeof text, "[rating]\n%s%s[capture p]\nfile = p.wav\nrole = sine\n", row[i].rating, bench);
        char *summary = summary_of(text, &missing);
        expect(summary, row[i].said, true);
        expect(summary, "is more than the 20 W that the unit is rated for", row[i].over);
        free(summary);
        lds_remarks_free(&missing);
    }
}

/* A sine of that peak, limited, in a recording of full scale 1. */
static void limited(const char *name, double peak, double limit)
{
    enum { FRAMES = 48000 };
    double *samples = calloc(FRAMES, sizeof *samples);
    assert_non_null(samples);
    for (size_t i = 0; i < FRAMES; i++)
        samples[i] = fmax(-limit, fmin(limit, peak * sin(2.0 * M_PI * 997.0 * (double)i / 48000.0))) +
                     1e-5 * sin(1e4 * (double)i * (double)i);
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 1, samples, FRAMES);
    free(samples);
}

/* An amplifier that clips below full scale is distinguished from a recording that clips. */
static void clipping(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        char text[400];
        struct lds_remarks missing;
        limited("p.wav", i ? 1.2 : 0.9, i ? 1.0 : 0.75);
        snprintf(text, sizeof text, "%s[capture p]\nfile = p.wav\nrole = sine\n", bench);
        char *summary = summary_of(text, &missing);
        expect(summary, "Beware: p, channel 1: the amplifier clips.", i == 0);
        expect(summary, "Beware: p, channel 1: the recording clips", i == 1);
        expect(summary, ", where the amplifier clips. It is the average power of the tone", i == 0);
        expect(summary, ", from a recording that clips. It is the average power of the tone", i == 1);
        free(summary);
        lds_remarks_free(&missing);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stated_powers),
        cmocka_unit_test(ratings),
        cmocka_unit_test(clipping),
    };
    return cmocka_run_group_tests_name("powers", tests, files_setup, files_teardown);
}
