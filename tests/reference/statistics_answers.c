/* Prints the answers of the library's statistics to questions on standard input, one a line, for statistics_check.py: t
 * Z DOF two-sided p f RATIO DOF DOF two-sided p holm P... adjusted welch N BEFORE... AFTER... change, degrees of
 * freedom, low, high, p of repeats that are known exactly mover B LOW HIGH A LOW HIGH low and high of A less B unseen
 * SEEN LIMIT p of a line seen at SEEN (linear) over nothing found below LIMIT outlier X... place and p of the one that
 * stands apart */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/fact.h"
#include "compare/outlier.h"
#include "compare/statistics.h"

enum { MOST = 64 };

static void print_all(const double *value, int count)
{
    for (int i = 0; i < count; i++)
        printf("%s%.17g", i ? " " : "", value[i]);
    putchar('\n');
}

static struct lds_reading reading_of(double value, double low, double high, double u)
{
    return (struct lds_reading){
        .value = value, .below = value - low, .above = high - value, .u = u, .dof = INFINITY, .limit = NAN};
}

static void welch(const double *value, int count)
{
    struct lds_reading reading[MOST];
    struct lds_pooled side[2];
    struct lds_delta delta;
    int before = (int)value[0];
    for (int i = 1; i < count; i++)
        reading[i - 1] = reading_of(value[i], value[i], value[i], 0.0);
    lds_pool(reading, before, &side[0]);
    lds_pool(reading + before, count - 1 - before, &side[1]);
    lds_delta_find(&side[0], &side[1], (struct lds_delta_way){.from_repeats = true}, &delta);
    print_all((double[]){delta.change, delta.dof, delta.low, delta.high, delta.p}, 5);
}

static void mover(const double *value)
{
    struct lds_pooled side[2];
    struct lds_delta delta;
    for (int s = 0; s < 2; s++) {
        struct lds_reading reading = reading_of(value[3 * s], value[3 * s + 1], value[3 * s + 2], 0.0);
        lds_pool(&reading, 1, &side[s]);
    }
    lds_delta_find(&side[0], &side[1], (struct lds_delta_way){.shared_bench = true}, &delta);
    print_all((double[]){delta.low, delta.high}, 2);
}

static void unseen(const double *value)
{
    struct lds_reading seen = {.value = 20.0 * log10(value[0]), .dof = INFINITY, .limit = NAN};
    struct lds_reading nothing = {.value = NAN, .dof = INFINITY, .limit = 20.0 * log10(value[1])};
    struct lds_pooled side[2];
    struct lds_delta delta;
    lds_pool(&nothing, 1, &side[0]);
    lds_pool(&seen, 1, &side[1]);
    lds_delta_find(&side[0], &side[1], (struct lds_delta_way){0}, &delta);
    print_all(&delta.p, 1);
}

static int answer(const char *what, const double *value, int count)
{
    double adjusted[MOST], p;
    struct lds_outlier outlier;
    if (strcmp(what, "t") == 0 && count == 2) {
        p = lds_two_sided_p(value[0], value[1]);
        print_all(&p, 1);
    } else if (strcmp(what, "f") == 0 && count == 3) {
        p = lds_variance_ratio_p(value[0], value[1], value[2]);
        print_all(&p, 1);
    } else if (strcmp(what, "holm") == 0 && lds_holm(value, adjusted, (size_t)count)) {
        print_all(adjusted, count);
    } else if (strcmp(what, "welch") == 0 && count > 4) {
        welch(value, count);
    } else if (strcmp(what, "mover") == 0 && count == 6) {
        mover(value);
    } else if (strcmp(what, "unseen") == 0 && count == 2) {
        unseen(value);
    } else if (strcmp(what, "outlier") == 0) {
        lds_outlier_find(value, (size_t)count, 0.0, &outlier);
        print_all((double[]){outlier.which, outlier.p}, 2);
    } else {
        return 1;
    }
    return 0;
}

int main(void)
{
    char line[4096];
    while (fgets(line, sizeof line, stdin)) {
        double value[MOST];
        int count = 0;
        char *what = strtok(line, " \n");
        for (char *word; what && count < MOST && (word = strtok(NULL, " \n"));)
            value[count++] = strtod(word, NULL);
        if (!what || answer(what, value, count)) {
            fprintf(stderr, "no answer to '%s' with %d numbers\n", what ? what : "", count);
            return 1;
        }
    }
    return 0;
}
