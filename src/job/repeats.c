#include "job/look.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "hz_words.h"
#include "job/power.h"

struct repeats {
    const struct lds_sheet *sheet;
    const struct lds_sheet_capture *all;
    const struct lds_look *look;
    struct lds_faults *faults;
};

static bool same_text(const char *a, const char *b)
{
    return a && b ? strcmp(a, b) == 0 : a == b;
}

/* Equal in everything but the tone. */
static bool stated_alike(const struct repeats *r, size_t i, size_t k)
{
    const struct lds_sheet_capture *a = &r->all[i], *b = &r->all[k];
    return a->role->name[0] && !a->role->chain && a->role == b->role && a->when == b->when &&
           a->channel == b->channel && lds_same_power(a, b) && same_text(a->bench_file, b->bench_file);
}

/* A sine that cannot be read may have any tone. */
static bool tone_known(const struct repeats *r, size_t i)
{
    return !r->all[i].role->tone || r->look[i].good || !isnan(r->look[i].tone_hz);
}

static bool same_kind(const struct repeats *r, size_t i, size_t k)
{
    return stated_alike(r, i, k) && tone_known(r, i) && tone_known(r, k) && lds_look_same_tone(r->sheet, r->look, i, k);
}

static void check_number(const struct repeats *r, size_t place)
{
    const struct lds_sheet_capture *second = &r->all[place], *first = NULL;
    int highest = 0;
    for (size_t i = 0; i < place; i++) {
        if (!same_kind(r, i, place))
            continue;
        highest = r->all[i].repeat > highest ? r->all[i].repeat : highest;
        if (!first && r->all[i].repeat == second->repeat)
            first = &r->all[i];
    }
    if (first)
        lds_fault(r->faults, second->line,
                  "[capture %.64s] is of the same role, side, power%s, channel and repeat as [capture %.64s] in line "
                  "%d; number them with repeat = %d",
                  second->name, second->role->tone ? ", tone" : "", first->name, first->line, highest + 1);
}

/* The repeats of each tone must be numbered from 1: they must not continue the numbers of another tone. */
static void check_tone(const struct repeats *r, size_t captures, size_t place)
{
    const struct lds_sheet_capture *second = &r->all[place], *first = NULL;
    double other_hz = NAN;
    char own[32], other[32];
    if (second->repeat < 2 || isnan(r->look[place].tone_hz))
        return;
    for (size_t i = 0; i < captures; i++) {
        if (!stated_alike(r, i, place) || isnan(r->look[i].tone_hz) || r->all[i].repeat >= second->repeat)
            continue;
        if (lds_look_same_tone(r->sheet, r->look, i, place))
            return;
        if (!first) {
            first = &r->all[i];
            other_hz = r->look[i].tone_hz;
        }
    }
    if (!first)
        return;
    lds_hz_words(r->look[place].tone_hz, own, sizeof own);
    lds_hz_words(other_hz, other, sizeof other);
    lds_fault(r->faults, second->line,
              "[capture %.64s], repeat = %d, holds a tone of %s, and [capture %.64s] in line %d one of %s: other tones "
              "are no repeats; leave repeat out, or count each tone from 1",
              second->name, second->repeat, own, first->name, first->line, other);
}

void lds_repeats_check(const struct lds_sheet *sheet, const struct lds_look *look, struct lds_faults *faults)
{
    const struct repeats r = {sheet, sheet->capture, look, faults};
    for (size_t i = 0; i < sheet->captures; i++) {
        check_number(&r, i);
        check_tone(&r, sheet->captures, i);
    }
}
