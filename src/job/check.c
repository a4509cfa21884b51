/* What would stop a job, and what a full report would need, before anything is measured. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "job/check_parts.h"
#include "job/look.h"
#include "job/power.h"
#include "job/remarks.h"
#include "job/steps.h"
#include "scrap.h"

static const double LONG_ENOUGH_S = 10.0; /* docs/guide.md */
static const size_t REPEATS_SHOWN = 3;    /* from so many on a side, their scatter is measured (docs/figures.md) */

static bool of_the_sheet(const struct check *check)
{
    const struct lds_sheet *sheet = check->sheet;
    struct lds_remarks *missing = check->missing;
    bool named = sheet->make || sheet->type || sheet->serial;
    return (named || lds_remark(missing, "The unit is not named: make, type or serial under [unit].")) &&
           (sheet->client || lds_remark(missing, "No client is stated: client under [job].")) &&
           (sheet->date || lds_remark(missing, "No date is stated: that of the latest capture will stand for it.")) &&
           (sheet->by || lds_remark(missing, "Nobody is stated to have measured: by under [job].")) &&
           (sheet->work || sheet->parts > 0 ||
            lds_remark(missing, "What was done to the unit is not stated: work under [job]."));
}

static bool of_the_rating(const struct check *check)
{
    const struct lds_rating *rating = &check->sheet->rating;
    char names[160];
    size_t used = 0;
    const struct {
        const char *name;
        bool stated;
    } key[] = {{"power", !isnan(rating->power_w)},
               {"load", !isnan(rating->load_ohm)},
               {"distortion", !isnan(rating->distortion_percent)},
               {"frequency range", !isnan(rating->low_hz)},
               {"channels driven", rating->channels_driven > 0},
               {"held", !isnan(rating->held_s)}};
    for (size_t i = 0; i < sizeof key / sizeof *key; i++)
        if (!key[i].stated)
            used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "", key[i].name);
    return used == 0 || lds_remark(check->missing,
                                   "The stated power will say \"not stated\" for: %s (under [rating]). A power means "
                                   "little without them (IEC 60268-3).",
                                   names);
}

/* Names of the captures for which something holds, "a, b and 3 more"; to be freed. */
static char *names_of(const struct check *check, bool (*holds)(const struct check *, size_t), size_t *count)
{
    struct lds_scrap names;
    *count = 0;
    if (!lds_scrap_open(&names))
        return NULL;
    for (size_t i = 0; i < check->sheet->captures; i++)
        if (holds(check, i) && ++*count <= 3)
            fprintf(names.out, "%s%s", *count > 1 ? ", " : "", check->sheet->capture[i].name);
    if (*count > 3)
        fprintf(names.out, " and %zu more", *count - 3);
    return lds_scrap_close(&names) ? names.text : NULL;
}

static bool lacks_load(const struct check *check, size_t i)
{
    return check->sheet->capture[i].role->power && isnan(lds_power_bench(&check->sheet->capture[i])->load_ohm);
}

static bool lacks_scale(const struct check *check, size_t i)
{
    return (check->look[i].good || check->look[i].to_make) &&
           !lds_look_calibrated(&check->look[i], &check->sheet->capture[i].bench);
}

static bool is_short(const struct check *check, size_t i)
{
    const struct lds_capture_info *info = &check->look[i].info;
    return check->look[i].good && (double)info->frames / info->rate_hz < LONG_ENOUGH_S * (1.0 - 1e-9);
}

/* A recording of the chain at a rate that no capture has is useless. */
static bool chain_unlike_any(const struct check *check, size_t i)
{
    if (!check->sheet->capture[i].role->chain || !check->look[i].good)
        return false;
    for (size_t k = 0; k < check->sheet->captures; k++)
        if (!check->sheet->capture[k].role->chain && check->look[k].good &&
            check->look[k].info.rate_hz == check->look[i].info.rate_hz)
            return false;
    return true;
}

static bool blocks_dc(const struct check *check, size_t i)
{
    const struct lds_sheet_capture *capture = &check->sheet->capture[i];
    return lds_signal_has(capture->role->holds, LDS_PLAYS_DC) && !capture->bench.dc_coupled;
}

static bool of_captures(const struct check *check)
{
    static const struct {
        bool (*holds)(const struct check *, size_t);
        const char *what;
    } remarks[] = {
        {lacks_load, "No load is stated, so there are no watts: load under [bench]"},
        {blocks_dc,
         "The input is not stated to pass DC, so there are no figures of switching on: dc_coupled = yes under "
         "[bench]"},
        {lacks_scale, "No full scale is stated, so levels are in dBFS: full_scale under [bench]"},
        {is_short, "Shorter than ten seconds, which makes intervals wide"},
        {chain_unlike_any, "A recording of the chain at a rate that no capture has explains nothing"},
    };
    bool enough = true;
    for (size_t i = 0; enough && i < sizeof remarks / sizeof *remarks; i++) {
        size_t count;
        char *names = names_of(check, remarks[i].holds, &count);
        enough = names && (count == 0 || lds_remark(check->missing, "%s (%s).", remarks[i].what, names));
        free(names);
    }
    return enough;
}

static bool of_roles(const struct check *check)
{
    size_t roles;
    const struct lds_role *role = lds_roles(&roles);
    bool enough = true;
    for (size_t i = 0; enough && i < roles; i++) {
        bool taken = false;
        for (size_t k = 0; k < check->sheet->captures; k++)
            taken = taken || check->sheet->capture[k].role == &role[i];
        taken = taken || (role[i].chain && check->chains->count > 0);
        enough = taken || !role[i].without || lds_remark(check->missing, "%s", role[i].without);
    }
    return enough;
}

static bool of_group(const struct check *check, const struct lds_captures_of_group *group, const char *title)
{
    size_t before = 0, after = 0;
    double lowest_hz, highest_hz;
    for (size_t i = 0; i < group->count; i++) {
        before += check->sheet->capture[group->capture[i]].when == LDS_WHEN_BEFORE;
        after += check->sheet->capture[group->capture[i]].when == LDS_WHEN_AFTER;
    }
    if ((before == 0) != (after == 0) &&
        !lds_remark(check->missing, "%s: captures from %s the work alone; nothing can be compared.", title,
                    before > 0 ? "before" : "after"))
        return false;
    if (before > 0 && after > 0 && (before < REPEATS_SHOWN || after < REPEATS_SHOWN) &&
        !lds_remark(
            check->missing,
            "%s: %zu before and %zu after; the scatter from capture to capture is assumed. Three a side, cabled "
            "anew each time, would show it.",
            title, before, after))
        return false;
    lds_look_ends(check->look, group, &lowest_hz, &highest_hz);
    return !(highest_hz > lowest_hz * (1.0 + 1e-9)) ||
           lds_remark(check->missing,
                      "%s: captures reach to different frequencies; all are measured up to %.0f Hz alone.", title,
                      lowest_hz);
}

static bool of_groups(const struct check *check)
{
    struct lds_job job = {.sheet = check->sheet,
                          .measurement = calloc(check->sheet->captures + 1, sizeof *job.measurement)};
    bool enough = job.measurement && lds_groups_fill(&job, check->grouping), compared = false;
    for (size_t i = 0; enough && i < job.groups; i++) {
        enough = of_group(check, &check->grouping->group[i], job.group[i].title);
        compared = compared || job.group[i].compared;
    }
    if (enough && check->sheet->limits > 0 && !compared)
        enough = lds_remark(check->missing, "Limits are judged where a group has captures from before and from after "
                                            "the work, and none has: they will not be judged.");
    lds_groups_free(&job);
    free(job.measurement);
    return enough;
}

void lds_check_read_free(struct lds_check_read *read)
{
    free(read->look);
    lds_saved_chains_free(&read->chains);
}

void lds_job_checked_free(struct lds_job_checked *checked)
{
    lds_remarks_free(&checked->wrong);
    lds_remarks_free(&checked->missing);
    lds_remarks_free(&checked->fits);
    lds_remarks_free(&checked->captures);
}

/* next: receives what was read, if the job is measured afterwards; else NULL. */
static enum lds_status check_sheet(const struct lds_sheet *sheet, struct lds_check_read *next,
                                   struct lds_job_checked *checked, struct lds_error *error)
{
    struct lds_faults faults = {0};
    struct lds_grouping grouping;
    struct lds_remarks *wrong = &checked->wrong;
    *checked = (struct lds_job_checked){0};
    struct lds_look *look = lds_look_at(sheet, &faults);
    struct lds_saved_chains chains;
    bool enough = lds_saved_chains_read(sheet, &chains, &faults);
    enough = lds_grouping_make(&grouping, sheet, look) && enough;
    if (enough) {
        lds_repeats_check(sheet, look, &faults);
        const struct check check = {sheet,  look, &grouping, &checked->missing, &checked->fits, &checked->captures,
                                    &chains};
        enough = lds_check_benches(&check) && lds_check_inputs(&check) &&
                 (next || (lds_check_roles(&check) && lds_check_powers(&check) && lds_check_captures(&check))) &&
                 of_roles(&check) && of_captures(&check) && of_groups(&check) && of_the_sheet(&check) &&
                 of_the_rating(&check);
        for (size_t i = 0; i < sheet->captures; i++)
            checked->to_make += look[i].to_make;
    }
    enough = enough && lds_faults_tell(&faults, sheet->path, wrong);
    lds_faults_free(&faults);
    lds_grouping_free(&grouping);
    struct lds_check_read read = {look, chains};
    if (next)
        *next = read;
    else
        lds_check_read_free(&read);
    if (!enough)
        return lds_fail_memory(error, "the check of a job");
    if (wrong->count == 0)
        return LDS_OK;
    return lds_fail(error, LDS_BAD_INPUT, "%.800s%s", wrong->line[0], wrong->count > 1 ? " (and more)" : "");
}

enum lds_status lds_job_check(const struct lds_sheet *sheet, struct lds_job_checked *checked, struct lds_error *error)
{
    return check_sheet(sheet, NULL, checked, error);
}

/* One line, however many are missing: the check lists them. */
static enum lds_status refuse(const struct lds_sheet *sheet, const struct lds_look *look, size_t to_make,
                              struct lds_error *error)
{
    size_t first = 0;
    while (!look[first].to_make)
        first++;
    const struct lds_sheet_capture *capture = &sheet->capture[first];
    const char *file = capture->file ? capture->file : "no file stated";
    if (to_make == 1)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s:%d: [capture %.64s] is still to be made (%.200s); make it, or take its section out",
                        sheet->path, capture->line, capture->name, file);
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s:%d: [capture %.64s] is still to be made (%.200s), and %zu more; make them ('loadside job "
                    "--check' lists them), or take their sections out",
                    sheet->path, capture->line, capture->name, file, to_make - 1);
}

enum lds_status lds_check_to_run(const struct lds_sheet *sheet, struct lds_check_read *read,
                                 struct lds_remarks *missing, struct lds_error *error)
{
    struct lds_job_checked checked;
    enum lds_status status = check_sheet(sheet, read, &checked, error);
    if (!status && checked.to_make > 0)
        status = refuse(sheet, read->look, checked.to_make, error);
    *missing = checked.missing;
    checked.missing = (struct lds_remarks){0};
    lds_job_checked_free(&checked);
    return status;
}
