/* Powers with the conditions that they need (IEC 60268-3): the rating on the sheet, and the power at
 * which each sine was tested. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "job/tone.h"
#include "report/capture_cells.h"
#include "report/job_words.h"
#include "report/reading.h"

static const char NOT_STATED[] = "not stated";

static void write_number(char *text, size_t size, const char *format, double value)
{
    if (isfinite(value))
        snprintf(text, size, format, value);
    else
        snprintf(text, size, "%s", NOT_STATED);
}

static void write_range(char *text, size_t size, double low_hz, double high_hz)
{
    char low[32], high[32];
    if (!isfinite(low_hz) || !isfinite(high_hz)) {
        snprintf(text, size, "%s", NOT_STATED);
        return;
    }
    lds_reading_hz(low_hz, low, sizeof low);
    lds_reading_hz(high_hz, high, sizeof high);
    snprintf(text, size, "%s to %s", low, high);
}

static void put_rating(struct lds_rows_of_words *rows, const struct lds_rating *rating)
{
    char power[48], load[48], distortion[48], range[80], driven[48], held[48];
    write_number(power, sizeof power, "%.4g W", rating->power_w);
    write_number(load, sizeof load, "%.4g Ω", rating->load_ohm);
    write_number(distortion, sizeof distortion, "%.3g %%", rating->distortion_percent);
    write_range(range, sizeof range, rating->low_hz, rating->high_hz);
    write_number(driven, sizeof driven, "%.0f", rating->channels_driven > 0 ? rating->channels_driven : (double)NAN);
    write_number(held, sizeof held, "%.4g s", rating->held_s);
    const char *const row[][2] = {{"power", power},
                                  {"load", load},
                                  {"distortion", distortion},
                                  {"frequency range", range},
                                  {"channels driven", driven},
                                  {"held for", held}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        lds_row_of_words(rows, row[i][0], "%s", row[i][1]);
}

bool lds_job_steps_write(FILE *out, const struct lds_channel *channel)
{
    const struct lds_figure *last = NULL;
    for (size_t i = 0; i < channel->figures; i++) {
        const struct lds_figure *figure = &channel->figure[i];
        if (figure->name.row->print != LDS_PRINT_WATTS || !figure->conditions[0])
            continue;
        struct lds_figure_cells cells;
        lds_figure_cells_make(&cells, figure);
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
    char words[160], row[320];
    if (!lds_scrap_open(&scrap))
        return;
    if (write_power(scrap.out, measurement, channel)) {
        fputc(' ', scrap.out);
        lds_job_rating_write(scrap.out, &job->sheet->rating, measurement, channel);
    }
    lds_job_channel_words(job->sheet, channel->channel, words, sizeof words);
    snprintf(row, sizeof row, "%s, %s", name, words);
    lds_row_of_scrap(rows, row, &scrap, "");
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
