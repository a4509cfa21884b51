/* Pictures of every channel that was compared. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/comparison_plot.h"
#include "report/figures.h"
#include "report/plot.h"
#include "safe_text.h"

struct drawing {
    const struct lds_comparison_picture *picture;
    const struct lds_comparison_plot *plot;
};

static void write_data(FILE *out, const void *context)
{
    const struct drawing *drawing = context;
    for (int i = 0; i < 2; i++) {
        char *name = lds_words_escape(drawing->plot->side[i].name);
        fprintf(out, "# %s\n", name ? name : "");
        free(name);
    }
    if (drawing->plot->pair[1] > 0)
        fprintf(out, "# channels: %d and %d\n", drawing->plot->pair[0], drawing->plot->pair[1]);
    else
        fprintf(out, "# channel: %d\n", drawing->plot->compared->channel);
    drawing->picture->write_data(out, drawing->plot);
}

static void write_script(FILE *out, const char *data, const void *context)
{
    const struct drawing *drawing = context;
    drawing->picture->write_script(out, data, drawing->plot);
}

static const struct lds_channel *first_channel(struct lds_side side, int number, const char **file)
{
    for (size_t i = 0; i < side.captures; i++)
        for (size_t k = 0; k < side.measurement[i].channels; k++)
            if (side.measurement[i].channel[k].channel == number) {
                *file = side.measurement[i].file;
                return &side.measurement[i].channel[k];
            }
    return NULL;
}

/* Captures of one name in two folders are told apart by their folders. */
static bool fill_sides(struct lds_comparison_plot *plot, struct lds_side before, struct lds_side after)
{
    static const char *const words[2] = {"before", "after"};
    const struct lds_side sides[2] = {before, after};
    const char *file[2] = {"", ""};
    for (int i = 0; i < 2; i++)
        plot->side[i] = (struct lds_plot_side){
            .word = words[i], .side = sides[i], .channel = first_channel(sides[i], plot->compared->channel, &file[i])};
    bool alike = strcmp(lds_plot_base_name(file[0]), lds_plot_base_name(file[1])) == 0, enough = true;
    for (int i = 0; i < 2; i++) {
        char first[48] = "", others[48] = "";
        const char *name = alike ? file[i] : lds_plot_base_name(file[i]);
        if (sides[i].captures > 1) {
            snprintf(first, sizeof first, ", the first of %zu", sides[i].captures);
            snprintf(others, sizeof others, " and %zu more", sides[i].captures - 1);
        }
        if (asprintf(&plot->side[i].name, "%s: %s%s", words[i], name, first) < 0)
            plot->side[i].name = NULL;
        if (asprintf(&plot->side[i].all, "%s: %s%s", words[i], name, others) < 0)
            plot->side[i].all = NULL;
        enough = enough && plot->side[i].name && plot->side[i].all;
    }
    return enough;
}

static enum lds_status draw(const struct lds_comparison_plot *plot, const struct lds_comparison_picture *picture,
                            const char *folder, unsigned options, int *drawn, struct lds_error *error)
{
    char stem[48], tail[40];
    snprintf(stem, sizeof stem, "comparison-channel%d", plot->compared->channel);
    if (plot->pair[1] > 0)
        snprintf(tail, sizeof tail, ", channels %d and %d", plot->pair[0], plot->pair[1]);
    else
        snprintf(tail, sizeof tail, ", channel %d", plot->compared->channel);
    if (!picture->wanted(plot))
        return LDS_OK;
    const struct drawing drawing = {picture, plot};
    bool all = picture->of_all;
    const struct lds_plot_page page = {
        .folder = folder,
        .stem = stem,
        .name = picture->name,
        .title = picture->title,
        .subject = all ? plot->side[0].all : plot->side[0].name,
        .tail = tail,
        .conditions = all ? plot->side[1].all : plot->side[1].name,
        .write_data = write_data,
        .write_script = write_script,
        .context = &drawing,
    };
    return lds_plot_make(&page, options, drawn, error);
}

/* Both sides of the series that the plot names, and its change. */
static enum lds_status draw_one_series(const struct lds_comparison_plot *plot, const char *folder, unsigned options,
                                       int *drawn, struct lds_error *error)
{
    const struct lds_series_kind *kind = plot->kind;
    bool bands = kind->match == LDS_MATCH_BANDS;
    struct lds_comparison_picture both = lds_picture_both_series, change = lds_picture_change;
    char name[64], title[96], change_name[64], change_title[96];
    lds_plot_series_name(plot->key, "", name, sizeof name);
    lds_plot_series_name(plot->key, "-change", change_name, sizeof change_name);
    snprintf(title, sizeof title, "%c%s before and after", toupper((unsigned char)kind->label[0]), kind->label + 1);
    snprintf(change_title, sizeof change_title, "Change of the %s",
             kind->change_label ? kind->change_label : kind->row_label);
    both.name = name;
    both.title = title;
    change.name = bands ? "density-change" : change_name;
    change.title = change_title;
    enum lds_status status = draw(plot, &both, folder, options, drawn, error);
    return status == LDS_OK ? draw(plot, &change, folder, options, drawn, error) : status;
}

/* Every series over an axis, of the channel and of the pairs whose second it is. */
static enum lds_status draw_series(struct lds_comparison_plot *plot, const char *folder, unsigned options, int *drawn,
                                   struct lds_error *error)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    enum lds_status status = LDS_OK;
    for (size_t k = 0; status == LDS_OK && k < kinds; k++) {
        if (kind[k].match != LDS_MATCH_BANDS && kind[k].match != LDS_MATCH_AXIS)
            continue;
        plot->kind = &kind[k];
        for (int first = 0; status == LDS_OK && first < plot->compared->channel; first++) { /* 0: the channel itself */
            char pair[24] = "";
            if (first > 0)
                snprintf(pair, sizeof pair, ".%d-%d", first, plot->compared->channel);
            plot->pair[0] = first;
            plot->pair[1] = first > 0 ? plot->compared->channel : 0;
            snprintf(plot->key, sizeof plot->key, "%s%s", kind[k].key, pair);
            status = draw_one_series(plot, folder, options, drawn, error);
        }
    }
    return status;
}

static enum lds_status plot_channel(struct lds_comparison_plot *plot, const char *folder, unsigned options, int *drawn,
                                    struct lds_error *error)
{
    static const struct lds_comparison_picture *const pictures[] = {
        &lds_picture_changes, &lds_picture_both_spectra, &lds_picture_both_densities, &lds_picture_both_harmonics};
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++)
        status = draw(plot, pictures[i], folder, options, drawn, error);
    return status == LDS_OK ? draw_series(plot, folder, options, drawn, error) : status;
}

enum lds_status lds_comparison_plots(const struct lds_comparison *comparison, struct lds_side before,
                                     struct lds_side after, const char *folder, unsigned options, int *drawn,
                                     struct lds_error *error)
{
    *drawn = 0;
    enum lds_status status = lds_plot_folder(folder, error);
    struct lds_point_locale locale;
    if (status != LDS_OK)
        return status;
    if (!lds_point_locale_enter(&locale))
        return lds_fail_memory(error, "the plots");
    *drawn = 1;
    for (size_t i = 0; status == LDS_OK && i < comparison->channels; i++) {
        struct lds_comparison_plot plot = {.compared = &comparison->channel[i]};
        status = fill_sides(&plot, before, after) ? plot_channel(&plot, folder, options, drawn, error)
                                                  : lds_fail_memory(error, "the plots");
        for (int s = 0; s < 2; s++) {
            free(plot.side[s].name);
            free(plot.side[s].all);
        }
    }
    lds_point_locale_leave(&locale);
    if (status != LDS_OK)
        *drawn = 0;
    return status;
}
