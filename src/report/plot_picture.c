/* A picture of a channel: of one capture, or of both sides of a comparison. */
#include <stdlib.h>

#include "report/plot.h"
#include "safe_text.h"

struct drawing {
    const struct lds_picture *picture;
    const struct lds_plot *plot;
};

static void draw(struct lds_plot_sheet *sheet, const void *context)
{
    const struct drawing *drawing = context;
    const struct lds_plot *plot = drawing->plot;
    for (int i = 0; i < 2 && plot->side[i].name; i++) {
        char *name = lds_words_escape(plot->side[i].name);
        fprintf(sheet->data, "# %s%s\n", plot->compared ? "" : "capture: ", name ? name : "");
        free(name);
    }
    fprintf(sheet->data, "# %s\n", lds_plot_where(plot, ": ").text);
    drawing->picture->draw(sheet, plot);
}

static bool has_series(const struct lds_plot *plot, enum lds_series_id id)
{
    const struct lds_channel *channel = plot->side[0].channel, *after = plot->side[1].channel;
    return channel && lds_channel_find_series(channel, id)->rows > 1 &&
           (!plot->compared ||
            (after && channel->calibrated == after->calibrated && lds_channel_find_series(after, id)->rows > 1));
}

enum lds_status lds_plot_picture(struct lds_plot_place *place, const struct lds_plot *plot, const char *stem,
                                 const struct lds_picture *picture)
{
    if ((picture->series && !has_series(plot, picture->series)) || (picture->wanted && !picture->wanted(plot)))
        return LDS_OK;
    const struct lds_plot_side *side = plot->side;
    const char *both[2] = {picture->of_all ? side[0].all : side[0].name, picture->of_all ? side[1].all : side[1].name};
    const int number = plot->compared ? plot->compared->channel : side->channel->channel;
    const struct lds_label of_channel = lds_label("%.131s-channel%d", stem, number);
    const struct lds_short tail = lds_short(", %.37s", lds_plot_where(plot, " ").text);
    const struct lds_plot_page page = {.stem = of_channel.text,
                                       .name = picture->name,
                                       .title = picture->title,
                                       .subject = plot->compared ? both[0] : lds_plot_base_name(side->name),
                                       .tail = tail.text,
                                       .conditions = plot->compared ? both[1] : side->all,
                                       .low = picture->on_page,
                                       .on_page = picture->on_page && plot->on_page,
                                       .draw = draw,
                                       .context = &(struct drawing){picture, plot}};
    return lds_plot_make(place, &page);
}
