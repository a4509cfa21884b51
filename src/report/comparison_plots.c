/* Pictures of every channel that was compared. */
#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/plot.h"

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

/* Captures of the same name in two folders are named with their folders. name and all are to be freed. */
static bool fill_sides(struct lds_plot *plot, const struct lds_side side[2], char *name[2], char *all[2])
{
    static const char *const words[2] = {"before", "after"};
    const char *file[2] = {"", ""};
    for (int i = 0; i < 2; i++)
        plot->side[i] = (struct lds_plot_side){
            .word = words[i], .side = side[i], .channel = first_channel(side[i], plot->compared->channel, &file[i])};
    bool alike = strcmp(lds_plot_base_name(file[0]), lds_plot_base_name(file[1])) == 0;
    for (int i = 0; i < 2; i++) {
        char first[48] = "", others[48] = "";
        const char *shown = alike ? file[i] : lds_plot_base_name(file[i]);
        if (side[i].captures > 1) {
            snprintf(first, sizeof first, ", the first of %zu", side[i].captures);
            snprintf(others, sizeof others, " and %zu more", side[i].captures - 1);
        }
        plot->side[i].name = name[i] = lds_made("%s: %s%s", words[i], shown, first);
        plot->side[i].all = all[i] = lds_made("%s: %s%s", words[i], shown, others);
    }
    return name[0] && name[1] && all[0] && all[1];
}

static const char stem[] = "comparison";

/* Both sides of the series named in the plot, and its change. */
static enum lds_status draw_one_series(struct lds_plot_place *place, const struct lds_plot *plot)
{
    const struct lds_series_kind *kind = plot->kind;
    bool bands = kind->match == LDS_MATCH_BANDS;
    struct lds_picture both = lds_picture_both_series, change = lds_picture_change;
    const struct lds_label title = lds_label("%c%s before and after", toupper((unsigned char)kind->label[0]),
                                             kind->label + 1),
                           change_title =
                               lds_label("Change of the %s", kind->change_label ? kind->change_label : kind->row_label);
    const struct lds_short name = lds_plot_series_name(plot->key.text, ""),
                           change_name = lds_plot_series_name(plot->key.text, "-change");
    both.name = name.text;
    both.title = title.text;
    change.name = bands ? "density-change" : change_name.text;
    change.title = change_title.text;
    enum lds_status status = lds_plot_picture(place, plot, stem, &both);
    return status == LDS_OK ? lds_plot_picture(place, plot, stem, &change) : status;
}

/* Every series over an axis, of the channel and of the pairs in which it is the second. */
static enum lds_status draw_series(struct lds_plot_place *place, struct lds_plot *plot)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    enum lds_status status = LDS_OK;
    for (size_t k = 0; status == LDS_OK && k < kinds; k++) {
        const struct lds_channel *before = plot->side[0].channel;
        if (kind[k].match != LDS_MATCH_BANDS && kind[k].match != LDS_MATCH_AXIS && !kind[k].pictured)
            continue;
        if (before && lds_plot_is_part(before, &kind[k]))
            continue;
        plot->kind = &kind[k];
        for (int first = 0; status == LDS_OK && first < plot->compared->channel; first++) { /* 0: the channel itself */
            plot->pair[0] = first;
            plot->pair[1] = first > 0 ? plot->compared->channel : 0;
            plot->key = first > 0 ? lds_short("%s.%d-%d", kind[k].key, first, plot->compared->channel)
                                  : lds_short("%s", kind[k].key);
            status = draw_one_series(place, plot);
        }
    }
    return status;
}

static enum lds_status plot_channel(struct lds_plot_place *place, struct lds_plot *plot)
{
    static const struct lds_picture *const pictures[] = {&lds_picture_changes,        &lds_picture_both_spectra,
                                                         &lds_picture_both_densities, &lds_picture_both_harmonics,
                                                         &lds_picture_both_residuals, &lds_picture_both_mains};
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++)
        status = lds_plot_picture(place, plot, stem, pictures[i]);
    return status == LDS_OK ? draw_series(place, plot) : status;
}

enum lds_status lds_comparison_plots(const struct lds_comparison *comparison, struct lds_side before,
                                     struct lds_side after, const char *folder, unsigned options, int *drawn,
                                     struct lds_error *error)
{
    struct lds_plot_place place = {.folder = folder, .options = options, .drawn = drawn, .error = error};
    enum lds_status status = lds_plot_begin(&place);
    for (size_t i = 0; status == LDS_OK && i < comparison->channels; i++) {
        struct lds_plot plot = {.compared = &comparison->channel[i], .on_page = true};
        char *name[2], *all[2];
        status = fill_sides(&plot, (struct lds_side[]){before, after}, name, all) ? plot_channel(&place, &plot)
                                                                                  : lds_fail_memory(error, "the plots");
        for (int s = 0; s < 2; s++) {
            free(name[s]);
            free(all[s]);
        }
    }
    return lds_plot_finish(&place, status);
}
