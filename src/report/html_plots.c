/* Pictures on a page: the most informative ones of a group's folder, each with its message in words. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "grow.h"
#include "report/capture_cells.h"
#include "report/client.h"
#include "report/comparison_cells.h"
#include "report/html_parts.h"
#include "report/plot.h"
#include "scarce.h"

/* Two pages of pictures as wide as the text, three where more has changed. */
enum { LINES_NAMED = 3, PICTURES = 4, PICTURES_CHANGED = 6 };

/* The kinds of pictures of a group, the most informative first. Others stay in its folder. */
enum kind { SPECTRA, HARMONICS, DENSITIES, RESIDUAL, MAINS, AXIS };

static const struct {
    const char *name, *title;
    enum lds_series_id waveform; /* of which it is a picture */
} compared[] = {
    [SPECTRA] = {"spectra", "Spectra before and after", LDS_SERIES_OTHER},
    [HARMONICS] = {"harmonics", "Harmonics before and after", LDS_SERIES_OTHER},
    [DENSITIES] = {"densities", "Noise density before and after", LDS_SERIES_OTHER},
    [RESIDUAL] = {"residual", "Residual before and after", LDS_SERIES_RESIDUAL},
    [MAINS] = {"mains", "Mains waveform before and after", LDS_SERIES_MAINS_WAVEFORM},
};

/* A picture that the page could show. */
struct candidate {
    const struct lds_job_group *group;
    const struct lds_compared_channel *channel;
    enum kind kind;
    const struct lds_axis_change *axis; /* for AXIS and DENSITIES */
    unsigned rank;                      /* the lowest are shown */
};
enum { UNCHANGED = 4 }; /* the first rank of what did not change */

struct candidates {
    const struct lds_html *html;
    struct candidate *one;
    size_t count;
};

/* "harmonic 2 lower, by 13.00 dB": the cells of a line as words. */
static void write_line(FILE *out, const struct lds_compared_channel *channel, const struct lds_line_change *line)
{
    struct lds_line_cells cells = lds_line_cells(channel, line);
    if (line->kind->match == LDS_MATCH_NEAREST)
        cells.label = lds_short("line at %s", cells.frequency.text);
    const char *size = cells.change.value + (cells.change.value[0] == '-');
    fprintf(out, "%s %s%s%s%s", cells.label.text, cells.word, size[0] ? ", by " : "", size, size[0] ? " dB" : "");
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

static void write_regions(FILE *out, const struct lds_axis_change *axis)
{
    for (size_t i = 0; i < axis->regions; i++) {
        const struct lds_sentence words = lds_region_sentence(axis, &axis->region[i]);
        fprintf(out, "%s%c%s", i ? "; " : "", tolower((unsigned char)words.text[0]), words.text + 1);
    }
    if (axis->regions == 0)
        fputs("nowhere shown to differ", out);
}

/* Whether the change shows in pictures of that kind. */
static bool is_of(const struct lds_change *change, enum kind kind)
{
    return lds_change_group_of(change) == LDS_CHANGES_CHANGED && change->name.row->waveform == compared[kind].waveform;
}

static bool any_change(const struct candidate *one)
{
    for (size_t i = 0; i < one->channel->changes; i++)
        if (is_of(&one->channel->change[i], one->kind))
            return true;
    return false;
}

/* "residual, peak lower, by 6.76 dB", of all figures that changed. */
static void write_changes(FILE *out, const struct candidate *one)
{
    const char *between = "";
    for (size_t i = 0; i < one->channel->changes; i++) {
        const struct lds_change *change = &one->channel->change[i];
        if (!is_of(change, one->kind) || change->name.row->restates)
            continue;
        struct lds_change_cells cells = lds_change_cells(change);
        fprintf(out, "%s%s %s, %s", between, cells.label.text, cells.word, cells.values);
        between = "; ";
    }
}

static void write_message(FILE *out, const struct candidate *one)
{
    switch (one->kind) {
    case SPECTRA:
    case HARMONICS:
        write_lines(out, one->channel, one->kind == HARMONICS);
        return;
    case DENSITIES:
    case AXIS:
        write_regions(out, one->axis);
        return;
    case RESIDUAL:
    case MAINS:
        write_changes(out, one);
        return;
    }
}

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

/* NULL: no memory, which is noted. */
static char *picture_path(const struct lds_html *html, const struct lds_job_group *group, int channel, const char *stem,
                          const char *name)
{
    return lds_made("%s/%s/%s-channel%d-%s.svg", html->plots, group->slug, stem, channel, name);
}

/* A picture of a channel, the file STEM-channelN-NAME, with its message, which is freed. */
static void put_of_channel(const struct lds_html_place *place, const struct lds_job_group *group, int channel,
                           const char *stem, const char *name, const char *what, struct lds_scrap *message)
{
    char *path = picture_path(place->html, group, channel, stem, name);
    if (lds_scrap_close(message) && path)
        put(place->html, place->parent, path, lds_html_caption(place->html, what, group, channel).text,
            message->text[0] ? message->text : "levels over frequency");
    free(path);
    free(message->text);
}

/* ---- which of them ---- */

/* Whether the client's page shows that something in the group changed. */
static bool is_spoken_of(const struct lds_client *client, const struct lds_job_group *group)
{
    for (size_t i = 0; i < client->rows; i++)
        for (size_t c = 0; c < client->channels; c++) {
            const struct lds_change *change = client->row[i].cell[c].of;
            for (size_t k = 0; change && k < group->comparison.channels; k++) {
                const struct lds_compared_channel *channel = &group->comparison.channel[k];
                if (lds_change_group_of(change) == LDS_CHANGES_CHANGED && change >= channel->change &&
                    change < channel->change + channel->changes)
                    return true;
            }
        }
    return false;
}

static bool any_harmonic(const struct lds_compared_channel *channel)
{
    for (size_t i = 0; i < channel->lines; i++)
        if (is_wanted(&channel->line[i], true))
            return true;
    return false;
}

/* "spectra", as in the name of the file. */
static struct lds_short name_of(const struct candidate *one)
{
    return one->kind == AXIS ? lds_plot_series_name(one->axis->key, "") : lds_short("%s", compared[one->kind].name);
}

/* Adds the candidate if its picture was drawn. */
static void add(struct candidates *all, const struct candidate *candidate)
{
    char *path =
        picture_path(all->html, candidate->group, candidate->channel->channel, "comparison", name_of(candidate).text);
    bool drawn = path && access(path, R_OK) == 0;
    free(path);
    struct candidate *place = drawn ? lds_grow(&all->one, &all->count, sizeof *place) : NULL;
    if (place)
        *place = *candidate;
    else if (drawn)
        lds_scarce_note();
}

/* Whether the picture is wanted: some kinds are shown only if what they show has changed. */
static bool is_told(const struct candidate *one)
{
    return one->kind == DENSITIES ? one->axis->regions > 0 : one->kind < DENSITIES || any_change(one);
}

/* Adds the pictures of one kind. The harmonics show the distortion of a tone, the spectra everything else. */
static void collect_kind(struct candidates *all, const struct lds_job_group *group, bool spoken, enum kind kind)
{
    for (size_t c = 0; c < group->comparison.channels; c++) {
        struct candidate one = {.group = group, .channel = &group->comparison.channel[c], .kind = kind};
        one.axis = kind == DENSITIES ? lds_compared_axis(one.channel, lds_series_kind_of(LDS_SERIES_FLOOR)->key) : NULL;
        const bool harmonics = any_harmonic(one.channel);
        if (kind == SPECTRA)
            one.rank = !spoken ? UNCHANGED : harmonics ? 2 : 0;
        else if (kind == HARMONICS)
            one.rank = harmonics && spoken ? 0 : harmonics ? 3 : UNCHANGED + 1;
        else
            one.rank = kind == MAINS ? 3 : kind == RESIDUAL ? 2 : 1;
        if (is_told(&one))
            add(all, &one);
    }
}

/* Adds each curve, for all channels. */
static void collect_axes(struct candidates *all, const struct lds_job_group *group)
{
    size_t most = 0;
    for (size_t c = 0; c < group->comparison.channels; c++)
        most = group->comparison.channel[c].axes > most ? group->comparison.channel[c].axes : most;
    for (size_t a = 0; a < most; a++)
        for (size_t c = 0; c < group->comparison.channels; c++) {
            const struct lds_compared_channel *channel = &group->comparison.channel[c];
            const struct lds_axis_change *axis = a < channel->axes ? &channel->axis[a] : NULL;
            if (axis && axis->kind->match != LDS_MATCH_BANDS)
                add(all, &(struct candidate){group, channel, AXIS, axis, axis->regions > 0 ? 1 : UNCHANGED + 2});
        }
}

/* What changed goes before what did not. */
static void collect(struct candidates *all, const struct lds_job_group *group, bool spoken)
{
    for (enum kind kind = SPECTRA; kind < AXIS; kind++)
        collect_kind(all, group, spoken, kind);
    collect_axes(all, group);
}

static size_t most_of(const struct candidates *all)
{
    size_t changed = 0;
    for (size_t i = 0; i < all->count; i++)
        changed += all->one[i].rank < UNCHANGED;
    return changed < PICTURES ? PICTURES : changed < PICTURES_CHANGED ? changed : PICTURES_CHANGED;
}

/* The first rank of which not all pictures may fit, and how many of it do; those of lower ranks are all shown. */
static unsigned rank_limit(const struct candidates *all, size_t *further)
{
    const size_t most = most_of(all);
    for (unsigned rank = 0;; rank++) {
        size_t below = 0, equal = 0;
        for (size_t i = 0; i < all->count; i++) {
            below += all->one[i].rank < rank;
            equal += all->one[i].rank == rank;
        }
        if (below + equal >= most || below + equal == all->count) {
            *further = most - below;
            return rank;
        }
    }
}

static void put_candidate(const struct lds_html_place *place, const struct candidate *one)
{
    struct lds_scrap message;
    if (!lds_scrap_open(&message))
        return;
    const struct lds_label title = one->kind == AXIS
                                       ? lds_label("%.77s before and after", lds_axis_title(one->axis).text)
                                       : lds_label("%s", compared[one->kind].title);
    write_message(message.out, one);
    put_of_channel(place, one->group, one->channel->channel, "comparison", name_of(one).text, title.text, &message);
}

static void put_compared(const struct lds_html_place *place)
{
    const struct lds_job *job = place->html->job;
    struct candidates all = {.html = place->html};
    struct lds_client client;
    size_t further;
    lds_client_make(&client, job);
    for (size_t g = 0; g < job->groups; g++)
        if (job->group[g].compared)
            collect(&all, &job->group[g], is_spoken_of(&client, &job->group[g]));
    const unsigned limit = rank_limit(&all, &further);
    for (size_t i = 0; i < all.count; i++) {
        if (all.one[i].rank > limit || (all.one[i].rank == limit && further == 0))
            continue;
        further -= all.one[i].rank == limit;
        put_candidate(place, &all.one[i]);
    }
    lds_client_free(&client);
    free(all.one);
}

/* Its caption names the figures that are wanted at a glance and lead an answer. */
static void put_single(const struct lds_html_place *place, const struct lds_job_group *group,
                       const struct lds_measurement *measurement, const struct lds_channel *channel)
{
    const char *between = "";
    struct lds_scrap message;
    if (!lds_scrap_open(&message))
        return;
    for (size_t i = 0; i < channel->figures; i++) {
        const struct lds_figure *figure = &channel->figure[i];
        if (figure->name.row->glance != LDS_GLANCE_YES || lds_figure_rank(&figure->name) == 0)
            continue;
        struct lds_figure_cells cells = lds_figure_cells(figure);
        fprintf(message.out, "%s%s %s %s", between, cells.label.text, cells.reading.value, cells.reading.unit);
        between = "; ";
    }
    put_of_channel(place, group, channel->channel, lds_plot_stem(measurement, 0).text /* the first of its folder */,
                   "spectrum", lds_label("Spectrum, %s", lds_plot_base_name(measurement->file)).text, &message);
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
    const struct lds_html_place place = {html, lds_html_section(html, "What the plots show")};
    lds_html_attribute(html, place.parent, "class", "plots");
    if (html->plots)
        put_compared(&place);
    for (size_t g = 0; html->plots && g < html->job->groups; g++) {
        const struct lds_job_group *group = &html->job->group[g];
        const struct lds_measurement *single = group->compared ? NULL : first_of(group);
        for (size_t c = 0; single && c < single->channels && html->drawn < PICTURES; c++)
            put_single(&place, group, single, &single->channel[c]);
    }
    lds_html_paragraph(
        html, place.parent, NULL,
        html->drawn == 0 ? "The plots were not drawn, since gnuplot was not there; their data and scripts stand in the "
                           "folder plots."
                         : "The folder plots holds the data and scripts of these and further plots; "
                           "loadside job --all-plots draws them all.");
}
