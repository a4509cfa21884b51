/* A sheet proposed from the captures in a folder: which files they are, and what follows from all of them together. */
#include "job/propose.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "fail.h"
#include "grow.h"
#include "job/keys.h"
#include "job/path_between.h"
#include "job/remarks.h"
#include "job/sheet.h"
#include "job/tone.h"
#include "loadside/signal.h"
#include "safe_text.h"
#include "scarce.h"

/* Common practice, no source: how far clocks differ, and how far powers differ that are meant to be the same. */
static const double CLOCKS = 5e-4, ONE_POWER = 0.04;
static const size_t LONGEST_FILE = 180; /* with its key, within a line of a sheet */

/* Whether the text has no control characters and is UTF-8. */
static bool is_plain(const char *text)
{
    size_t bytes = 1;
    for (const char *at = text; *at; at += bytes) {
        uint32_t code = lds_utf8_next(at, &bytes);
        if (lds_character_is_unsafe(code) || code == 0xFFFD)
            return false;
    }
    return true;
}

/* Whether a path can be written in a sheet. It cannot if it needs quotes because of a ';', and a quote inside would end
 * them. */
static bool can_be_written(const char *folder, const char *file)
{
    bool quoted = strchr(folder, ';') || strchr(file, ';'), ends = strstr(folder, "\" ") || strstr(file, "\" ");
    return strlen(folder) + strlen(file) <= LONGEST_FILE && !(quoted && ends) && is_plain(folder) && is_plain(file);
}

/* Whether one of the words in the name (runs of letters) is on the list. */
static bool has_word(const char *file, const char *const *words)
{
    for (const char *at = file; *at;) {
        size_t length = 0;
        while (isalpha((unsigned char)at[length]) || (unsigned char)at[length] >= 0x80)
            length++;
        for (size_t i = 0; words[i]; i++)
            if (length == strlen(words[i]) && strncasecmp(at, words[i], length) == 0)
                return true;
        at += length > 0 ? length : 1;
    }
    return false;
}

static void read_name(struct lds_proposed *one)
{
    static const char *const befores[] = {"before", "pre", "old", NULL}, *const afters[] = {"after", "post", "new",
                                                                                            NULL};
    static const char *const chains[] = {"chain", "loopback", NULL};
    bool before = has_word(one->file, befores), after = has_word(one->file, afters);
    one->named_chain = has_word(one->file, chains);
    if (before != after) {
        one->when = before ? LDS_WHEN_BEFORE : LDS_WHEN_AFTER;
        snprintf(one->why_when, sizeof one->why_when, "from its name");
    }
}

/* Names the section: the file name without its suffix and without characters that would end the name of a section. */
static void name_section(const struct lds_proposal *proposal, struct lds_proposed *one)
{
    const char *point = strrchr(one->file, '.');
    int length = (int)(point && point > one->file ? (size_t)(point - one->file) : strlen(one->file));
    char stem[100], *clean;
    while (length >= (int)sizeof stem || ((unsigned char)one->file[length] & 0xC0) == 0x80)
        length--; /* so as not to cut a character in two */
    snprintf(stem, sizeof stem, "%.*s", length, one->file);
    for (clean = strpbrk(stem, "[];"); clean; clean = strpbrk(clean, "[];"))
        *clean = '-';
    snprintf(one->name, sizeof one->name, "%s", stem);
    for (size_t number = 2, i = 0; i < proposal->count; i++)
        if (&proposal->one[i] != one && strcmp(proposal->one[i].name, one->name) == 0) {
            snprintf(one->name, sizeof one->name, "%s %zu", stem, number++);
            i = (size_t)-1; /* compare with all of them again */
        }
}

static bool pass_over(struct lds_proposal *proposal, const char *file, const char *why)
{
    return lds_remark(proposal->said, "%s: passed over: %s", file, why);
}

static bool add_bench(struct lds_proposal *proposal, const char *path, const char *file)
{
    struct lds_bench bench;
    struct lds_error error = {0};
    lds_bench_init(&bench);
    const enum lds_status status = lds_bench_load(&bench, path, &error);
    lds_bench_free(&bench);
    if (status)
        return status != LDS_NO_MEMORY && pass_over(proposal, file, "neither a capture nor a bench file");
    size_t used = strlen(proposal->bench_names);
    snprintf(proposal->bench_names + used, sizeof proposal->bench_names - used, "%s%.60s", used > 0 ? ", " : "", file);
    free(proposal->bench_file); /* with several files none is chosen */
    proposal->bench_file = NULL;
    if (proposal->benches++ == 0 && asprintf(&proposal->bench_file, "%s%s", proposal->beside, file) < 0) {
        proposal->bench_file = NULL;
        return false;
    }
    return lds_remark(proposal->said, "%s: a bench file", file);
}

static bool add_capture(struct lds_proposal *proposal, const char *path, const char *file)
{
    struct lds_error error = {0};
    struct lds_proposed one = {.file = strdup(file)};
    if (!one.file)
        return false;
    enum lds_status status = lds_propose_look(proposal, &one, &error);
    struct lds_proposed *kept = status ? NULL : lds_grow(&proposal->one, &proposal->count, sizeof *proposal->one);
    if (kept) {
        read_name(&one);
        if (one.named_chain)
            one.role = lds_role_find("chain");
        *kept = one;
        name_section(proposal, kept);
        return true;
    }
    free(one.file);
    return status != LDS_OK && status != LDS_NO_MEMORY &&
           pass_over(proposal, file, lds_without_path(error.message, path));
}

/* Whether this is the file of a signal, or the sidecar of one. Also false if memory runs out, which is noted. */
static bool is_signal(const char *path)
{
    struct lds_signal_spec spec;
    struct lds_error error = {0};
    char *sidecar = lds_signal_sidecar(path);
    const enum lds_status status = sidecar ? lds_signal_spec_load(&spec, sidecar, &error) : LDS_NO_MEMORY;
    free(sidecar);
    if (status == LDS_NO_MEMORY)
        lds_scarce_note();
    return status == LDS_OK;
}

/* Takes a file of the folder. Bench files are taken in a first pass, captures in a second. */
static bool take(struct lds_proposal *proposal, const char *file, bool benches, bool given)
{
    char *path = NULL;
    struct stat info;
    const char *suffix = strrchr(file, '.');
    bool enough = true, ini = suffix && strcasecmp(suffix, ".ini") == 0;
    if (file[0] == '.' || asprintf(&path, "%s/%s", proposal->folder, file) < 0)
        return file[0] == '.';
    if (stat(path, &info) != 0 || !S_ISREG(info.st_mode)) /* a folder, a pipe */
        enough = benches || S_ISDIR(info.st_mode) || pass_over(proposal, file, "not a file");
    else if (!can_be_written(proposal->beside, file))
        enough = benches || pass_over(proposal, file, "its path cannot stand in a sheet; rename it");
    else if (is_signal(path))
        enough = benches || pass_over(proposal, file, ini ? "it describes a signal to play" : "a signal to play");
    else if (ini)
        enough = !benches || given || add_bench(proposal, path, file);
    else if (!benches && proposal->count == LDS_SHEET_CAPTURES_MAX)
        enough = pass_over(proposal, file, "a sheet has room for no more captures");
    else if (!benches)
        enough = add_capture(proposal, path, file);
    free(path);
    return enough;
}

/* The value with the fewest digits that close to x. */
static double rounded(double x, double within)
{
    for (int digits = 1; digits < 8; digits++) {
        char text[40];
        snprintf(text, sizeof text, "%.*e", digits - 1, x);
        double value = strtod(text, NULL);
        if (fabs(value - x) <= within * x)
            return value;
    }
    return x;
}

static bool near(double a, double b, double within)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) <= within * fmin(a, b);
}

/* Tones that differ by no more than clocks do get one frequency, and powers that are close get one power. Where another
 * tone is close but not the same, no frequency is stated, since a generator may have drifted. */
static void name_tones(struct lds_proposal *proposal)
{
    for (size_t i = 0; i < proposal->count; i++) {
        struct lds_proposed *one = &proposal->one[i];
        if (!one->role->tone || isnan(one->tone_hz))
            continue;
        one->nominal_hz = rounded(one->tone_hz, 2e-4);
        one->nominal_w = isnan(one->power_w) ? NAN : rounded(one->power_w, 0.02);
        for (size_t k = i; k-- > 0;)
            if (near(proposal->one[k].tone_hz, one->tone_hz, CLOCKS) && proposal->one[k].role == one->role) {
                one->nominal_hz = proposal->one[k].nominal_hz;
                if (near(proposal->one[k].nominal_w, one->power_w, ONE_POWER))
                    one->nominal_w = proposal->one[k].nominal_w;
            }
    }
    for (size_t i = 0; i < proposal->count; i++)
        for (size_t k = 0; k < proposal->count; k++) {
            struct lds_proposed *one = &proposal->one[i];
            const struct lds_proposed *other = &proposal->one[k];
            if (lds_same_tone(one->tone_hz, other->tone_hz) && !near(one->tone_hz, other->tone_hz, CLOCKS))
                one->nominal_hz = NAN;
        }
}

/* If the captures whose names do not say a side are of two days in all, the earlier day is before the work. */
static void sides_from_dates(struct lds_proposal *proposal)
{
    const char *first = NULL, *last = NULL;
    bool two = true;
    for (int round = 0; round < 2; round++)
        for (size_t i = 0; i < proposal->count; i++) {
            struct lds_proposed *one = &proposal->one[i];
            const char *date = one->look.info.date;
            if (one->when != LDS_WHEN_ANY || one->role->chain)
                continue;
            if (round == 0) {
                first = !first || strncmp(date, first, 10) < 0 ? date : first;
                last = !last || strncmp(date, last, 10) > 0 ? date : last;
            } else if (strncmp(date, first, 10) != 0 && strncmp(date, last, 10) != 0) {
                two = false;
            }
        }
    two = two && first && first[0] && strncmp(first, last, 10) != 0;
    for (size_t i = 0; i < proposal->count; i++) {
        struct lds_proposed *one = &proposal->one[i];
        if (one->when != LDS_WHEN_ANY || one->role->chain)
            continue;
        if (two)
            snprintf(one->why_when, sizeof one->why_when, "from its date alone, %.10s: see whether it is right",
                     one->look.info.date);
        else
            snprintf(one->why_when, sizeof one->why_when,
                     "neither its name nor its date tells: fill in before or after");
        if (two)
            one->when = strncmp(one->look.info.date, first, 10) == 0 ? LDS_WHEN_BEFORE : LDS_WHEN_AFTER;
    }
}

/* Order: before, after, no side; numbers by value, 2 before 10; a name before a longer one that begins with it. */
static int in_order(const void *a, const void *b)
{
    static const int place[] = {[LDS_WHEN_ANY] = 2, [LDS_WHEN_BEFORE] = 0, [LDS_WHEN_AFTER] = 1};
    const struct lds_proposed *one = a, *other = b;
    if (one->when != other->when)
        return place[one->when] - place[other->when];
    return strverscmp(one->name, other->name);
}

static void number_repeats(struct lds_proposal *proposal)
{
    for (size_t i = 0; i < proposal->count; i++) {
        struct lds_proposed *one = &proposal->one[i];
        one->repeat = 1;
        for (size_t k = 0; k < i && !one->role->chain; k++) {
            const struct lds_proposed *other = &proposal->one[k];
            if (other->role != one->role || other->when != one->when || !near(other->nominal_w, one->nominal_w, 0.0) ||
                !near(other->tone_hz, one->tone_hz, CLOCKS))
                continue;
            one->repeats = one->repeats ? one->repeats : other;
            one->repeat = other->repeat + 1;
        }
    }
}

/* Loads the bench file that was given, or else the one in the folder if there is only one. */
static enum lds_status load_bench(struct lds_proposal *proposal, const char *given, struct lds_error *error)
{
    const char *slash = given ? strrchr(given, '/') : NULL;
    char *folder = slash ? strndup(given, (size_t)(slash - given) + 1) : strdup("."), *between = NULL, *path = NULL;
    enum lds_status status = LDS_OK;
    lds_bench_init(&proposal->bench);
    if (given) {
        status = lds_bench_load(&proposal->bench, given, error);
        between = folder ? lds_path_between(proposal->path, folder) : NULL;
        if (!status && (!between || asprintf(&proposal->bench_file, "%s%s", between, slash ? slash + 1 : given) < 0))
            status = lds_fail_memory(error, "a job sheet");
        else if (!status && !can_be_written("", proposal->bench_file))
            status = lds_fail(error, LDS_BAD_USE, "%s: the path of this bench file cannot stand in a sheet; rename it",
                              given);
    } else if (proposal->bench_file) {
        if (asprintf(&path, "%s/%s", proposal->folder, proposal->bench_file + strlen(proposal->beside)) < 0)
            status = lds_fail_memory(error, "a job sheet");
        else
            status = lds_bench_load(&proposal->bench, path, error);
    }
    free(path);
    free(between);
    free(folder);
    return status;
}

static enum lds_status propose(struct lds_proposal *proposal, const char *bench_file, struct lds_error *error)
{
    struct dirent **entry = NULL;
    proposal->beside = lds_path_between(proposal->path, proposal->folder);
    int count = proposal->beside ? scandir(proposal->folder, &entry, NULL, versionsort) : -1;
    if (count < 0)
        return lds_fail(error, LDS_IO, "%s: cannot be read as a folder: %s; a folder of captures expected; name one",
                        proposal->folder, strerror(errno));
    bool enough = true;
    for (int i = 0; enough && i < count; i++)
        enough = take(proposal, entry[i]->d_name, true, bench_file != NULL);
    enum lds_status status = enough ? load_bench(proposal, bench_file, error) : LDS_OK;
    for (int i = 0; enough && !status && i < count; i++)
        enough = take(proposal, entry[i]->d_name, false, bench_file != NULL);
    for (int i = 0; i < count; i++)
        free(entry[i]);
    free(entry);
    if (!enough && !status)
        return lds_fail_memory(error, "a job sheet");
    if (!status && proposal->count == 0)
        return lds_fail(error, LDS_BAD_INPUT, "%s: holds no capture; a folder with captures expected; name one",
                        proposal->folder);
    return status;
}

enum lds_status lds_sheet_from(const char *path, const char *folder, const char *bench_file, struct lds_remarks *said,
                               struct lds_error *error)
{
    struct lds_proposal proposal = {.path = path, .folder = folder, .said = said};
    struct stat info;
    *said = (struct lds_remarks){0};
    lds_bench_init(&proposal.bench);
    enum lds_status status = LDS_OK;
    if (lstat(path, &info) != 0) /* if the sheet exists already, there is no need to look at the captures */
        status = propose(&proposal, bench_file, error);
    if (!status) {
        sides_from_dates(&proposal);
        if (proposal.count > 0)
            qsort(proposal.one, proposal.count, sizeof *proposal.one, in_order);
        name_tones(&proposal);
        number_repeats(&proposal);
        status = lds_sheet_create(path, lds_propose_write, &proposal, error);
    }
    if (!status && !lds_remark(said, "%zu capture%s", proposal.count, proposal.count == 1 ? "" : "s"))
        status = lds_fail_memory(error, "a job sheet");
    for (size_t i = 0; i < proposal.count; i++)
        free(proposal.one[i].file);
    free(proposal.one);
    free(proposal.beside);
    free(proposal.bench_file);
    lds_bench_free(&proposal.bench);
    return status;
}
