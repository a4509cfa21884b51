#include "job/groups.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "hz_words.h"
#include "job/power.h"

static bool same_but_tone(const struct lds_sheet_capture *a, const struct lds_sheet_capture *b)
{
    return a->role == b->role && a->channel == b->channel && a->driven == b->driven && lds_same_power(a, b);
}

/* The captures to group, by their index. */
struct captures {
    const struct lds_sheet *sheet;
    const struct lds_look *look;
};

static bool same_class(const struct captures *all, size_t a, size_t b)
{
    return same_but_tone(&all->sheet->capture[a], &all->sheet->capture[b]) &&
           lds_look_same_tone(all->sheet, all->look, a, b);
}

static bool same_bench(const struct captures *all, size_t a, size_t b)
{
    const char *one = all->sheet->capture[a].bench_file, *other = all->sheet->capture[b].bench_file;
    return one && other ? strcmp(one, other) == 0 : one == other;
}

static bool on_both_sides(const struct captures *all, size_t one)
{
    bool before = false, after = false;
    for (size_t i = 0; i < all->sheet->captures; i++) {
        if (!same_class(all, one, i) || !same_bench(all, one, i))
            continue;
        before = before || all->sheet->capture[i].when == LDS_WHEN_BEFORE;
        after = after || all->sheet->capture[i].when == LDS_WHEN_AFTER;
    }
    return before && after;
}

static bool belongs(const struct captures *all, size_t a, size_t b)
{
    bool own_a = on_both_sides(all, a), own_b = on_both_sides(all, b);
    return same_class(all, a, b) && own_a == own_b && (!own_a || same_bench(all, a, b));
}

bool lds_grouping_make(struct lds_grouping *grouping, const struct lds_sheet *sheet, const struct lds_look *look)
{
    const struct captures all = {sheet, look};
    *grouping = (struct lds_grouping){.look = look,
                                      .group = look ? calloc(sheet->captures + 1, sizeof *grouping->group) : NULL};
    for (size_t i = 0; grouping->group && i < sheet->captures; i++) {
        size_t g = 0;
        if (sheet->capture[i].role->chain)
            continue;
        while (g < grouping->groups && !belongs(&all, grouping->group[g].capture[0], i))
            g++;
        struct lds_captures_of_group *group = &grouping->group[g];
        size_t *capture = lds_grow(&group->capture, &group->count, sizeof *capture);
        if (!capture)
            return false;
        *capture = i;
        grouping->groups = g == grouping->groups ? g + 1 : grouping->groups;
    }
    return grouping->group != NULL;
}

void lds_grouping_free(struct lds_grouping *grouping)
{
    for (size_t i = 0; i < grouping->groups; i++)
        free(grouping->group[i].capture);
    free(grouping->group);
    *grouping = (struct lds_grouping){0};
}

/* ---- names ---- */

/* Letters and digits, in lower case; everything else becomes one hyphen. */
static void make_slug(const char *title, char *slug, size_t size)
{
    size_t used = 0;
    for (const char *c = title; *c && used + 1 < size; c++)
        if (isalnum((unsigned char)*c) && (unsigned char)*c < 0x80)
            slug[used++] = (char)tolower((unsigned char)*c);
        else if (*c == '.' && used > 0 && isdigit((unsigned char)c[-1]) && isdigit((unsigned char)c[1]))
            slug[used++] = '.';
        else if (used > 0 && slug[used - 1] != '-' && !lds_before_unit(title, c))
            slug[used++] = '-';
    while (used > 0 && slug[used - 1] == '-')
        used--;
    slug[used] = '\0';
}

/* A group while it gets its names. */
struct naming {
    struct captures all;
    const struct lds_grouping *grouping;
    size_t place;
    size_t one; /* its first capture */
};

/* Whether another group has the same class, so that the names must include the bench. */
static bool is_shared(const struct naming *naming)
{
    for (size_t i = 0; i < naming->grouping->groups; i++)
        if (i != naming->place && same_class(&naming->all, naming->one, naming->grouping->group[i].capture[0]))
            return true;
    return false;
}

/* Whether another group of the class has a bench of this name. */
static bool name_is_taken(const struct naming *naming)
{
    const struct lds_sheet_capture *capture = naming->all.sheet->capture;
    for (size_t i = 0; i < naming->grouping->groups; i++) {
        size_t other = naming->grouping->group[i].capture[0];
        if (i != naming->place && same_class(&naming->all, naming->one, other) && capture[other].bench.name &&
            strcmp(capture[naming->one].bench.name, capture[other].bench.name) == 0)
            return true;
    }
    return false;
}

/* What distinguishes the group from others of its class: for people the name of its bench, else the bench file. */
static const char *bench_of(const struct naming *naming, bool for_people)
{
    const struct lds_sheet_capture *one = &naming->all.sheet->capture[naming->one];
    if (!on_both_sides(&naming->all, naming->one))
        return "other benches";
    if (for_people && one->bench.name && !name_is_taken(naming))
        return one->bench.name;
    const char *file = one->bench_file ? one->bench_file : naming->all.sheet->bench_file;
    return file ? file : "bench of the sheet";
}

static bool has_tone(const struct captures *all, size_t i)
{
    return all->sheet->capture[i].role->tone;
}

/* Captures with a tone include it in their names if the sheet states one, or if not all have the same. */
static bool tones_named(const struct captures *all)
{
    for (size_t i = 0; i < all->sheet->captures; i++) {
        if (!has_tone(all, i))
            continue;
        if (!isnan(all->sheet->capture[i].frequency_hz))
            return true;
        for (size_t other = 0; other < i; other++)
            if (has_tone(all, other) && !lds_look_same_tone(all->sheet, all->look, other, i))
                return true;
    }
    return false;
}

static void write_tone(const struct naming *naming, char *text, size_t size)
{
    double tone_hz = naming->all.look[naming->one].tone_hz;
    char words[32];
    text[0] = '\0';
    if (!has_tone(&naming->all, naming->one) || !tones_named(&naming->all))
        return;
    lds_hz_words(tone_hz, words, sizeof words);
    snprintf(text, size, ", %s", isnan(tone_hz) ? "no tone found" : words);
}

static char *make_title(const struct naming *naming, bool for_people)
{
    const struct lds_sheet_capture *one = &naming->all.sheet->capture[naming->one];
    char power[40] = "", tone[40], channel[40] = "", driven[48] = "";
    char *title = NULL;
    bool shared = is_shared(naming);
    if (!isnan(one->power_w))
        snprintf(power, sizeof power, ", %.6g W", one->power_w);
    write_tone(naming, tone, sizeof tone);
    if (one->channel > 0)
        snprintf(channel, sizeof channel, ", channel %d", one->channel);
    if (one->driven > 0)
        snprintf(driven, sizeof driven, ", channel %d driven", one->driven);
    int length = asprintf(&title, "%s%s%s%s%s%s%s", one->role->name, power, tone, channel, driven, shared ? ", " : "",
                          shared ? bench_of(naming, for_people) : "");
    return length < 0 ? NULL : title;
}

static char *make_unique_slug(const struct lds_job *job, const struct naming *naming)
{
    char slug[80], *unique = NULL, *words = make_title(naming, false);
    if (!words)
        return NULL;
    make_slug(words, slug, sizeof slug);
    free(words);
    for (unsigned number = 1;; number++) {
        bool taken = false;
        int length = number == 1 ? asprintf(&unique, "%s", slug) : asprintf(&unique, "%s_%u", slug, number);
        if (length < 0)
            return NULL;
        for (size_t i = 0; i < naming->place; i++)
            taken = taken || strcmp(job->group[i].slug, unique) == 0;
        if (!taken)
            return unique;
        free(unique);
    }
}

static bool fill(struct lds_job *job, struct lds_job_group *group, const struct lds_captures_of_group *captures)
{
    const struct lds_measurement ***list[] = {
        [LDS_WHEN_ANY] = &group->other_capture,
        [LDS_WHEN_BEFORE] = &group->before_capture,
        [LDS_WHEN_AFTER] = &group->after_capture,
    };
    size_t *const count[] = {
        [LDS_WHEN_ANY] = &group->other, [LDS_WHEN_BEFORE] = &group->before, [LDS_WHEN_AFTER] = &group->after};
    for (int when = LDS_WHEN_ANY; when <= LDS_WHEN_AFTER; when++)
        if (!(*list[when] = calloc(captures->count, sizeof **list[when])))
            return false;
    for (size_t i = 0; i < captures->count; i++) {
        enum lds_when when = job->sheet->capture[captures->capture[i]].when;
        (*list[when])[(*count[when])++] = &job->measurement[captures->capture[i]];
    }
    group->compared = group->before > 0 && group->after > 0;
    return true;
}

bool lds_groups_fill(struct lds_job *job, const struct lds_grouping *grouping)
{
    job->group = calloc(grouping->groups + 1, sizeof *job->group);
    for (size_t i = 0; job->group && i < grouping->groups; i++) {
        const struct naming naming = {{job->sheet, grouping->look}, grouping, i, grouping->group[i].capture[0]};
        job->groups = i + 1;
        job->group[i].title = make_title(&naming, true);
        job->group[i].slug = job->group[i].title ? make_unique_slug(job, &naming) : NULL;
        if (!job->group[i].slug || !fill(job, &job->group[i], &grouping->group[i]))
            return false;
    }
    return job->group != NULL;
}

void lds_groups_free(struct lds_job *job)
{
    for (size_t i = 0; i < job->groups; i++) {
        struct lds_job_group *group = &job->group[i];
        free(group->title);
        free(group->slug);
        free(group->before_capture);
        free(group->after_capture);
        free(group->other_capture);
        lds_comparison_free(&group->comparison);
    }
    free(job->group);
    job->group = NULL;
    job->groups = 0;
}

struct lds_measurement *lds_side_of_group(const struct lds_measurement *const *capture, size_t count)
{
    struct lds_measurement *side = calloc(count + 1, sizeof *side);
    for (size_t i = 0; side && i < count; i++)
        side[i] = *capture[i];
    return side;
}
