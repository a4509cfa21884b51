/* Pictures on a page: the most informative ones of a group's folder, each with its message in words. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/capture_cells.h"
#include "report/comparison_cells.h"
#include "report/html_parts.h"
#include "report/html_svg.h"
#include "report/plot.h"
#include "scarce.h"

enum { LINES_NAMED = 3 };

/* "harmonic 2 lower, by 13.00 dB": the cells of a line as words. */
static void write_line(FILE *out, const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    struct lds_line_cells cells;
    lds_line_cells_make(&cells, channel, line);
    if (line->kind->match != LDS_MATCH_ORDER)
        snprintf(cells.label, sizeof cells.label, "line at %s", cells.frequency);
    const char *size = cells.number[0] == '-' ? cells.number + 1 : cells.number;
    fprintf(out, "%s %s%s%s%s", cells.label, cells.word, size[0] ? ", by " : "", size, size[0] ? " dB" : "");
}

static bool is_wanted(const struct lds_line_change *line, bool harmonics)
{
    return lds_line_is_called(line) && (!harmonics || line->kind->family == LDS_FAMILY_DISTORTION);
}

/* How many of the wanted lines are stronger, or equally strong and before it. */
static size_t rank_of(const struct lds_compared_channel *channel, size_t place, bool harmonics)
{
    size_t rank = 0;
    for (size_t i = 0; i < channel->lines; i++)
        rank += is_wanted(&channel->line[i], harmonics) &&
                (lds_line_strength(&channel->line[i]) > lds_line_strength(&channel->line[place]) ||
                 (i < place && lds_line_strength(&channel->line[i]) >= lds_line_strength(&channel->line[place])));
    return rank;
}

static void write_lines(FILE *out, const struct lds_compared_channel *channel, bool harmonics)
{
    size_t wanted = 0;
    for (size_t i = 0; i < channel->lines; i++)
        wanted += is_wanted(&channel->line[i], harmonics);
    if (wanted == 0) {
        fprintf(out, "no %s is shown to have changed", harmonics ? "harmonic" : "line");
        return;
    }
    fprintf(out, "%zu %s%s changed; of the strongest, ", wanted, harmonics ? "harmonic" : "line",
            wanted == 1 ? "" : "s");
    for (size_t rank = 0; rank < LINES_NAMED && rank < wanted; rank++)
        for (size_t i = 0; i < channel->lines; i++)
            if (is_wanted(&channel->line[i], harmonics) && rank_of(channel, i, harmonics) == rank) {
                fputs(rank ? "; " : "", out);
                write_line(out, channel, &channel->line[i]);
            }
}

static void write_all_lines(FILE *out, const struct lds_compared_channel *channel)
{
    write_lines(out, channel, false);
}

static void write_harmonics(FILE *out, const struct lds_compared_channel *channel)
{
    write_lines(out, channel, true);
}

static void write_regions(FILE *out, const struct lds_axis_change *axis)
{
    char sentence[192];
    for (size_t i = 0; i < axis->regions; i++) {
        lds_region_sentence(axis, &axis->region[i], sentence, sizeof sentence);
        sentence[0] = (char)tolower((unsigned char)sentence[0]);
        fprintf(out, "%s%s", i ? "; " : "", sentence);
    }
    if (axis->regions == 0)
        fputs("nowhere shown to differ", out);
}

static void write_density(FILE *out, const struct lds_compared_channel *channel)
{
    write_regions(out, lds_compared_axis(channel, "floor"));
}

static bool always(const struct lds_compared_channel *channel)
{
    (void)channel;
    return true;
}

static bool noise_differs(const struct lds_compared_channel *channel)
{
    return lds_compared_axis(channel, "floor")->regions > 0;
}

/* The other pictures of a group stay in its folder. */
static const struct {
    const char *name, *title;
    bool (*wanted)(const struct lds_compared_channel *channel);
    void (*write)(FILE *out, const struct lds_compared_channel *channel);
} compared[] = {
    {"spectra", "Spectra before and after", always, write_all_lines},
    {"harmonics", "Harmonics before and after", always, write_harmonics},
    {"densities", "Noise density before and after", noise_differs, write_density},
};

/* A picture with a caption under it; nothing when it is not there. */
static void put(struct lds_html *html, xmlNode *section, const char *path, const char *title, const char *message)
{
    xmlNode *figure = lds_html_add(html, section, "figure");
    xmlNode *frame = lds_html_element(html, figure, "div", "plot", NULL);
    lds_html_attribute(html, frame, "tabindex", "0");
    lds_html_attribute(html, frame, "role", "group");
    lds_html_attribute(html, frame, "aria-label", title);
    if (!lds_html_svg(html, frame, path, title, message)) {
        if (figure) {
            xmlUnlinkNode(figure);
            xmlFreeNode(figure);
        }
        return;
    }
    lds_html_format(html, lds_html_add(html, figure, "figcaption"), "%s: %s.", title, message);
}

/* A picture of a channel, the file STEM-channelN-NAME, with its message, which is freed. */
static void put_of_channel(const struct lds_html_place *place, const struct lds_job_group *group, int channel,
                           const char *stem, const char *name, const char *what, struct lds_scrap *message)
{
    char title[400], *path = NULL;
    lds_html_caption(place->html, what, group, channel, title, sizeof title);
    bool enough = lds_scrap_close(message) && asprintf(&path, "%s/%s/%s-channel%d-%s.svg", place->html->plots,
                                                       group->slug, stem, channel, name) >= 0;
    if (enough)
        put(place->html, place->parent, path, title, message->text[0] ? message->text : "levels over frequency");
    if (enough)
        free(path);
    else
        lds_scarce_note();
    free(message->text);
}

static void put_compared(const struct lds_html_place *place, const struct lds_job_group *group,
                         const struct lds_compared_channel *channel)
{
    struct lds_scrap message;
    for (size_t i = 0; i < sizeof compared / sizeof compared[0]; i++) {
        if (!compared[i].wanted(channel) || !lds_scrap_open(&message))
            continue;
        compared[i].write(message.out, channel);
        put_of_channel(place, group, channel->channel, "comparison", compared[i].name, compared[i].title, &message);
    }
    for (size_t i = 0; i < channel->axes; i++) {
        const struct lds_axis_change *axis = &channel->axis[i];
        char name[64], title[96];
        if (axis->kind->match == LDS_MATCH_BANDS || !lds_scrap_open(&message))
            continue;
        lds_plot_series_name(axis->key, "", name, sizeof name);
        lds_axis_title(axis, title, sizeof title - sizeof " before and after");
        strcat(title, " before and after");
        write_regions(message.out, axis);
        put_of_channel(place, group, channel->channel, "comparison", name, title, &message);
    }
}

static void put_single(const struct lds_html_place *place, const struct lds_job_group *group,
                       const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    static const enum lds_figure_id ids[] = {LDS_FIGURE_THD, LDS_FIGURE_THD_N, LDS_FIGURE_MAINS_TOTAL,
                                             LDS_FIGURE_NOISE};
    char named[200], stem[LDS_PLOT_STEM];
    const char *between = "";
    struct lds_scrap message;
    if (!lds_scrap_open(&message))
        return;
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        const struct lds_figure *figure = lds_channel_find(channel, ids[i]);
        struct lds_figure_cells cells;
        if (!figure)
            continue;
        lds_figure_cells_make(&cells, figure);
        fprintf(message.out, "%s%s %s %s", between, cells.label, cells.reading.value, cells.reading.unit);
        between = "; ";
    }
    snprintf(named, sizeof named, "Spectrum, %s", lds_plot_base_name(measurement->file));
    lds_plot_stem(measurement, 0, stem, sizeof stem); /* the first of its folder */
    put_of_channel(place, group, channel->channel, stem, "spectrum", named, &message);
}

/* The first capture of a group that was not compared. */
static const struct lds_measurement *first_of(const struct lds_job_group *group)
{
    return group->before > 0  ? group->before_capture[0]
           : group->after > 0 ? group->after_capture[0]
           : group->other > 0 ? group->other_capture[0]
                              : NULL;
}

void lds_html_plots(struct lds_html *html)
{
    const struct lds_html_place place = {html, lds_html_section(html, "Plots")};
    for (size_t g = 0; html->plots && g < html->job->groups; g++) {
        const struct lds_job_group *group = &html->job->group[g];
        const struct lds_measurement *single = group->compared ? NULL : first_of(group);
        for (size_t c = 0; group->compared && c < group->comparison.channels; c++)
            put_compared(&place, group, &group->comparison.channel[c]);
        for (size_t c = 0; single && c < single->channels; c++)
            put_single(&place, group, single, &single->channel[c]);
    }
    lds_html_paragraph(
        html, place.parent,
        html->drawn == 0 ? "The plots were not drawn, since gnuplot was not there; their data and scripts stand in the "
                           "folder plots."
                         : "The folder plots holds the data and scripts of these and further plots; "
                           "loadside job --all-plots draws them all.");
}
