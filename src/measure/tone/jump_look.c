#include "measure/tone/jump_look.h"

#include <math.h>
#include <stdlib.h>

#include "fail.h"
#include "measure/tone/jump_fit.h"

static const double SAME_S = 0.002;
static const double LEAST_RATE_HZ = 12e3, LEAST_RATE = 8.0; /* LEAST_RATE: times the tone's frequency */
static const double DENSE_S = 0.06, DENSE_PERIODS = 4.0;
static const double DENSE_SHARE = 0.75; /* distance of neighbouring stretches, in lengths of one, since jumps at the
                                         * ends of a stretch are not seen */
enum { ROOM = 4 * LDS_SUSPECTS_MAX, PROBES = 6, LOOKS = 1024 };

struct look {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    int index, together; /* together: samples that are averaged into one */
    double *block, *x;
    int64_t frames; /* largest length of a stretch */
    struct lds_jump *jump;
    size_t jumps;
};

/* Means of `together` samples of the channel from `first` on; *n: how many. */
static enum lds_status read_stretch(struct look *look, int64_t first, int64_t frames, size_t *n,
                                    struct lds_error *error)
{
    enum lds_status status = lds_capture_seek(look->capture, first, error);
    int64_t got = 0;
    while (status == LDS_OK && got < frames) {
        int64_t part = 0;
        status = lds_capture_read(look->capture, look->block + got * look->info->channels, frames - got, &part, error);
        if (part == 0)
            break;
        got += part;
    }
    *n = (size_t)(got / look->together);
    for (size_t i = 0; i < *n; i++) {
        double sum = 0.0;
        for (int k = 0; k < look->together; k++)
            sum += look->block[((int64_t)i * look->together + k) * look->info->channels + look->index];
        look->x[i] = sum / look->together;
    }
    return status;
}

static void keep(struct look *look, const struct lds_jump *jump)
{
    for (size_t j = 0; j < look->jumps; j++)
        if (fabs(look->jump[j].at_s - jump->at_s) < SAME_S)
            return;
    if (look->jumps < ROOM)
        look->jump[look->jumps++] = *jump;
}

/* Where the frames cannot tell how the phase moves without jumps, the jumps have to explain nearly everything; beside a
 * low tone some hum may be left. */
static double explained(const struct lds_track *track)
{
    return track->restless ? (double)INFINITY : track->few_frames ? 200.0 : 0.0;
}

/* Looks half_s to both sides of the suspect. */
static enum lds_status look_at(struct look *look, const struct lds_findings *findings, const struct lds_jump *suspect,
                               double half_s, double least_rad, struct lds_error *error)
{
    double rate_hz = look->info->rate_hz;
    int64_t first = llround((suspect->at_s - half_s) * rate_hz);
    int64_t end = llround((suspect->at_s + half_s) * rate_hz);
    first = first < 0 ? 0 : first;
    end = end > look->info->frames ? look->info->frames : end;
    end = end > first + look->frames ? first + look->frames : end;
    size_t n = 0, jumps = 0;
    enum lds_status status = read_stretch(look, first, end - first, &n, error);
    if (status != LDS_OK)
        return status;
    struct lds_jump_fit fit[LDS_JUMP_FITS];
    struct lds_stretch stretch = {.x = look->x,
                                  .n = n,
                                  .rate_hz = rate_hz / look->together,
                                  .tone_hz = suspect->tone_hz,
                                  .mains_hz = findings->mains.found ? findings->mains.frequency_hz : 0.0,
                                  .least_rad = least_rad,
                                  .explained = explained(&findings->track)};
    if (!lds_jump_fit(&stretch, fit, &jumps))
        return lds_fail_memory(error, "the look at jumps of the tone");
    for (size_t j = 0; j < jumps; j++) {
        double at_s = ((double)first + (double)fit[j].sample * look->together) / rate_hz;
        keep(look, &(struct lds_jump){.at_s = at_s, .phase_rad = fit[j].phase_rad, .tone_hz = suspect->tone_hz});
    }
    return LDS_OK;
}

/* For a phase that moves all the time. If jumps are the reason, some parts of the capture show them; then all of it is
 * searched, up to LOOKS stretches. */
static enum lds_status look_everywhere(struct look *look, const struct lds_findings *findings, struct lds_error *error)
{
    double half_s = fmax(DENSE_S, DENSE_PERIODS / findings->track.frequency_hz), step_s = 2.0 * DENSE_SHARE * half_s;
    size_t all = (size_t)(findings->seconds / step_s) + 1, shown = 0;
    struct lds_jump place = {.tone_hz = findings->track.frequency_hz};
    enum lds_status status = LDS_OK;
    for (size_t k = 0; status == LDS_OK && k < PROBES; k++) {
        size_t before = look->jumps;
        place.at_s = findings->seconds * ((double)k + 0.5) / PROBES;
        status = look_at(look, findings, &place, half_s, 0.0, error);
        shown += look->jumps > before;
    }
    if (2 * shown < PROBES) {
        look->jumps = 0;
        return status;
    }
    for (size_t k = 0; status == LDS_OK && k < all && k < LOOKS; k++) {
        place.at_s = ((double)k + 0.5) * step_s;
        status = look_at(look, findings, &place, half_s, 0.0, error);
    }
    return status;
}

static enum lds_status look_at_suspects(struct look *look, const struct lds_findings *findings, struct lds_error *error)
{
    const struct lds_track *track = &findings->track;
    enum lds_status status = LDS_OK;
    for (size_t j = 0; status == LDS_OK && j < track->suspects; j++)
        status = look_at(look, findings, &track->suspect[j], track->look_s, track->jump_least_rad, error);
    return status;
}

static int by_time(const void *a, const void *b)
{
    double x = ((const struct lds_jump *)a)->at_s, y = ((const struct lds_jump *)b)->at_s;
    return (x > y) - (x < y);
}

enum lds_status lds_jump_look(struct lds_capture *capture, int index, struct lds_findings *findings,
                              struct lds_error *error)
{
    struct lds_track *track = &findings->track;
    if (track->suspects == 0 && !track->restless)
        return LDS_OK;
    struct look look = {.capture = capture, .info = findings->info, .index = index};
    look.together = (int)fmax(1.0, floor(look.info->rate_hz / fmax(LEAST_RATE_HZ, LEAST_RATE * track->frequency_hz)));
    look.frames = (int64_t)(2.0 * track->look_s * look.info->rate_hz) + 1;
    look.block = malloc((size_t)look.frames * (size_t)look.info->channels * sizeof *look.block);
    look.x = malloc((size_t)look.frames * sizeof *look.x);
    look.jump = malloc(ROOM * sizeof *look.jump);
    enum lds_status status = LDS_OK;
    if (!look.block || !look.x || !look.jump)
        status = lds_fail_memory(error, "the look at jumps of the tone");
    if (status == LDS_OK)
        status = track->restless ? look_everywhere(&look, findings, error) : look_at_suspects(&look, findings, error);
    free(look.block);
    free(look.x);
    if (status != LDS_OK) {
        free(look.jump);
        return status;
    }
    qsort(look.jump, look.jumps, sizeof *look.jump, by_time);
    track->jump = look.jump;
    track->jumps = look.jumps;
    return LDS_OK;
}
