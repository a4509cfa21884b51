/* What a capture shows about the rating on the sheet: whether it was tested, and whether it is kept. */
#include <math.h>

#include "job/power.h"
#include "report/figures.h"
#include "report/job_words.h"
#include "report/reading.h"

static void write_percent(FILE *out, const char *name, const struct lds_figure *figure)
{
    char text[64];
    lds_reading_percent(figure->value, figure->low, figure->high, text, sizeof text);
    fprintf(out, "%s %s", name, text);
}

/* Distortion at the power of the rating or above. The sheet does not say whether it means THD or THD+N: if THD+N is
 * within the limit both are, if THD exceeds it both do; above the rated power that proves nothing. */
static void write_distortion(FILE *out, const struct lds_rating *rating, double power_w,
                             const struct lds_channel *channel)
{
    const struct lds_figure *thd_n = lds_channel_find(channel, LDS_FIGURE_THD_N),
                            *thd = lds_channel_find(channel, LDS_FIGURE_THD);
    double limit = rating->distortion_percent;
    bool more = power_w > rating->power_w * (1.0 + LDS_RATED_WITHIN);
    bool kept = lds_percent(thd_n->high) <= limit, over = thd && lds_percent(thd->low) > limit && !more;
    fputs(kept ? "kept at this frequency: " : over ? "not kept: " : "not shown either way: ", out);
    write_percent(out, "THD+N", thd_n);
    if (!kept && thd) {
        fputs(", ", out);
        write_percent(out, "THD", thd);
    }
    fprintf(out, " at %.4g W, against %.3g %% at %.4g W", power_w, limit, rating->power_w);
}

static bool clips(const struct lds_channel *channel)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    return clipped && clipped->value > 0.0;
}

void lds_job_rating_write(FILE *out, const struct lds_rating *rating, const struct lds_measurement *measurement,
                          const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_find(channel, LDS_FIGURE_TONE_POWER);
    const struct lds_figure *thd_n = lds_channel_find(channel, LDS_FIGURE_THD_N);
    double load_ohm = lds_bench_of(&measurement->bench, channel->channel)->load_ohm;
    fputs("Rating: ", out);
    if (!isfinite(rating->power_w))
        fputs("not stated", out);
    else if (!isfinite(rating->load_ohm))
        fputs("not tested: the load that it is for is not stated", out);
    else if (!lds_rating_is_for(rating, load_ohm))
        fprintf(out, "not tested: it is for %.4g Ω", rating->load_ohm);
    else if (power->value < rating->power_w * (1.0 - LDS_RATED_WITHIN))
        fprintf(out, "not tested: %.4g W is less than the rated %.4g W", power->value, rating->power_w);
    else if (!isfinite(rating->distortion_percent))
        fprintf(out, "not tested: the distortion that the %.4g W are stated at is not stated", rating->power_w);
    else if (channel->signal.kind != LDS_SIGNAL_NONE && channel->signal.kind != LDS_SIGNAL_SINE)
        fputs("not tested: this is not one steady tone", out);
    else if (clips(channel))
        fputs("not tested: the recording clips", out);
    else if (!thd_n)
        fputs("not tested: there is no THD+N", out);
    else
        write_distortion(out, rating, power->value, channel);
    fputc('.', out);
}
