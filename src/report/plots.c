/* Pictures of every channel: data, scripts that run on their own, and the pictures that gnuplot draws with them. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "fail.h"
#include "report/plot.h"
#include "report/text.h"
#include "safe_text.h"

enum { STEM_LONGEST = 100 };

/* The last part of the path without its suffix; everything but letters, digits, points and hyphens is replaced. */
static struct lds_label make_stem(const char *file)
{
    struct lds_label stem = {""};
    const char *name = lds_plot_base_name(file);
    const char *point = strrchr(name, '.');
    size_t length = point && point > name ? (size_t)(point - name) : strlen(name);
    size_t used = 0;
    for (size_t i = 0; i < length && used < STEM_LONGEST; i++) {
        unsigned char c = (unsigned char)name[i];
        bool kept = c < 0x80 && (isalnum(c) || ((c == '.' || c == '-') && used > 0));
        if (kept)
            stem.text[used++] = (char)c;
        else if (used > 0 && stem.text[used - 1] != '-')
            stem.text[used++] = '-';
    }
    while (used > 0 && (stem.text[used - 1] == '-' || stem.text[used - 1] == '.'))
        used--;
    stem.text[used] = '\0';
    return used > 0 ? stem : lds_label("capture");
}

struct lds_label lds_plot_stem(const struct lds_measurement *measurement, size_t place)
{
    const struct lds_label stem = make_stem(measurement[place].file);
    size_t before = 0; /* of the same stem, ignoring case */
    for (size_t i = 0; i < place; i++)
        before += strcasecmp(stem.text, make_stem(measurement[i].file).text) == 0;
    /* Pictures of a comparison may be in the same folder. */
    before += strcasecmp(stem.text, "comparison") == 0;
    /* "_" is in no stem, so "a_2" cannot be another capture's own name. */
    return before > 0 ? lds_label("%.100s_%zu", stem.text, before + 1) : stem;
}

static void write_conditions(FILE *out, const struct lds_measurement *measurement)
{
    if (isfinite(measurement->bench.load_ohm))
        fprintf(out, "load %.4g Ω, ", measurement->bench.load_ohm);
    else
        fputs("load not stated, ", out);
    fprintf(out, "%.4g s long", measurement->seconds);
    if (measurement->averages > 0 && isfinite(measurement->window_s))
        fprintf(out, ", %d averages of %.3g s, 7-term cosine window", measurement->averages, measurement->window_s);
    if (measurement->date[0])
        fprintf(out, ", %s", measurement->date);
}

/* Each series over an axis has a picture of its own. suffix: ".1-2" for a pair. */
static enum lds_status plot_series(struct lds_plot_place *place, struct lds_plot *plot, const char *stem,
                                   const struct lds_series *series, size_t count, const char *suffix)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < count; i++) {
        const struct lds_series_kind *kind = series[i].kind;
        if (kind->form != LDS_FORM_OVER_AXIS || series[i].rows < 2 || lds_plot_is_part(plot->side->channel, kind))
            continue;
        plot->series = &series[i];
        const struct lds_label title = lds_label("%c%s", toupper((unsigned char)kind->label[0]), kind->label + 1);
        status = lds_plot_picture(place, plot, stem,
                                  &(struct lds_picture){lds_plot_series_name(kind->key, suffix).text, title.text, NULL,
                                                        lds_picture_series.draw, LDS_SERIES_OTHER, false, false});
    }
    return status;
}

/* The pictures of a channel, and of the pairs in which it is the second. */
static enum lds_status plot_channel(struct lds_plot_place *place, struct lds_plot *plot, const char *stem)
{
    static const struct lds_picture *const pictures[] = {
        &lds_picture_spectrum, &lds_picture_density, &lds_picture_harmonics, &lds_picture_residual, &lds_picture_mains};
    const struct lds_channel *channel = plot->side->channel;
    const struct lds_measurement *measurement = plot->side->side.measurement;
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++)
        status = lds_plot_picture(place, plot, stem, pictures[i]);
    if (status == LDS_OK)
        status = plot_series(place, plot, stem, channel->series, channel->series_count, "");
    for (size_t p = 0; status == LDS_OK && p < measurement->pairs; p++) {
        const struct lds_pair *pair = &measurement->pair[p];
        if (pair->channels[1] != channel->channel)
            continue;
        memcpy(plot->pair, pair->channels, sizeof plot->pair);
        status = plot_series(place, plot, stem, pair->series, pair->series_count,
                             lds_short(".%d-%d", pair->channels[0], pair->channels[1]).text);
    }
    return status;
}

static enum lds_status plot_capture(struct lds_plot_place *place, const struct lds_measurement *captures, size_t i)
{
    const struct lds_measurement *measurement = &captures[i];
    enum lds_status status = LDS_OK;
    const struct lds_label stem = lds_plot_stem(captures, i);
    struct lds_scrap conditions;
    if (!lds_scrap_open(&conditions))
        return lds_fail_memory(place->error, "the plots");
    write_conditions(conditions.out, measurement);
    if (!lds_scrap_close(&conditions))
        return lds_fail_memory(place->error, "the plots");
    for (size_t k = 0; status == LDS_OK && k < measurement->channels; k++) {
        struct lds_plot plot = {.on_page = i == 0,
                                .side = {{.side = {measurement, 1},
                                          .channel = &measurement->channel[k],
                                          .name = measurement->file ? measurement->file : "",
                                          .all = conditions.text}}};
        status = plot_channel(place, &plot, stem.text);
    }
    free(conditions.text);
    return status;
}

enum lds_status lds_report_plots(const struct lds_measurement *measurement, size_t count, const char *folder,
                                 unsigned options, int *drawn, struct lds_error *error)
{
    struct lds_plot_place place = {.folder = folder, .options = options, .drawn = drawn, .error = error};
    enum lds_status status = lds_plot_begin(&place);
    for (size_t i = 0; status == LDS_OK && i < count; i++)
        status = plot_capture(&place, measurement, i);
    return lds_plot_finish(&place, status);
}
