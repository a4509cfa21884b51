/* Pictures of every channel that was compared. */
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

static enum lds_status plot_channel(const struct lds_comparison_plot *plot, const char *folder, unsigned options,
                                    int *drawn, struct lds_error *error)
{
    static const struct lds_comparison_picture *const pictures[] = {&lds_picture_changes, &lds_picture_both_spectra,
                                                                    &lds_picture_both_densities, &lds_picture_change,
                                                                    &lds_picture_both_harmonics};
    enum lds_status status = LDS_OK;
    char stem[48], tail[40];
    snprintf(stem, sizeof stem, "comparison-channel%d", plot->compared->channel);
    snprintf(tail, sizeof tail, ", channel %d", plot->compared->channel);
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++) {
        if (!pictures[i]->wanted(plot))
            continue;
        const struct drawing drawing = {pictures[i], plot};
        bool all = pictures[i]->of_all;
        const struct lds_plot_page page = {
            .folder = folder,
            .stem = stem,
            .name = pictures[i]->name,
            .title = pictures[i]->title,
            .subject = all ? plot->side[0].all : plot->side[0].name,
            .tail = tail,
            .conditions = all ? plot->side[1].all : plot->side[1].name,
            .write_data = write_data,
            .write_script = write_script,
            .context = &drawing,
        };
        status = lds_plot_make(&page, options, drawn, error);
    }
    return status;
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
