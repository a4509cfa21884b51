/* What a capture shows about the rating on the sheet: whether it is met, or which of its conditions were not tested. A
 * power means something only with its load, distortion, frequency range, channels driven and time (IEC 60268-3; 16 CFR
 * 432 asks for the like in the US). */
#include <math.h>
#include <stdlib.h>

#include "job/power.h"
#include "job/tone.h"
#include "report/figures.h"
#include "report/job_words.h"
#include "report/reading.h"

/* What the capture shows at the rated power, or at its own power if that is higher. */
struct evidence {
    const struct lds_rating *rating;
    double power_w, hz, held_s;
    struct lds_cell thd_n, thd; /* dB; value NAN: not known */
    int driven, channels;       /* of the capture */
};

static int count_driven(const struct lds_measurement *measurement)
{
    int count = 0;
    for (size_t i = 0; i < measurement->channels; i++)
        count += lds_is_driven(measurement, measurement->channel[i].channel);
    return count;
}

static struct lds_cell cell_of(const struct lds_figure *figure)
{
    return figure ? (struct lds_cell){figure->value, figure->low, figure->high} : (struct lds_cell){NAN, NAN, NAN};
}

static bool clips(const struct lds_channel *channel)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    return clipped && clipped->value > 0.0;
}

static bool is_staircase(const struct lds_channel *channel)
{
    return channel->signal.kind == LDS_SIGNAL_STAIRCASE;
}

/* The highest power of the capture: of its tone, or of the last of its steps. */
static double highest_power(const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_find(channel, LDS_FIGURE_TONE_POWER);
    const struct lds_series *steps = lds_channel_find_series(channel, LDS_SERIES_THD_N_BY_POWER);
    return power ? power->value : steps->rows > 0 ? lds_series_value(steps, steps->rows - 1, LDS_CURVE_X) : (double)NAN;
}

static void gather(struct evidence *e, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_figure *tone = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
    e->driven = count_driven(measurement);
    e->channels = (int)measurement->channels;
    if (is_staircase(channel)) {
        e->power_w = e->rating->power_w;
        e->hz = channel->signal.frequency_hz[0];
        e->held_s = 0.0; /* each level lasts only a moment */
        e->thd_n = lds_series_at(lds_channel_find_series(channel, LDS_SERIES_THD_N_BY_POWER), e->power_w);
        e->thd = lds_series_at(lds_channel_find_series(channel, LDS_SERIES_THD_BY_POWER), e->power_w);
        return;
    }
    e->power_w = highest_power(channel);
    e->hz = tone ? tone->value : (double)NAN;
    e->held_s = measurement->seconds;
    e->thd_n = cell_of(lds_channel_find(channel, LDS_FIGURE_THD_N));
    e->thd = cell_of(lds_channel_find(channel, LDS_FIGURE_THD));
}

static void write_percent(FILE *out, const char *name, const struct lds_cell *cell)
{
    if (isfinite(cell->value)) /* for the client to 1 % of it at the finest */
        fprintf(out, "%s %.3g %%", name, lds_percent(cell->value));
    else
        fprintf(out, "%s %s", name, lds_percent_words(cell->value, cell->low, cell->high).text);
}

static void write_distortion(FILE *out, const struct evidence *e, bool both)
{
    write_percent(out, "THD+N", &e->thd_n);
    if (both && !isnan(e->thd.value)) {
        fputs(", ", out);
        write_percent(out, "THD", &e->thd);
    }
    fprintf(out, " at %.4g W and %s, against %.3g %% at %.4g W", e->power_w, lds_hz(e->hz).text,
            e->rating->distortion_percent, e->rating->power_w);
}

/* What the rating states and the capture did not test. */
static bool write_untested(FILE *out, const struct evidence *e)
{
    const char *between = "";
    if (isfinite(e->rating->low_hz) && isfinite(e->rating->high_hz) && e->rating->low_hz < e->rating->high_hz) {
        fprintf(out, "of %s to %s only %s was tested", lds_hz(e->rating->low_hz).text, lds_hz(e->rating->high_hz).text,
                lds_hz(e->hz).text);
        between = ", ";
    }
    if (e->rating->channels_driven > (e->channels > 1 ? e->driven : 0)) {
        if (e->channels > 1)
            fprintf(out, "%s%d of %d channels %s driven", between, e->driven, e->rating->channels_driven,
                    e->driven == 1 ? "was" : "were");
        else
            fprintf(out, "%sone channel was recorded, and %d are to be driven", between, e->rating->channels_driven);
        between = ", ";
    }
    if (e->rating->held_s > e->held_s) {
        if (e->held_s > 0.0)
            fprintf(out, "%sit was held for %.3g s of %.4g s", between, e->held_s, e->rating->held_s);
        else
            fprintf(out, "%seach level was held for a moment, not for %.4g s", between, e->rating->held_s);
        between = ", ";
    }
    return between[0] != '\0';
}

/* The sheet does not say whether it means THD or THD+N: if THD+N is within the limit, both are; if THD exceeds it, both
 * do. Distortion that exceeds it above the rated power proves nothing. */
static void write_verdict(FILE *out, const struct evidence *e)
{
    const double limit = e->rating->distortion_percent;
    const bool more = e->power_w > e->rating->power_w * (1.0 + LDS_RATED_WITHIN);
    const bool kept = lds_percent(e->thd_n.high) <= limit, over = lds_percent(e->thd.low) > limit && !more;
    struct lds_scrap untested;
    if (over || !kept) {
        fputs(over ? "not met: " : "not shown either way: ", out);
        write_distortion(out, e, true);
        return;
    }
    if (!lds_scrap_open(&untested))
        return;
    const bool some = write_untested(untested.out, e);
    if (lds_scrap_close(&untested)) {
        if (some)
            fprintf(out, "not shown: %s. As far as it was tested it is met: ", untested.text);
        else
            fputs("met: ", out);
        write_distortion(out, e, false);
    }
    free(untested.text);
}

void lds_job_rating_write(FILE *out, const struct lds_rating *rating, const struct lds_measurement *measurement,
                          const struct lds_channel *channel)
{
    const double load_ohm = lds_bench_of(&measurement->bench, channel->channel)->load_ohm,
                 highest = highest_power(channel);
    struct evidence e = {.rating = rating};
    gather(&e, measurement, channel);
    fputs("Rating: ", out);
    if (!isfinite(rating->power_w))
        fputs("not stated", out);
    else if (!isfinite(rating->load_ohm))
        fputs("not shown: the load that it is for is not stated", out);
    else if (!lds_rating_is_for(rating, load_ohm))
        fprintf(out, "not shown: it is for %.4g Ω", rating->load_ohm);
    else if (highest < rating->power_w * (1.0 - LDS_RATED_WITHIN))
        fprintf(out, "not shown: %.4g W is less than the rated %.4g W", highest, rating->power_w);
    else if (!isfinite(rating->distortion_percent))
        fprintf(out, "not shown: the distortion that the %.4g W are stated at is not stated", rating->power_w);
    else if (!lds_signal_may_be_one_tone(channel->signal.kind) && !is_staircase(channel))
        fputs("not shown: this is not one steady tone", out);
    else if (clips(channel) && !is_staircase(channel))
        fputs("not shown: the recording clips", out);
    else if (isnan(e.thd_n.value))
        fputs("not shown: there is no THD+N", out);
    else
        write_verdict(out, &e);
    fputc('.', out);
}
