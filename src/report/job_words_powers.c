/* Powers with the conditions that they need (IEC 60268-3): the rating on the sheet, and the power at
 * which each sine was tested. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>

#include "job/tone.h"
#include "report/capture_cells.h"
#include "report/job_words.h"
#include "report/reading.h"

static const char NOT_STATED[] = "not stated";

static void put_number(struct lds_rows_of_words *rows, const char *name, double value, int digits, const char *unit)
{
    if (isfinite(value))
        lds_row_of_words(rows, name, "%.*g%s", digits, value, unit);
    else
        lds_row_of_words(rows, name, NOT_STATED);
}

static void put_rating(struct lds_rows_of_words *rows, const struct lds_rating *rating)
{
    put_number(rows, "power", rating->power_w, 4, " W");
    put_number(rows, "load", rating->load_ohm, 4, " Ω");
    put_number(rows, "distortion", rating->distortion_percent, 3, " %");
    if (isfinite(rating->low_hz) && isfinite(rating->high_hz))
        lds_row_of_words(rows, "frequency range", "%s to %s", lds_hz(rating->low_hz).text,
                         lds_hz(rating->high_hz).text);
    else
        lds_row_of_words(rows, "frequency range", NOT_STATED);
    put_number(rows, "channels driven", rating->channels_driven > 0 ? rating->channels_driven : (double)NAN, 6, "");
    put_number(rows, "held for", rating->held_s, 4, " s");
}

bool lds_job_steps_write(FILE *out, const struct lds_channel *channel)
{
    const struct lds_figure *last = NULL;
    for (size_t i = 0; i < channel->figures; i++) {
        const struct lds_figure *figure = &channel->figure[i];
        if (figure->name.row->print != LDS_PRINT_WATTS || !figure->conditions[0])
            continue;
        struct lds_figure_cells cells = lds_figure_cells(figure);
        fprintf(out, "%s%s: %s %s, %s", last ? "; " : "", figure->name.row->label, cells.reading.value,
                cells.reading.unit, cells.reading.interval);
        last = last ? last : figure;
    }
    if (last)
        fprintf(out, ". %c%s.", toupper((unsigned char)last->conditions[0]), last->conditions + 1);
    return last;
}

static bool write_power(FILE *out, const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const struct lds_figure *power = lds_channel_find(channel, LDS_FIGURE_TONE_POWER);
    if (!power || !isfinite(power->value))
        return lds_job_steps_write(out, channel);
    lds_power_write(out, "", measurement, channel);
    return true;
}

/* The sheet says how many channels its rating drives, but not that this capture drove as many. */
static void put_measured(struct lds_rows_of_words *rows, const struct lds_job *job,
                         const struct lds_measurement *measurement, const struct lds_channel *channel, const char *name)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    if (write_power(scrap.out, measurement, channel)) {
        fputc(' ', scrap.out);
        lds_job_rating_write(scrap.out, &job->sheet->rating, measurement, channel);
    }
    const struct lds_sentence row =
        lds_sentence("%s, %s", name, lds_job_channel_words(job->sheet, channel->channel).text);
    lds_row_of_scrap(rows, row.text, &scrap);
}

void lds_job_words_powers(struct lds_job_words *words, const struct lds_job *job)
{
    const struct lds_sheet *sheet = job->sheet;
    put_rating(&words->rating, &sheet->rating);
    for (size_t i = 0; i < sheet->captures; i++)
        for (size_t c = 0; sheet->capture[i].role->power && c < job->measurement[i].channels; c++)
            if (lds_is_driven(&job->measurement[i], job->measurement[i].channel[c].channel))
                put_measured(&words->powers, job, &job->measurement[i], &job->measurement[i].channel[c],
                             sheet->capture[i].name);
}
