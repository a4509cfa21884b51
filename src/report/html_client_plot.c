/* The change of each figure with its interval, drawn on the first page. */
#include <ctype.h>
#include <math.h>

#include "report/client.h"
#include "report/html_parts.h"

/* In the units of the picture, of which 1000 are as wide as the page. */
enum { WIDTH = 1000, LEFT = 365, RIGHT = 985, ROW = 34, TOP = 6, BELOW = 62, MARK = 5 };

struct scale {
    double from, to; /* dB */
};

static double x_of(const struct scale *scale, double db)
{
    return LEFT + (RIGHT - LEFT) * (db - scale->from) / (scale->to - scale->from);
}

static void set(struct lds_html *html, xmlNode *node, const char *name, double value)
{
    lds_html_attribute(html, node, name, lds_short("%.1f", value).text);
}

static void put_line(struct lds_html *html, xmlNode *svg, const char *style_class, double x1, double y1, double x2,
                     double y2)
{
    xmlNode *line = lds_html_element(html, svg, "line", style_class, NULL);
    set(html, line, "x1", x1);
    set(html, line, "y1", y1);
    set(html, line, "x2", x2);
    set(html, line, "y2", y2);
}

static void put_text(struct lds_html *html, xmlNode *svg, const char *style_class, double x, double y, const char *text)
{
    xmlNode *node = lds_html_element(html, svg, "text", style_class, text);
    set(html, node, "x", x);
    set(html, node, "y", y);
}

/* The mark of the first channel is filled, that of the second open; from the third channel on it is an open square.
 * What is worse is a triangle. */
static void put_mark(struct lds_html *html, xmlNode *svg, size_t channel, bool worse, double x, double y)
{
    const char *style_class = channel == 0 ? "full" : "open";
    if (worse) {
        const struct lds_label points = lds_label("%.1f,%.1f %.1f,%.1f %.1f,%.1f", x, y - 1.5 * MARK, x - 1.4 * MARK,
                                                  y + MARK, x + 1.4 * MARK, y + MARK);
        lds_html_attribute(html, lds_html_element(html, svg, "polygon", style_class, NULL), "points", points.text);
    } else if (channel < 2) {
        xmlNode *circle = lds_html_element(html, svg, "circle", style_class, NULL);
        set(html, circle, "cx", x);
        set(html, circle, "cy", y);
        set(html, circle, "r", MARK);
    } else {
        xmlNode *square = lds_html_element(html, svg, "rect", style_class, NULL);
        set(html, square, "x", x - MARK);
        set(html, square, "y", y - MARK);
        set(html, square, "width", 2.0 * MARK);
        set(html, square, "height", 2.0 * MARK);
    }
}

static bool is_drawn(const struct lds_change *change)
{
    return change && isfinite(change->change);
}

static struct scale make_scale(const struct lds_client *client, double *step)
{
    double low = 0.0, high = 0.0;
    for (size_t i = 0; i < client->rows; i++)
        for (size_t c = 0; c < client->channels; c++) {
            const struct lds_change *change = client->row[i].cell[c].of;
            if (!client->row[i].decibels || !is_drawn(change))
                continue;
            low = fmin(low, fmin(change->change, change->low)); /* fmin ignores NAN */
            high = fmax(high, fmax(change->change, change->high));
        }
    double span = fmax(high - low, 1.0), tenth = pow(10.0, floor(log10(span / 4.0)));
    double share = span / 4.0 / tenth;
    *step = tenth * (share < 2.0 ? 1.0 : share < 5.0 ? 2.0 : 5.0);
    return (struct scale){*step * floor(low / *step - 0.1), *step * ceil(high / *step + 0.1)};
}

static void put_axis(struct lds_html *html, xmlNode *svg, const struct scale *scale, double step, double bottom)
{
    for (double db = scale->from; db < scale->to + 0.5 * step; db += step) {
        bool zero = fabs(db) < 0.01 * step;
        put_line(html, svg, zero ? "zero" : "grid", x_of(scale, db), TOP, x_of(scale, db), bottom);
        put_text(html, svg, "tick", x_of(scale, db), bottom + 19.0,
                 (zero ? lds_short("0") : lds_short("%+.*f", step < 1.0, db)).text);
    }
    put_text(html, svg, "tick", 0.5 * (LEFT + RIGHT), bottom + 40.0, "change from before to after, dB");
}

static void put_key(struct lds_html *html, xmlNode *svg, const struct lds_client *client, double y, bool worse)
{
    double x = 8.0;
    for (size_t c = 0; c < client->channels && client->channels > 1; c++) {
        const struct lds_label name = lds_job_channel_words(html->job->sheet, client->channel[c]);
        put_mark(html, svg, c, false, x, y - 4.0);
        put_text(html, svg, "key", x + 11.0, y, lds_short("%.40s", name.text).text);
        x += 95.0;
    }
    if (worse) {
        put_mark(html, svg, 0, true, x, y - 4.0);
        put_text(html, svg, "key", x + 11.0, y, "worse");
    }
}

void lds_html_client_plot(struct lds_html *html, xmlNode *parent, const struct lds_client *client)
{
    size_t rows = 0;
    double step;
    bool worse = false;
    for (size_t i = 0; i < client->rows; i++)
        rows += client->row[i].decibels;
    if (rows == 0)
        return;
    const struct scale scale = make_scale(client, &step);
    double bottom = TOP + (double)rows * ROW, y = TOP + 0.5 * ROW;
    xmlNode *figure = lds_html_element(html, parent, "figure", "changes", NULL);
    xmlNode *svg = lds_html_add(html, figure, "svg");
    lds_html_attribute(html, svg, "viewBox", lds_short("0 0 %d %.0f", WIDTH, bottom + BELOW).text);
    lds_html_attribute(html, svg, "role", "img");
    lds_html_attribute(html, svg, "aria-label", client->verdict ? client->verdict : "the change of each figure");
    put_axis(html, svg, &scale, step, bottom);
    for (size_t i = 0; i < client->rows; i++) {
        if (!client->row[i].decibels)
            continue;
        put_text(html, svg, "name", LEFT - 14.0, y + 5.0, client->row[i].label.text);
        for (size_t c = 0; c < client->channels; c++) {
            const struct lds_change *change = client->row[i].cell[c].of;
            double shift = client->channels > 1 ? ((double)c / (double)(client->channels - 1) - 0.5) * 0.45 * ROW : 0.0;
            if (!is_drawn(change))
                continue;
            if (isfinite(change->low) && isfinite(change->high))
                put_line(html, svg, "bar", x_of(&scale, change->low), y + shift, x_of(&scale, change->high), y + shift);
            put_mark(html, svg, c, change->worse, x_of(&scale, change->change), y + shift);
            worse = worse || change->worse;
        }
        y += ROW;
    }
    put_key(html, svg, client, bottom + 40.0, worse);
}
