#include "job/look.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "hz_words.h"
#include "job/digest.h"
#include "job/groups.h"
#include "job/power.h"
#include "job/tone.h"

static const double SHORTEST_S = 0.2; /* of lds_measure */
static const double CLOCKS = 5e-4;    /* clocks of player and recorder differ by less (common practice, no source) */

const char *lds_without_path(const char *message, const char *path)
{
    size_t length = strlen(path);
    if (strncmp(message, path, length) != 0 || message[length] != ':')
        return message;
    return message + length + 1 + strspn(message + length + 1, " ");
}

void lds_look_options(const struct lds_sheet_capture *capture, struct lds_measure_options *options)
{
    lds_measure_options_init(options);
    options->bench = capture->bench; /* not owned */
    options->channel = capture->channel;
    options->driven[0] = capture->driven;
    options->drivens = capture->driven > 0;
}

static void look_for_tone(const struct lds_sheet_capture *capture, struct lds_capture *opened, struct lds_look *look,
                          struct lds_faults *faults)
{
    struct lds_measure_options options;
    struct lds_error error = {0};
    char stated[32], found[32];
    lds_look_options(capture, &options);
    options.threads = 1;
    if (lds_measure_tones(opened, &options, look->tone, &look->tones, &error) != LDS_OK) {
        lds_fault(faults, capture->line, "%s: %s", capture->file, lds_without_path(error.message, capture->path));
        look->good = false;
        return;
    }
    double found_hz = lds_tone_of(look->tone, look->tones);
    if (!capture->role->tone)
        return;
    if (isnan(capture->frequency_hz))
        look->tone_hz = found_hz;
    else if (!isnan(found_hz) && !lds_same_tone(found_hz, capture->frequency_hz)) {
        lds_hz_words(capture->frequency_hz, stated, sizeof stated);
        lds_hz_words(found_hz, found, sizeof found);
        lds_fault(
            faults, capture->line,
            "%s: holds a tone of %s, and the sheet says frequency = %s; within 1 %% expected; correct one of them",
            capture->file, found, stated);
    }
}

static void look_at(const struct lds_sheet_capture *capture, struct lds_look *look, struct lds_faults *faults)
{
    struct lds_capture *opened = NULL;
    struct lds_error error = {0};
    struct stat info;
    look->to_make = !capture->path || (stat(capture->path, &info) != 0 && errno == ENOENT);
    if (look->to_make)
        return;
    if (lds_is_stream(capture->path)) {
        lds_fault(faults, capture->line, "%s: is a pipe or a device; a job reads its files twice: name a file",
                  capture->file);
        return;
    }
    if (lds_capture_open(capture->path, NULL, &opened, &error) != LDS_OK) {
        lds_fault(faults, capture->line, "%s: %s", capture->file, lds_without_path(error.message, capture->path));
        return;
    }
    look->info = *lds_capture_info(opened);
    look->end_hz = lds_measure_end_hz(look->info.rate_hz, &capture->bench);
    look->good = true;
    double seconds = (double)look->info.frames / look->info.rate_hz;
    if (capture->channel > look->info.channels)
        lds_fault(faults, capture->line, "%s: channel %d was stated, and the file holds %d; state one that is there",
                  capture->file, capture->channel, look->info.channels);
    if (capture->driven > look->info.channels)
        lds_fault(faults, capture->line,
                  "%s: channel %d was stated to be driven, and the file holds %d; state one that "
                  "is there",
                  capture->file, capture->driven, look->info.channels);
    if (seconds < SHORTEST_S * (1.0 - 1e-9))
        lds_fault(faults, capture->line, "%s: holds %.3g s; figures need at least %g s; record longer", capture->file,
                  seconds, SHORTEST_S);
    else if (capture->channel <= look->info.channels && capture->driven <= look->info.channels &&
             capture->role->holds != LDS_SIGNAL_NONE)
        look_for_tone(capture, opened, look, faults);
    lds_capture_close(opened);
}

static bool same_but_tone(const struct lds_sheet_capture *a, const struct lds_sheet_capture *b)
{
    return a->role == b->role && a->channel == b->channel && lds_same_power(a, b);
}

static bool played_as_two(const struct lds_sheet *sheet, const struct lds_look *look, size_t a, size_t b)
{
    const struct lds_sheet_capture *one = &sheet->capture[a], *other = &sheet->capture[b];
    double apart = fabs(look[a].tone_hz - look[b].tone_hz);
    return same_but_tone(one, other) && one->when == other->when && one->repeat == other->repeat &&
           apart > CLOCKS * look[a].tone_hz && lds_same_tone(look[a].tone_hz, look[b].tone_hz);
}

/* Captures of the same side and repeat number whose tones differ by more than clocks do: two different tones were
 * played. */
static void find_close(const struct lds_sheet *sheet, struct lds_look *look)
{
    for (size_t a = 0; a < sheet->captures; a++)
        for (size_t b = a + 1; b < sheet->captures; b++) {
            if (!played_as_two(sheet, look, a, b))
                continue;
            for (size_t i = 0; i < sheet->captures; i++)
                look[i].close = look[i].close || (same_but_tone(&sheet->capture[a], &sheet->capture[i]) &&
                                                  (lds_same_tone(look[a].tone_hz, look[i].tone_hz) ||
                                                   lds_same_tone(look[b].tone_hz, look[i].tone_hz)));
        }
}

struct lds_look *lds_look_at(const struct lds_sheet *sheet, struct lds_faults *faults)
{
    struct lds_look *look = calloc(sheet->captures + 1, sizeof *look);
    for (size_t i = 0; look && i < sheet->captures; i++) {
        look[i].tone_hz = sheet->capture[i].frequency_hz;
        look_at(&sheet->capture[i], &look[i], faults);
    }
    if (look)
        find_close(sheet, look);
    return look;
}

bool lds_look_same_tone(const struct lds_sheet *sheet, const struct lds_look *look, size_t a, size_t b)
{
    double one_hz = sheet->capture[a].frequency_hz, other_hz = sheet->capture[b].frequency_hz;
    if (!isnan(one_hz) && !isnan(other_hz))
        return one_hz == other_hz;
    if (look[a].close && look[b].close)
        return fabs(look[a].tone_hz - look[b].tone_hz) <= CLOCKS * look[a].tone_hz;
    return lds_same_tone(look[a].tone_hz, look[b].tone_hz);
}

void lds_look_ends(const struct lds_look *look, const struct lds_captures_of_group *group, double *lowest_hz,
                   double *highest_hz)
{
    *lowest_hz = INFINITY;
    *highest_hz = 0.0;
    for (size_t i = 0; i < group->count; i++) {
        if (!look[group->capture[i]].good)
            continue;
        *lowest_hz = fmin(*lowest_hz, look[group->capture[i]].end_hz);
        *highest_hz = fmax(*highest_hz, look[group->capture[i]].end_hz);
    }
}

bool lds_look_calibrated(const struct lds_look *look, const struct lds_bench *bench)
{
    return look->info.in_volts || !isnan(lds_bench_volts_per_unit(bench));
}
