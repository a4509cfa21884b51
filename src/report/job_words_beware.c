/* Cautions at the top of the report: captures that differ from what the sheet says, or that clip. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "job/power.h"
#include "job/tone.h"
#include "report/job_words.h"

/* A sentence that is put together in parts. */
struct sentence {
    FILE *out;
    bool begun;
};

static FILE *next_part(struct sentence *sentence)
{
    if (sentence->begun)
        fputs("; ", sentence->out);
    sentence->begun = true;
    return sentence->out;
}

static void put_power(struct sentence *sentence, const struct lds_sheet *sheet, const struct lds_sheet_capture *capture,
                      const struct lds_figure *power)
{
    if (!lds_power_is_stated(sheet, capture, power->low, power->high))
        fprintf(next_part(sentence), "the sheet says %.4g W; this capture holds %.3g W", capture->power_w,
                power->value);
    if (lds_rating_is_exceeded(&sheet->rating, capture->bench.load_ohm, power->value))
        fprintf(next_part(sentence), "%.3g W is more than the %.4g W that the unit is rated for", power->value,
                sheet->rating.power_w);
}

static void put_clipping(struct sentence *sentence, const struct lds_channel *channel)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    if (clipped && clipped->value > 0.0)
        fputs("the recording clips, so that its distortion is not that of the amplifier alone", next_part(sentence));
    else if (lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS))
        fputs("the amplifier clips", next_part(sentence));
}

static void put_channel(struct lds_rows_of_words *rows, const struct lds_job *job, size_t place,
                        const struct lds_channel *channel, bool driven)
{
    const struct lds_sheet_capture *capture = &job->sheet->capture[place];
    const struct lds_figure *power = lds_channel_find(channel, LDS_FIGURE_TONE_POWER);
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    struct sentence sentence = {.out = scrap.out};
    bool tone = lds_signal_may_be_one_tone(channel->signal.kind);
    if (driven && tone && power && isfinite(power->value))
        put_power(&sentence, job->sheet, capture, power);
    put_clipping(&sentence, channel);
    if (lds_scrap_close(&scrap) && scrap.text[0])
        lds_row_of_words(rows, "Beware", "%s, %s: %s.", capture->name,
                         lds_job_channel_words(job->sheet, channel->channel).text, scrap.text);
    free(scrap.text);
}

void lds_job_words_beware(struct lds_rows_of_words *rows, const struct lds_job *job)
{
    for (size_t i = 0; i < job->unlike.count; i++)
        lds_row_of_words(rows, "Beware", "%s", job->unlike.line[i]);
    for (size_t i = 0; i < job->sheet->captures; i++) {
        const struct lds_measurement *measurement = &job->measurement[i];
        for (size_t c = 0; c < measurement->channels; c++)
            put_channel(rows, job, i, &measurement->channel[c],
                        lds_is_driven(measurement, measurement->channel[c].channel));
    }
}
