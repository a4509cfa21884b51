/* Chooses the figures of the answer, in this order: what became worse (if several figures of a family did, and one of
 * them has a rank, only that one); what people ask for first, and of these what changed before what did not; then the
 * largest other changes. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "report/answer_parts.h"

static int rank_of(const struct lds_answer_figure *figure)
{
    return lds_figure_rank(&figure->name);
}

/* ---- candidates: each key of each group ---- */

struct candidates {
    size_t count;
    struct lds_answer_figure *figure;
};

static struct lds_answer_figure *find(const struct candidates *all, size_t group, const char *key)
{
    for (size_t i = 0; i < all->count; i++)
        if (all->figure[i].group == group && strcmp(all->figure[i].key, key) == 0)
            return &all->figure[i];
    return NULL;
}

static bool add(struct candidates *all, size_t group, int channel, const struct lds_change *change)
{
    struct lds_answer_figure *figure = find(all, group, change->key);
    if (!figure) {
        figure = lds_grow(&all->figure, &all->count, sizeof *figure);
        if (!figure)
            return false;
        figure->group = group;
        figure->key = change->key;
        figure->name = lds_key_read(change->key);
    }
    figure->channel[figure->channels] = channel;
    figure->change[figure->channels++] = change;
    return true;
}

static bool gather(struct candidates *all, const struct lds_answer_group *group, size_t groups)
{
    for (size_t g = 0; g < groups; g++)
        for (size_t c = 0; c < group[g].comparison->channels; c++) {
            const struct lds_compared_channel *channel = &group[g].comparison->channel[c];
            for (size_t i = 0; i < channel->changes; i++)
                if (channel->change[i].judged && !add(all, g, channel->channel, &channel->change[i]))
                    return false;
        }
    return true;
}

/* ---- which of them ---- */

static bool is_worse(const struct lds_answer_figure *figure)
{
    for (size_t i = 0; i < figure->channels; i++)
        if (figure->change[i]->worse)
            return true;
    return false;
}

/* Hum and noise are best taken from a group without a signal, everything else from one with a signal; of several such
 * groups, from the first. */
static bool is_better_place(const struct lds_answer_group *group, size_t one, size_t other, enum lds_section section)
{
    bool idle = section == LDS_NOISE || section == LDS_MAINS;
    if ((group[one].idle == idle) != (group[other].idle == idle))
        return group[one].idle == idle;
    return one < other;
}

/* Distortion is told at every power and tone. */
static bool is_in_any_place(const struct lds_answer_figure *figure)
{
    return figure->name.row->section == LDS_TONE && figure->name.row->noun && rank_of(figure) > 0;
}

static bool is_in_its_place(const struct candidates *all, const struct lds_answer_group *group, size_t groups,
                            const struct lds_answer_figure *figure)
{
    if (is_in_any_place(figure))
        return true;
    for (size_t g = 0; g < groups; g++)
        if (g != figure->group && find(all, g, figure->key) &&
            is_better_place(group, g, figure->group, figure->name.row->section))
            return false;
    return true;
}

/* The largest change relative to the smallest change that matters; 0: nothing changed, or nothing can be said. */
static double weight_of(const struct lds_answer_figure *figure)
{
    double largest = 0.0;
    for (size_t i = 0; i < figure->channels; i++) {
        const struct lds_change *change = figure->change[i];
        if (change->word == LDS_LOWER || change->word == LDS_HIGHER)
            largest = fmax(largest, fabs(change->change) / change->matters); /* fmax ignores NAN */
    }
    return largest;
}

/* How far into the worse direction the change goes at least, and at most; where an end is open, INFINITY. */
static double least_of(const struct lds_change *change)
{
    const double end = change->word == LDS_HIGHER ? change->low : -change->high, middle = fabs(change->change);
    return isfinite(end) ? end : isfinite(middle) ? middle : -(double)INFINITY;
}

static double most_of(const struct lds_change *change)
{
    const double end = change->word == LDS_HIGHER ? change->high : -change->low, middle = fabs(change->change);
    return isfinite(end) ? end : isfinite(middle) && !change->at_least ? middle : (double)INFINITY;
}

/* Whether the figure of another group is worse in each channel in which this one is, and this one is not shown to be
 * worse than that by more than what matters. */
static bool tells_as_much(const struct lds_answer_figure *other, const struct lds_answer_figure *figure)
{
    for (size_t i = 0; i < figure->channels; i++) {
        const struct lds_change *change = figure->change[i];
        bool told = !change->worse;
        for (size_t k = 0; k < other->channels && !told; k++)
            told = other->channel[k] == figure->channel[i] && other->change[k]->worse &&
                   other->change[k]->word == change->word &&
                   !(least_of(change) - most_of(other->change[k]) > change->matters);
        if (!told)
            return false;
    }
    return true;
}

/* Whether the group in whose place the figure stands tells already that it is worse, as hum without a signal does of
 * hum beside a tone. */
static bool is_told_in_its_place(const struct candidates *all, const struct lds_answer_group *group, size_t groups,
                                 const struct lds_answer_figure *figure)
{
    for (size_t g = 0; g < groups && !is_in_any_place(figure); g++) {
        const struct lds_answer_figure *other = g != figure->group ? find(all, g, figure->key) : NULL;
        if (other && is_better_place(group, g, figure->group, figure->name.row->section) &&
            tells_as_much(other, figure))
            return true;
    }
    return false;
}

/* It gives the level in another way, or THD+N with the other sign. */
static bool is_said_by_others(const struct lds_key *row)
{
    return row->section == LDS_LEVEL || row->restates;
}

/* Whether a figure with a rank says already that its family became worse there. */
static bool is_covered(const struct candidates *all, const struct lds_answer_figure *figure)
{
    for (size_t i = 0; i < all->count && rank_of(figure) == 0; i++) {
        const struct lds_answer_figure *other = &all->figure[i];
        if (other->group == figure->group && other->name.row->family == figure->name.row->family &&
            rank_of(other) > 0 && is_worse(other))
            return true;
    }
    return false;
}

/* Whether a figure of a better rank has the same noun, as THD at 10 W and THD at 1 kHz of a sweep have. */
static bool is_named_before(const struct candidates *all, const struct lds_answer_figure *figure)
{
    const char *noun = figure->name.row->noun;
    for (size_t i = 0; noun && i < all->count; i++) {
        const struct lds_answer_figure *other = &all->figure[i];
        if (other->name.row->noun && strcmp(other->name.row->noun, noun) == 0 && rank_of(other) > 0 &&
            rank_of(other) < rank_of(figure))
            return true;
    }
    return false;
}

/* The figure's priority in the answer; 0: it does not belong there. */
static double claim_of(const struct candidates *all, const struct lds_answer_group *group, size_t groups,
                       const struct lds_answer_figure *figure)
{
    int rank = rank_of(figure);
    bool in_place = is_in_its_place(all, group, groups, figure);
    if (is_worse(figure) && !is_covered(all, figure) && !is_told_in_its_place(all, group, groups, figure))
        return (rank > 0 ? 4e6 : 3e6) + fmin(weight_of(figure), 0.9e6);
    if (rank > 0 && in_place)
        return (weight_of(figure) > 0.0 && !is_named_before(all, figure) ? 2.5e6 : 2e6) - rank;
    return in_place && rank == 0 && !is_said_by_others(figure->name.row) ? fmin(weight_of(figure), 1e6) : 0.0;
}

/* ---- what tells them apart ---- */

/* Whether sentences or the table would call both the same. */
static bool is_called_alike(const struct lds_answer_figure *one, const struct lds_answer_figure *other)
{
    const char *noun = rank_of(one) > 0 ? one->name.row->noun : NULL,
               *its = rank_of(other) > 0 ? other->name.row->noun : NULL;
    return strcmp(one->key, other->key) == 0 || (noun && its && strcmp(noun, its) == 0);
}

/* Whether a figure of another group is called alike, and the titles of the groups tell no difference. */
static bool needs_name(const struct lds_answer *answer, const struct lds_answer_group *group,
                       const struct lds_answer_figure *figure)
{
    const char *own = group[figure->group].title;
    for (size_t i = 0; i < answer->figures; i++) {
        const struct lds_answer_figure *other = &answer->figure[i];
        const char *title = group[other->group].title;
        if (other->group != figure->group && is_called_alike(figure, other) &&
            (!own || (title && strcmp(own, title) == 0)))
            return true;
    }
    return false;
}

static void say_where(const struct lds_answer *answer, const struct lds_answer_group *group,
                      struct lds_answer_figure *figure)
{
    const struct lds_answer_group *own = &group[figure->group];
    figure->named = own->name && needs_name(answer, group, figure);
    figure->where = figure->named ? own->name : own->title;
}

struct lds_label lds_answer_where(const struct lds_answer_figure *figure)
{
    if (!figure->where)
        return (struct lds_label){""};
    return lds_label(figure->named || strchr(figure->where, ',') ? " (%s)" : " at %s", figure->where);
}

/* ---- the choice ---- */

struct claim {
    double size;
    const struct lds_answer_figure *figure;
};

static int by_claim(const void *left, const void *right)
{
    const struct claim *a = left, *b = right;
    if (a->size != b->size)
        return a->size > b->size ? -1 : 1;
    return a->figure < b->figure ? -1 : a->figure > b->figure;
}

/* Those with a rank first, then all others in the order of the table of keys. */
static size_t place_of(const struct lds_answer_figure *figure)
{
    size_t count;
    const struct lds_key *first = lds_keys(&count);
    int rank = rank_of(figure);
    return rank > 0 ? (size_t)rank : count + (size_t)(figure->name.row - first);
}

static int by_place(const void *left, const void *right)
{
    const struct claim *a = left, *b = right;
    size_t one = place_of(a->figure), other = place_of(b->figure);
    if (one != other)
        return one < other ? -1 : 1;
    return a->figure < b->figure ? -1 : a->figure > b->figure;
}

bool lds_answer_choose(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups)
{
    struct candidates all = {0};
    bool enough = gather(&all, group, groups);
    struct claim *claim = enough ? calloc(all.count + 1, sizeof *claim) : NULL;
    size_t count = 0;
    for (size_t i = 0; claim && i < all.count; i++) {
        double size = claim_of(&all, group, groups, &all.figure[i]);
        if (size > 0.0)
            claim[count++] = (struct claim){size, &all.figure[i]};
    }
    if (claim) {
        qsort(claim, count, sizeof *claim, by_claim);
        count = count < LDS_ANSWER_FIGURES ? count : LDS_ANSWER_FIGURES;
        qsort(claim, count, sizeof *claim, by_place);
        for (size_t i = 0; i < count; i++)
            answer->figure[answer->figures++] = *claim[i].figure;
        for (size_t i = 0; i < count; i++)
            say_where(answer, group, &answer->figure[i]);
    }
    free(all.figure);
    free(claim);
    return claim != NULL;
}
