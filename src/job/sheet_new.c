/* A sheet to fill in, made from the table of keys. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/bench_keys.h"
#include "fail.h"
#include "job/keys.h"
#include "job/roles.h"

static const char head[] =
    "; Job sheet of loadside: what was done to a unit, and which captures were taken. Fill in what is known, leave "
    "the\n"
    "; rest empty, remove captures that do not exist, then\n"
    ";   loadside job --check SHEET    says what is wrong or missing, and whether each power fits the input\n"
    ";   loadside job SHEET            measures, compares, and writes the report\n"
    "; Only the captures are required. Paths start from the folder of this sheet. A ; after a blank begins a\n"
    "; comment; an indented line continues the text above it. All keys: docs/job-sheet.md.\n"
    ";\n"
    "; Before anything is connected: mains voltage and charged capacitors can kill, load resistors get hot enough to\n"
    "; burn, a bridged output is shorted by a grounded input, and tens of volts destroy a sound card's input. The "
    "highest\n"
    "; sine power that fits is (full_scale*attenuation)^2/(2*load).\n";

static const char *const section_text[LDS_SHEET_SECTIONS] = {
    [LDS_SHEET_UNIT] = "The unit that was measured.",
    [LDS_SHEET_RATING] = "The power that the maker or the client states, with its conditions.",
    [LDS_SHEET_JOB] = "The job.",
    [LDS_SHEET_BENCH] = "What is between the load and the samples: a bench file, or its keys here.",
    [LDS_SHEET_PARTS] = "Component values that the work changed, as in C1 = 10 uF -> 22 uF.",
    [LDS_SHEET_LIMITS] = "Limits for figures, as in thd = at most 0.01 % (docs/limits-file.md).",
    [LDS_SHEET_EXPECT] = "What component values imply, beside what was measured; a section for each, or remove it.",
    [LDS_SHEET_CAPTURE] =
        "The captures. Three or more a side, numbered by repeat, show what cabling and warming up do.",
};

/* Pads so that comments are in one column. */
void lds_sheet_write_key(FILE *out, const char *name, const char *value, const char *meaning, const char *unit)
{
    int width = fprintf(out, "%s =%s%s", name, value[0] ? " " : "", value);
    fprintf(out, "%*s; %s%s%s\n", width < 26 ? 26 - width : 1, "", meaning, *unit ? ", in " : "", unit);
}

static void write_bench_key(FILE *out, const struct lds_ini_key *key)
{
    char meaning[160];
    snprintf(meaning, sizeof meaning, "when empty: %s", key->fallback);
    lds_sheet_write_key(out, key->name, "", meaning, key->unit);
}

void lds_sheet_write_title(FILE *out, enum lds_sheet_section section)
{
    fprintf(out, "\n; %s\n", section_text[section]);
    if (section != LDS_SHEET_CAPTURE)
        fprintf(out, "[%s%s]\n", lds_sheet_section_name(section), section == LDS_SHEET_EXPECT ? " input coupling" : "");
}

void lds_sheet_write_head(FILE *out)
{
    fputs(head, out);
}

void lds_sheet_write_section(FILE *out, enum lds_sheet_section section)
{
    size_t count;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    lds_sheet_write_title(out, section);
    for (size_t i = 0; i < count; i++)
        if (keys[i].section == section)
            lds_sheet_write_key(out, keys[i].is.name, "", keys[i].is.meaning, keys[i].is.unit);
    const struct lds_ini_key *bench = lds_bench_keys(&count);
    for (size_t i = 0; section == LDS_SHEET_BENCH && i < count; i++)
        write_bench_key(out, &bench[i]);
}

/* Writes a key of a capture. all: every key with its meaning, for the first capture; else only keys that have a value,
 * and `file` and `power`. */
static void write_capture_key(FILE *out, const struct lds_ini_key *key, const char *value, bool all)
{
    char meaning[240], words[200] = "";
    if (key->kind == LDS_INI_ROW)
        lds_roles_list(NULL, words, sizeof words);
    snprintf(meaning, sizeof meaning, "%s%s%s", key->meaning, words[0] ? ": " : "", words);
    if (all)
        lds_sheet_write_key(out, key->name, value, meaning, key->unit);
    else if (value[0] || strcmp(key->name, "file") == 0 || strcmp(key->name, "power") == 0)
        fprintf(out, "%s =%s%s\n", key->name, value[0] ? " " : "", value);
}

static void write_capture(FILE *out, const struct lds_role *role, enum lds_when when, bool first)
{
    size_t count;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    const char *side = lds_when_name(when);
    fprintf(out, "%s[capture %s%s%s]\n", first ? "" : "\n", role->name, side[0] ? " " : "", side);
    if (when != LDS_WHEN_AFTER)
        fprintf(out, "; %s\n", role->note);
    for (size_t i = 0; i < count; i++) {
        const char *name = keys[i].is.name;
        bool is_role = strcmp(name, "role") == 0, is_side = strcmp(name, "side") == 0;
        if (keys[i].section == LDS_SHEET_CAPTURE && !(is_side && role->chain) &&
            (role->power || strcmp(name, "power") != 0) && (role->tone || strcmp(name, "frequency") != 0))
            write_capture_key(out, &keys[i].is, is_role ? role->name : is_side ? side : "", first);
    }
}

/* First the captures from before the work, then those from after it; the chain at the end. */
static void write_captures(FILE *out)
{
    static const enum lds_when sides[] = {LDS_WHEN_BEFORE, LDS_WHEN_AFTER, LDS_WHEN_ANY};
    size_t count;
    const struct lds_role *roles = lds_roles(&count);
    bool first = true;
    for (size_t s = 0; s < sizeof sides / sizeof *sides; s++)
        for (size_t i = 0; i < count; i++)
            if (roles[i].note && roles[i].chain == (sides[s] == LDS_WHEN_ANY)) {
                write_capture(out, &roles[i], sides[s], first);
                first = false;
            }
}

static void write_sheet(FILE *out, const void *nothing)
{
    (void)nothing;
    lds_sheet_write_head(out);
    for (int section = 0; section < LDS_SHEET_CAPTURE; section++)
        lds_sheet_write_section(out, (enum lds_sheet_section)section);
    lds_sheet_write_section(out, LDS_SHEET_EXPECT);
    lds_sheet_write_title(out, LDS_SHEET_CAPTURE);
    write_captures(out);
}

enum lds_status lds_sheet_new(const char *path, struct lds_error *error)
{
    return lds_sheet_create(path, write_sheet, NULL, error);
}

enum lds_status lds_sheet_create(const char *path, void (*write)(FILE *out, const void *context), const void *context,
                                 struct lds_error *error)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd < 0 && errno == EEXIST)
        return lds_fail(error, LDS_BAD_USE, "%s: exists already, and is not changed; a new name expected; choose one",
                        path);
    FILE *out = fd < 0 ? NULL : fdopen(fd, "w");
    int reason = errno;
    bool good = out != NULL;
    if (out) {
        write(out, context);
        errno = 0;
        good = fflush(out) == 0 && !ferror(out) && fsync(fd) == 0;
        reason = errno;
        good = fclose(out) == 0 && good;
    } else if (fd >= 0) {
        close(fd);
    }
    if (good)
        return LDS_OK;
    if (fd >= 0)
        unlink(path);
    return lds_fail(error, LDS_IO, "%s: cannot be written: %s; free some space, or choose another place", path,
                    strerror(reason ? reason : EIO));
}
