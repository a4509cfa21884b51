/* What single lines of a sheet cannot show: benches, paths, captures that contradict each other. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/bench_keys.h"
#include "job/digest.h"
#include "job/power.h"
#include "job/roles.h"
#include "job/sheet.h"

/* The path relative to the sheet's folder; NULL: no memory. */
static char *beside(const char *sheet, const char *file)
{
    const char *slash = strrchr(sheet, '/');
    char *path = NULL;
    int folder = slash && file[0] != '/' ? (int)(slash + 1 - sheet) : 0;
    return asprintf(&path, "%.*s%s", folder, sheet, file) < 0 ? NULL : path;
}

#define STREAM "%s: is a pipe or a device; a job reads its files twice: name a file"

static void load_bench(struct lds_sheet_reading *reading, struct lds_bench *bench, const char *file, int line)
{
    struct lds_error error = {0};
    char *path = beside(reading->sheet->path, file);
    if (!path)
        reading->faults.no_memory = true;
    else if (lds_is_stream(path))
        lds_fault(&reading->faults, line, STREAM, path);
    else if (lds_bench_load(bench, path, &error) != LDS_OK)
        lds_fault(&reading->faults, line, "%s", error.message);
    free(path);
}

/* Takes the keys of [bench], or those of the channels, which are applied after [bench] wherever they stand in the
 * sheet. */
static void override_bench(struct lds_sheet_reading *reading, struct lds_bench *bench, bool channels)
{
    for (size_t i = 0; i < reading->stateds; i++) {
        struct lds_error error = {0};
        const struct lds_stated *stated = &reading->stated[i];
        const struct lds_ini_key *key = stated->value && *stated->value ? lds_bench_key_find(stated->name) : NULL;
        if (key && (stated->channel > 0) == channels &&
            lds_bench_key_set(bench, stated->channel, key, stated->value, reading->sheet->path, &error) != LDS_OK)
            lds_fault(&reading->faults, stated->line, "%s", error.message);
    }
}

/* The sheet's own bench: its file, overridden by the other keys of [bench] and by those of [channel N]. */
static void make_bench(struct lds_sheet_reading *reading, struct lds_bench *bench)
{
    lds_bench_init(bench);
    if (reading->sheet->bench_file)
        for (size_t i = 0; i < reading->stateds; i++)
            if (reading->stated[i].section == LDS_SHEET_BENCH && strcmp(reading->stated[i].name, "file") == 0) {
                load_bench(reading, bench, reading->sheet->bench_file, reading->stated[i].line);
                break;
            }
    override_bench(reading, bench, false);
    override_bench(reading, bench, true);
}

/* The line of a key of the capture, or else of its section. */
static int line_of(const struct lds_sheet_reading *reading, const struct lds_sheet_capture *capture, const char *key)
{
    const struct lds_stated *stated = lds_sheet_stated(reading, capture->line, key);
    return stated ? stated->line : capture->line;
}

/* The sidecar may be missing as long as the capture is: both are still to be made. */
static void load_signal(struct lds_sheet_reading *reading, struct lds_sheet_capture *capture)
{
    struct lds_error error = {0};
    char *path = beside(reading->sheet->path, capture->signal_file);
    struct lds_signal_spec *spec = calloc(1, sizeof *spec);
    const int line = line_of(reading, capture, "signal");
    if (!path || !spec)
        reading->faults.no_memory = true;
    else if (access(path, F_OK) != 0 && (!capture->path || access(capture->path, F_OK) != 0))
        ;
    else if (lds_is_stream(path))
        lds_fault(&reading->faults, line, STREAM, path);
    else if (lds_signal_spec_load(spec, path, &error) != LDS_OK)
        lds_fault(&reading->faults, line, "%s", error.message);
    else {
        capture->signal = spec;
        spec = NULL;
    }
    free(spec);
    free(path);
}

static void fill_capture(struct lds_sheet_reading *reading, struct lds_sheet_capture *capture,
                         const struct lds_bench *bench)
{
    struct lds_error error = {0};
    if (capture->bench_file)
        load_bench(reading, &capture->bench, capture->bench_file, line_of(reading, capture, "bench"));
    else if (lds_bench_copy(&capture->bench, bench, &error) != LDS_OK)
        reading->faults.no_memory = true;
    for (int channel = 1; channel <= LDS_CHANNELS_MAX; channel++) {
        const char *name = reading->sheet->channel_name[channel];
        if (name && !lds_bench_name_channel(&capture->bench, channel, name))
            reading->faults.no_memory = true;
    }
    if (capture->file && !(capture->path = beside(reading->sheet->path, capture->file)))
        reading->faults.no_memory = true;
    if (capture->signal_file)
        load_signal(reading, capture);
}

static bool has_tone(const struct lds_role *role)
{
    return role->tone;
}

static bool has_power(const struct lds_role *role)
{
    return role->power;
}

/* Rejects what only some roles may have. */
static void check_has(struct lds_sheet_reading *reading, const struct lds_sheet_capture *capture, const char *key,
                      double stated, bool (*has)(const struct lds_role *))
{
    char roles[200];
    if (isnan(stated) || has(capture->role))
        return;
    lds_roles_list(has, roles, sizeof roles);
    lds_fault(&reading->faults, line_of(reading, capture, key),
              "a %s found for %s; only role = %s has one; leave it out", key, capture->role->name, roles);
}

static void check_capture(struct lds_sheet_reading *reading, const struct lds_sheet_capture *capture)
{
    struct lds_faults *faults = &reading->faults;
    const struct lds_stated *role = lds_sheet_stated(reading, capture->line, "role");
    if (!role || role->value) { /* or empty */
        char roles[200];
        lds_roles_list(NULL, roles, sizeof roles);
        lds_fault(faults, capture->line, "[capture %.64s] states no role; role = %s expected; add it", capture->name,
                  roles);
    }
    if (capture->role == &lds_role_unknown)
        return;
    if (capture->signal && capture->role->holds != LDS_SIGNAL_NONE && capture->signal->kind != capture->role->holds)
        lds_fault(faults, line_of(reading, capture, "signal"),
                  "%.200s describes %s, and role = %s; correct one of them", capture->signal_file,
                  lds_signal_phrase(capture->signal->kind), capture->role->name);
    check_has(reading, capture, "power", capture->power_w, has_power);
    check_has(reading, capture, "frequency", capture->frequency_hz, has_tone);
    if (capture->role->power && !isnan(capture->power_w) && isnan(lds_power_bench(capture)->load_ohm))
        lds_fault(faults, line_of(reading, capture, "power"),
                  "a power of %.4g W without a load found; load = OHM expected in %s; add it", capture->power_w,
                  capture->bench_file ? capture->bench_file : "[bench]");
}

static void check_file(struct lds_sheet_reading *reading, size_t place)
{
    const struct lds_sheet_capture *all = reading->sheet->capture, *second = &all[place];
    for (size_t i = 0; i < place && second->path; i++) {
        bool overlap = all[i].channel == 0 || second->channel == 0 || all[i].channel == second->channel;
        if (!overlap || !all[i].path || strcmp(all[i].path, second->path) != 0)
            continue;
        lds_fault(&reading->faults, line_of(reading, second, "file"),
                  "'%s' is the file of [capture %.64s] in line %d already; a capture of its own expected; name it",
                  second->file, all[i].name, all[i].line);
        return;
    }
}

void lds_sheet_whole(struct lds_sheet_reading *reading)
{
    struct lds_sheet *sheet = reading->sheet;
    struct lds_bench bench;
    make_bench(reading, &bench);
    for (size_t i = 0; i < sheet->captures; i++) {
        fill_capture(reading, &sheet->capture[i], &bench);
        check_capture(reading, &sheet->capture[i]);
        check_file(reading, i);
    }
    lds_bench_free(&bench);
    lds_sheet_expects(reading);
    for (size_t i = 0, measured = 0; i <= sheet->captures; i++) {
        if (i < sheet->captures)
            measured += !sheet->capture[i].role->chain;
        else if (measured == 0)
            lds_fault(&reading->faults, 0,
                      "no capture of the unit; a section [capture NAME] for each expected; add one");
    }
}
