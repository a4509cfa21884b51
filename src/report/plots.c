/* Pictures of every channel: data, scripts that run by themselves, and what gnuplot makes of them. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "fail.h"
#include "report/figures.h"
#include "report/plot.h"
#include "report/text.h"
#include "safe_text.h"

enum { STEM_LONGEST = 100 };

/* The last part of the path without its suffix, and in it nothing but letters, digits, points and hyphens. */
static void make_stem(const char *file, char *stem, size_t size)
{
    const char *name = lds_plot_base_name(file);
    const char *point = strrchr(name, '.');
    size_t length = point && point > name ? (size_t)(point - name) : strlen(name);
    size_t used = 0;
    for (size_t i = 0; i < length && used + 1 < size && used < STEM_LONGEST; i++) {
        unsigned char c = (unsigned char)name[i];
        bool kept = c < 0x80 && (isalnum(c) || ((c == '.' || c == '-') && used > 0));
        if (kept)
            stem[used++] = (char)c;
        else if (used > 0 && stem[used - 1] != '-')
            stem[used++] = '-';
    }
    while (used > 0 && (stem[used - 1] == '-' || stem[used - 1] == '.'))
        used--;
    stem[used] = '\0';
    if (used == 0)
        snprintf(stem, size, "capture");
}

void lds_plot_stem(const struct lds_measurement *measurement, size_t place, char *stem, size_t size)
{
    size_t before = 0; /* of the same stem, letters of either case taken as equal */
    char other[STEM_LONGEST + 8];
    make_stem(measurement[place].file ? measurement[place].file : "", stem, size);
    for (size_t i = 0; i < place; i++) {
        make_stem(measurement[i].file ? measurement[i].file : "", other, sizeof other);
        before += strcasecmp(stem, other) == 0;
    }
    /* Pictures of a comparison may stand in the same folder. */
    before += strcasecmp(stem, "comparison") == 0;
    if (before > 0) {
        size_t length = strlen(stem);
        /* "_" is in no stem, so that "a_2" cannot be another capture's own name. */
        snprintf(stem + length, size - length, "_%zu", before + 1);
    }
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

/* What a page's writers are given. */
struct drawing {
    const struct lds_picture *picture;
    struct lds_plot plot;
};

static void write_data(FILE *out, const void *context)
{
    const struct drawing *drawing = context;
    const char *file = drawing->plot.measurement->file;
    char *name = lds_words_escape(file ? file : "");
    fprintf(out, "# capture: %s\n# channel: %d\n", name ? name : "", drawing->plot.channel->channel);
    free(name);
    drawing->picture->write_data(out, &drawing->plot);
}

static void write_script(FILE *out, const char *data, const void *context)
{
    const struct drawing *drawing = context;
    struct lds_plot plot = drawing->plot;
    plot.data = data;
    drawing->picture->write_script(out, &plot);
}

static enum lds_status draw(const struct drawing *drawing, const char *conditions, unsigned options, int *drawn,
                            struct lds_error *error)
{
    const struct lds_plot *plot = &drawing->plot;
    char tail[40];
    snprintf(tail, sizeof tail, ", channel %d", plot->channel->channel);
    const struct lds_plot_page page = {
        .folder = plot->folder,
        .stem = plot->stem,
        .name = drawing->picture->name,
        .title = drawing->picture->title,
        .subject = lds_plot_base_name(plot->measurement->file),
        .tail = tail,
        .conditions = conditions,
        .write_data = write_data,
        .write_script = write_script,
        .context = drawing,
    };
    return lds_plot_make(&page, options, drawn, error);
}

/* Every series over an axis has a picture of its own. */
static enum lds_status draw_series(const struct lds_plot *plot, const char *conditions, unsigned options, int *drawn,
                                   struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < plot->channel->series_count; i++) {
        const struct lds_series *series = &plot->channel->series[i];
        char name[64], title[96];
        if (series->kind->form != LDS_FORM_OVER_AXIS || series->rows < 2)
            continue;
        lds_plot_series_name(series->kind->key, "", name, sizeof name);
        snprintf(title, sizeof title, "%c%s", toupper((unsigned char)series->kind->label[0]), series->kind->label + 1);
        struct lds_picture picture = lds_picture_series;
        picture.name = name;
        picture.title = title;
        struct drawing drawing = {&picture, *plot};
        drawing.plot.series = series;
        status = draw(&drawing, conditions, options, drawn, error);
    }
    return status;
}

static enum lds_status plot_channel(const struct lds_plot *plot, unsigned options, int *drawn, struct lds_error *error)
{
    static const struct lds_picture *const pictures[] = {
        &lds_picture_spectrum, &lds_picture_density, &lds_picture_harmonics, &lds_picture_residual, &lds_picture_mains};
    enum lds_status status = LDS_OK;
    struct lds_scrap conditions;
    if (!lds_scrap_open(&conditions))
        return lds_fail_memory(error, "the plots");
    write_conditions(conditions.out, plot->measurement);
    if (!lds_scrap_close(&conditions))
        status = lds_fail_memory(error, "the plots");
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++)
        if (pictures[i]->wanted(plot->channel))
            status = draw(&(struct drawing){pictures[i], *plot}, conditions.text, options, drawn, error);
    if (status == LDS_OK)
        status = draw_series(plot, conditions.text, options, drawn, error);
    free(conditions.text);
    return status;
}

enum lds_status lds_report_plots(const struct lds_measurement *measurement, size_t count, const char *folder,
                                 unsigned options, int *drawn, struct lds_error *error)
{
    *drawn = 0;
    enum lds_status status = lds_plot_folder(folder, error);
    if (status != LDS_OK)
        return status;
    struct lds_point_locale locale;
    if (!lds_point_locale_enter(&locale))
        return lds_fail_memory(error, "the plots");
    *drawn = 1;
    for (size_t i = 0; status == LDS_OK && i < count; i++) {
        char stem[LDS_PLOT_STEM], name[STEM_LONGEST + 64];
        lds_plot_stem(measurement, i, stem, sizeof stem);
        for (size_t k = 0; status == LDS_OK && k < measurement[i].channels; k++) {
            const struct lds_channel *channel = &measurement[i].channel[k];
            snprintf(name, sizeof name, "%s-channel%d", stem, channel->channel);
            const struct lds_plot plot = {&measurement[i], channel, folder, name, NULL, NULL};
            status = plot_channel(&plot, options, drawn, error);
        }
    }
    lds_point_locale_leave(&locale);
    if (status != LDS_OK)
        *drawn = 0;
    return status;
}
