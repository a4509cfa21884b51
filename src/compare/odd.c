/* A single repeat that differs from the others of its side: named, not dropped. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "compare/statistics.h"
#include "compare/work.h"

static const double FALSE_ALARM = 0.01; /* over all captures and figures */
enum { FEWEST = 5 };                    /* captures in total: the test's t has n - 3 degrees of freedom */

/* How far each capture is from its side's mean. */
struct residuals {
    int count[2];
    double *value; /* of the side before, followed by the side after */
    double u_each; /* from the captures' own intervals */
};

static bool take(const struct lds_chosen *chosen, struct residuals *r)
{
    enum lds_scale scale = lds_scale_of(chosen->figure[0]->name.row, chosen->figure[0]->unit);
    double square = 0.0, mean[2] = {0.0, 0.0};
    for (int i = 0; i < chosen->all; i++) {
        struct lds_reading reading;
        lds_reading_take(chosen->figure[i], scale, &reading);
        r->value[i] = reading.value;
        mean[chosen->seen[i]->side] += reading.value / chosen->count[chosen->seen[i]->side];
        square += reading.u * reading.u / chosen->all;
    }
    for (int i = 0; i < chosen->all; i++)
        r->value[i] -= mean[chosen->seen[i]->side];
    memcpy(r->count, chosen->count, sizeof r->count);
    r->u_each = sqrt(square);
    return !isnan(mean[0] + mean[1]);
}

/* Externally studentised residual of two groups with one variance (Cook and Weisberg 1982, "Residuals and Influence in
 * Regression", 2.2.1): t with n - 3 degrees of freedom. The variance is never less than the captures' own. */
static double chance(const struct residuals *r, int which)
{
    int total = r->count[0] + r->count[1], side = which < r->count[0] ? 0 : 1;
    double sum = 0.0, dof = total - 3.0, leverage = 1.0 - 1.0 / r->count[side], e = r->value[which];
    for (int i = 0; i < total; i++)
        sum += r->value[i] * r->value[i];
    double variance = fmax((sum - e * e / leverage) / dof, r->u_each * r->u_each);
    return variance > 0.0 ? lds_two_sided_p(e / sqrt(variance * leverage), dof) : 1.0;
}

struct found {
    int figures;  /* in which the capture is odd */
    char key[96]; /* the first */
};

/* p of every capture for every figure; the smallest of each capture is kept. tests: how many there were. */
static bool look(struct lds_work *work, const struct lds_part *part, struct found *found, double limit, int *tests)
{
    struct residuals r = {.value = calloc((size_t)work->captures.all, sizeof *r.value)};
    bool ok = r.value != NULL;
    for (size_t c = 0; ok && c < part->out->changes; c++) {
        const struct lds_change *change = &part->out->change[c];
        const struct lds_key *row = change->name.row;
        struct lds_chosen chosen;
        if (!change->judged || row->section == LDS_PAIR)
            continue;
        ok = lds_choose(&part->view, change->key, row, &chosen);
        bool enough = chosen.all >= FEWEST && chosen.count[0] > 1 && chosen.count[1] > 1;
        if (ok && enough && take(&chosen, &r)) {
            *tests += chosen.all;
            for (int i = 0; i < chosen.all; i++)
                for (int k = 0; k < work->captures.all; k++)
                    if (work->captures.list[k] == chosen.seen[i]->capture && chance(&r, i) < limit &&
                        found[k].figures++ == 0)
                        lds_name_words(&change->name, found[k].key, sizeof found[k].key);
        }
        lds_chosen_free(&chosen);
    }
    free(r.value);
    return ok;
}

bool lds_odd_repeats_find(struct lds_work *work)
{
    struct found *found = calloc((size_t)work->captures.all, sizeof *found);
    int tests = 0, unused = 0;
    bool ok = found != NULL;
    for (size_t c = 0; ok && c < work->out->channels; c++)
        ok = look(work, &work->part[c], found, -1.0, &tests);
    for (size_t c = 0; ok && tests > 0 && c < work->out->channels; c++)
        ok = look(work, &work->part[c], found, FALSE_ALARM / tests, &unused);
    for (int i = 0; ok && i < work->captures.all; i++)
        if (found[i].figures > 0)
            ok = lds_note(work->out,
                          "%s stands apart from the other repeats %s in %d figure%s (%s): it is not dropped; "
                          "see whether its cables or its warming up differed",
                          work->captures.list[i]->file ? work->captures.list[i]->file : "a capture",
                          i < work->captures.count[0] ? "before" : "after", found[i].figures,
                          found[i].figures > 1 ? "s" : "", found[i].key);
    free(found);
    return ok;
}
