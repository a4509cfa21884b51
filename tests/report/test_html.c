/* A job as a page: whatever names and pictures contain stays text, ids are unique, nothing is fetched or run, and
 * numbers are those of the text report. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <libxml/HTMLparser.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "loadside/report.h"
#include "record/series.h"
#include "report/comparison_cells.h"
#include "report/html_tree.h"
#include "report/job_words.h"
#include "report/plot.h"
#include "report/sample.h"

static const char *const hostile[] = {
    "<script>alert(1)</script>",
    "</title></style></main><script>alert(2)</script>",
    "a & b &amp; &#60;b&#62; <b>",
    "\" onmouseover=\"alert(3)\" x='y' `z`",
    "back\\slash \\u003c ]]> <![CDATA[ <!-- --> <?php ?>",
    "first\nsecond\r\nthird\tend",
    "bell \a escape \x1b[31m delete \x7f form \f c1 \xc2\x85",
    "not \xff\xfe UTF-8 \xc3",
    "noncharacter \xef\xbf\xbf \xef\xb7\x90",
    "turned \xe2\x80\xae about, H\xc3\xb6rsaal \xe5\xba\x83\xe9\x96\x93",
    "<svg onload=alert(4)><style>*{}</style>",
    "%s %n {{x}} ${y}",
};
enum { HOSTILE = sizeof hostile / sizeof hostile[0] };

static const char picture[] =
    "<?xml version='1.0'?>\n<!DOCTYPE svg [<!ENTITY e SYSTEM 'file:///etc/passwd'>]>\n"
    "<svg width='960' height='640' viewBox='0 0 960 640' xmlns='http://www.w3.org/2000/svg' "
    "xmlns:xlink='http://www.w3.org/1999/xlink' onload='alert(5)'>\n"
    "<title>Gnuplot</title><desc>Produced</desc><script>alert(6)</script><style>*{}</style>\n"
    "<defs><circle id='dot' r='1'/><use xlink:href='#dot' id='two'/></defs>\n"
    "<a xlink:href='https://evil.invalid/'><path d='M0,0'/></a><image href='https://evil.invalid/x.png'/>\n"
    "<foreignObject><b>x</b></foreignObject><use xlink:href='https://evil.invalid/y.svg#z'/>\n"
    "<path d='M0,0 L1,1' fill='url(#two)' stroke='url(https://evil.invalid/s)' onclick='alert(7)'/>\n"
    "<text>&lt;script&gt; ]]&gt; &e; 1&#160;kHz</text></svg>\n";

/* A job of two captures, compared as one group, and the second alone as another. Everything named has the same name. */
struct fixture {
    struct lds_sheet sheet;
    struct lds_sheet_capture capture[2];
    struct lds_part part;
    struct lds_measurement measurement[2];
    const struct lds_measurement *before, *after;
    struct lds_job_group group[2];
    struct lds_job_file file;
    char *missing;
    struct lds_limit limit;
    struct lds_job job;
    char *name;
};

static void fill_sheet(struct fixture *made)
{
    char *name = made->name;
    made->part = (struct lds_part){name, name, name};
    made->sheet = (struct lds_sheet){.path = name,
                                     .make = name,
                                     .type = name,
                                     .serial = name,
                                     .client = name,
                                     .by = name,
                                     .place = name,
                                     .date = name,
                                     .work = name,
                                     .notes = name,
                                     .channel_name = {NULL, name},
                                     .rating = {25.0, 8.0, NAN, 20.0, 20000.0, 2, NAN},
                                     .parts = 1,
                                     .part = &made->part,
                                     .captures = 2,
                                     .capture = made->capture,
                                     .limits = 1,
                                     .limit = &made->limit};
    for (int i = 0; i < 2; i++)
        made->capture[i] = (struct lds_sheet_capture){.name = name,
                                                      .file = name,
                                                      .path = name,
                                                      .role = lds_role_find("sine"),
                                                      .when = i ? LDS_WHEN_AFTER : LDS_WHEN_BEFORE,
                                                      .power_w = 10.0,
                                                      .repeat = 1,
                                                      .note = name};
}

static void change_figures(struct lds_channel *channel)
{
    struct lds_series *lines = lds_channel_own_series(channel, "harmonics");
    lds_series_set(lines, 1, LDS_LINE_LEVEL, 0.1 * lds_series_value(lines, 1, LDS_LINE_LEVEL));
    for (size_t i = 0; i < channel->figures; i++) {
        struct lds_figure *figure = &channel->figure[i];
        bool volts = strcmp(figure->unit, "V") == 0;
        figure->value = volts ? 0.8 * figure->value : figure->value - 3.0;
        figure->low = volts ? 0.8 * figure->low : figure->low - 3.0;
        figure->high = volts ? 0.8 * figure->high : figure->high - 3.0;
    }
}

/* A series over an axis, which falls above 1 kHz after the work. */
static void add_gain(struct lds_channel *channel, bool after)
{
    struct lds_series *series = lds_channel_add_series(channel, "response.gain");
    assert_non_null(series);
    for (int i = 0; i < 31; i++) {
        double db = after && i > 17 ? -0.5 * (i - 17) : 0.0;
        assert_true(lds_series_add_row(series, (const double[]){20.0 * pow(10.0, 0.1 * i), db}));
        lds_series_set_limits(series, (size_t)i, LDS_CURVE_Y, db - 0.02, db + 0.02);
    }
}

static void fill(struct fixture *made, const char *name)
{
    static char slug[] = "sine", other[] = "other";
    struct lds_error error = {0};
    struct lds_compare_options options;
    *made =
        (struct fixture){.name = strdup(name), .limit = {.key = "thd", .kind = LDS_AT_MOST, .value = -86.0, .line = 1}};
    assert_non_null(made->name);
    fill_sheet(made);
    for (int i = 0; i < 2; i++) {
        made->measurement[i] = sample_measurement(name, true);
        struct lds_series *spurs = lds_channel_own_series(&made->measurement[i].channel[0], "spurs");
        snprintf(spurs->text[0], LDS_SERIES_TEXT, "%s", name);
        add_gain(&made->measurement[i].channel[0], i == 1);
    }
    change_figures(&made->measurement[1].channel[0]);
    made->before = &made->measurement[0];
    made->after = &made->measurement[1];
    made->group[0] = (struct lds_job_group){.title = made->name,
                                            .slug = slug,
                                            .before = 1,
                                            .after = 1,
                                            .before_capture = &made->before,
                                            .after_capture = &made->after,
                                            .compared = true};
    made->group[1] =
        (struct lds_job_group){.title = made->name, .slug = other, .other = 1, .other_capture = &made->after};
    lds_compare_options_init(&options);
    options.limit = &made->limit;
    options.limits = 1;
    assert_int_equal(lds_compare((struct lds_side){made->before, 1}, (struct lds_side){made->after, 1}, &options,
                                 &made->group[0].comparison, &error),
                     LDS_OK);
    made->file = (struct lds_job_file){.file = made->name, .sha256 = "00ff", .bytes = 12};
    made->missing = made->name;
    made->job = (struct lds_job){.sheet = &made->sheet,
                                 .measurement = made->measurement,
                                 .groups = 2,
                                 .group = made->group,
                                 .files = 1,
                                 .file = &made->file,
                                 .missing = {1, &made->missing}};
    snprintf(made->job.date, sizeof made->job.date, "%.20s", name);
}

static void empty(struct fixture *made)
{
    lds_comparison_free(&made->group[0].comparison);
    for (int i = 0; i < 2; i++)
        lds_measurement_free(&made->measurement[i]);
    free(made->name);
}

static char *in(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    return path;
}

/* The page of a job as it is written. plots: the folder of pictures, NULL for none. */
static char *page_of(const struct fixture *made, const char *plots)
{
    struct lds_error error = {0};
    char *folder = new_folder(), *path = in(folder, "report.html");
    assert_int_equal(lds_job_html(&made->job, plots, path, &error), LDS_OK);
    char *text = read_all(path);
    unlink(path);
    assert_int_equal(rmdir(folder), 0); /* nothing else was left there */
    free(path);
    free(folder);
    return text;
}

static xmlDoc *parsed(const char *page)
{
    xmlDoc *doc = htmlReadMemory(page, (int)strlen(page), NULL, "UTF-8",
                                 HTML_PARSE_RECOVER | HTML_PARSE_NOERROR | HTML_PARSE_NOWARNING | HTML_PARSE_NONET);
    assert_non_null(doc);
    return doc;
}

/* Calls visit for every element of the tree. */
static void walk(xmlNode *node, void (*visit)(xmlNode *element, void *context), void *context)
{
    for (; node; node = node->next) {
        if (node->type == XML_ELEMENT_NODE)
            visit(node, context);
        walk(node->children, visit, context);
    }
}

static bool is(const xmlNode *node, const char *name)
{
    return strcmp((const char *)node->name, name) == 0;
}

struct seen {
    char ids[512][64];
    size_t count, styles, tables, svgs;
    int heading; /* level of the last */
};

static void check_element(xmlNode *node, void *context)
{
    static const char *const banned[] = {"script", "link", "iframe",        "object", "embed", "img",
                                         "image",  "base", "foreignObject", "form",   "a",     "b"};
    struct seen *seen = context;
    for (size_t i = 0; i < sizeof banned / sizeof banned[0]; i++)
        assert_false(is(node, banned[i]));
    seen->styles += is(node, "style");
    seen->tables += is(node, "table");
    seen->svgs += is(node, "svg");
    if (node->name[0] == 'h' && node->name[1] >= '1' && node->name[1] <= '6') {
        int level = node->name[1] - '0';
        assert_true(level <= seen->heading + 1);
        seen->heading = level;
    }
    if (is(node, "th"))
        assert_true(xmlHasProp(node, BAD_CAST "scope") != NULL);
    if (is(node, "table"))
        assert_true(node->children && is(node->children, "caption"));
    for (xmlAttr *attribute = node->properties; attribute; attribute = attribute->next) {
        const char *name = (const char *)attribute->name;
        xmlChar *value = xmlNodeListGetString(node->doc, attribute->children, 1);
        assert_false(strncmp(name, "on", 2) == 0);
        if (strcmp(name, "href") == 0 || strcmp(name, "src") == 0)
            assert_true(value && value[0] == '#');
        if (strcmp(name, "id") == 0) {
            for (size_t i = 0; i < seen->count; i++)
                assert_string_not_equal(seen->ids[i], (const char *)value);
            assert_true(seen->count < 512);
            snprintf(seen->ids[seen->count++], sizeof seen->ids[0], "%s", (const char *)value);
        }
        xmlFree(value);
    }
}

static bool has_id(const struct seen *seen, const char *id)
{
    for (size_t i = 0; i < seen->count; i++)
        if (strcmp(seen->ids[i], id) == 0)
            return true;
    return false;
}

static void check_reference(xmlNode *node, void *context)
{
    xmlChar *label = xmlGetProp(node, BAD_CAST "aria-labelledby"), *href = xmlGetProp(node, BAD_CAST "href");
    assert_true(!label || has_id(context, (const char *)label));
    assert_true(!href || has_id(context, (const char *)href + 1));
    xmlFree(label);
    xmlFree(href);
}

/* What every page must satisfy. */
static struct seen check_page(const char *page)
{
    struct seen seen = {0};
    xmlDoc *doc = parsed(page);
    walk(xmlDocGetRootElement(doc), check_element, &seen);
    walk(xmlDocGetRootElement(doc), check_reference, &seen);
    assert_int_equal(seen.styles, 1);
    assert_true(seen.tables > 3);
    xmlFreeDoc(doc);
    assert_memory_equal(page, "<!DOCTYPE html>\n<html lang=\"en\">", 32);
    for (const char *c = page; *c; c++) {
        unsigned char byte = (unsigned char)*c;
        assert_true((byte >= 0x20 && byte != 0x7F) || byte == '\n' || byte == '\t');
        assert_false(byte == 0xC2 && (unsigned char)c[1] < 0xA0);
    }
    return seen;
}

static size_t count(const char *text, const char *part)
{
    size_t found = 0;
    for (const char *at = text; (at = strstr(at, part)); at += strlen(part))
        found++;
    return found;
}

static void test_hostile_names_stay_text(void **state)
{
    (void)state;
    for (int i = 0; i < HOSTILE; i++) {
        struct fixture made;
        fill(&made, hostile[i]);
        char *page = page_of(&made, NULL), *clean = lds_html_clean(hostile[i]);
        check_page(page);
        xmlDoc *doc = parsed(page);
        xmlChar *content = xmlNodeGetContent(xmlDocGetRootElement(doc));
        char *line = strndup(clean, strcspn(clean, "\n")); /* the work is printed line by line */
        if (count((const char *)content, clean) < 10 || count((const char *)content, line) < 12)
            fail_msg("%s: not found as text", hostile[i]);
        free(line);
        xmlFree(content);
        xmlFreeDoc(doc);
        free(clean);
        free(page);
        empty(&made);
    }
}

/* A series is a table in the group that is not compared, and a sentence in the group that is. */
static void test_series(void **state)
{
    (void)state;
    struct fixture made;
    fill(&made, "plain");
    char *page = page_of(&made, NULL);
    assert_int_equal(count(page, ">gain re 1 kHz over frequency, plain"), 1);
    assert_int_equal(count(page, ">Figures, plain, "), 1); /* both channels in one table */
    assert_int_equal(count(page, ">SINAD, "), 0);          /* it says the same as THD+N */
    assert_int_equal(count(page, "15 points between them stand in the JSON and CSV reports."), 1);
    assert_int_equal(count(page, "Gain re 1 kHz over frequency, plain: Lower from 1.262 kHz to 20 kHz, by "), 1);
    free(page);
    empty(&made);
}

/* The definitions hold each term once, and the term of each series that a capture has. */
static void test_definitions(void **state)
{
    (void)state;
    struct fixture made;
    struct lds_job_words words;
    size_t kinds, found = 0;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    fill(&made, "plain");
    lds_job_words_make(&words, &made.job);
    const struct lds_rows_of_words *rows = &words.definitions;
    for (size_t i = 0; i < rows->count; i++)
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(rows->row[i].name, rows->row[k].name);
    for (size_t k = 0; k < kinds; k++) {
        bool there = false, defined = false;
        for (size_t c = 0; c < made.after->channels; c++)
            there = there || lds_channel_series(&made.after->channel[c], kind[k].key)->rows > 0;
        for (size_t i = 0; i < rows->count; i++)
            defined = defined || strcmp(rows->row[i].name, kind[k].term) == 0;
        if (there && !defined)
            fail_msg("%s is in the report and has no definition", kind[k].key);
        found += there;
    }
    assert_true(found > 3);
    lds_job_words_free(&words);
    empty(&made);
}

static void test_clean(void **state)
{
    (void)state;
    static const struct {
        const char *given, *wanted;
    } cases[] = {
        {"", ""},
        {"plain µ\t\n", "plain µ\t\n"},
        {"a\r\nb\rc", "a\nb\nc"},
        {"\x01\x0b\x7f", "\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd"},
        {"\xc2\x9f\xc2\xa0", "\xef\xbf\xbd\xc2\xa0"},
        {"\xff \xed\xa0\x80", "\xef\xbf\xbd \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd"},
        {"\xef\xbf\xbe\xf0\x9f\xbf\xbf", "\xef\xbf\xbd\xef\xbf\xbd"},
        {"\xe2\x80\xae"
         "a\xe2\x81\xa6",
         "\xef\xbf\xbd"
         "a\xef\xbf\xbd"}, /* U+202E, U+2066 */
        {"\xf0\x9f\x98\x80", "\xf0\x9f\x98\x80"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char *clean = lds_html_clean(cases[i].given);
        assert_string_equal(clean, cases[i].wanted);
        free(clean);
    }
}

/* Pictures of both channels, of a group that was compared. */
static char *make_plots(void)
{
    static const char *const names[] = {"spectra", "harmonics"};
    char *folder = new_folder(), *group = in(folder, "sine");
    assert_int_equal(mkdir(group, 0777), 0);
    for (int i = 0; i < 4; i++) {
        char name[64];
        snprintf(name, sizeof name, "comparison-channel%d-%s.svg", i / 2 + 1, names[i % 2]);
        char *path = in(group, name);
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        fputs(picture, out);
        assert_int_equal(fclose(out), 0);
        free(path);
    }
    free(group);
    return folder;
}

static void remove_plots(char *folder)
{
    char *command = NULL;
    assert_true(asprintf(&command, "rm -r '%s'", folder) > 0);
    assert_int_equal(system(command), 0);
    free(command);
    free(folder);
}

static void test_pictures(void **state)
{
    (void)state;
    struct fixture made;
    fill(&made, "<b>\"plain\" & simple</b>");
    char *plots = make_plots(), *page = page_of(&made, plots), *again = page_of(&made, plots);
    struct seen seen = check_page(page);
    assert_int_equal(seen.svgs, 5);
    assert_string_equal(page, again);
    assert_null(strstr(page, "evil.invalid"));
    assert_null(strstr(page, "alert("));
    assert_null(strstr(page, "Gnuplot"));
    assert_null(strstr(page, "root:"));
    assert_int_equal(count(page, "http"), 4); /* the namespace of each */
    assert_int_equal(count(page, "xmlns=\"http://www.w3.org/2000/svg\""), 4);
    assert_true(has_id(&seen, "plot1-dot") && has_id(&seen, "plot4-two"));
    assert_non_null(strstr(page, "href=\"#plot2-dot\""));
    assert_non_null(strstr(page, "fill=\"url(#plot3-two)\""));
    assert_non_null(strstr(page, "&lt;script&gt; ]]&gt;"));
    assert_int_equal(count(page, "role=\"img\""), 5);
    assert_non_null(strstr(page, "viewBox=\"0 83.2 960 556.8\""));
    assert_null(strstr(page, "not drawn"));
    free(page);
    free(again);
    remove_plots(plots);
    empty(&made);
}

static void put_picture(const char *folder, const char *name)
{
    char *path = in(folder, name);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs(picture, out);
    assert_int_equal(fclose(out), 0);
    free(path);
}

/* The residual and the mains are shown where they changed: first neither, then the hum of a channel. */
static void test_residual_and_mains(void **state)
{
    (void)state;
    struct fixture made;
    char *plots = make_plots(), *group = in(plots, "sine");
    put_picture(group, "comparison-channel1-residual.svg");
    put_picture(group, "comparison-channel1-mains.svg");
    fill(&made, "plain");
    char *page = page_of(&made, plots);
    assert_int_equal(count(page, ">Mains waveform before and after"), 0);
    assert_int_equal(count(page, ">Residual before and after"), 0);
    free(page);
    struct lds_compared_channel *channel = &made.group[0].comparison.channel[0];
    for (size_t i = 0; i < channel->changes; i++)
        if (strcmp(channel->change[i].key, "mains.total") == 0)
            channel->change[i].word = LDS_LOWER;
    page = page_of(&made, plots);
    assert_int_equal(count(page, ">Mains waveform before and after, plain, plain: hum, total lower, 93 → 74 µV."), 1);
    assert_int_equal(count(page, ">Residual before and after"), 0);
    free(page);
    free(group);
    remove_plots(plots);
    empty(&made);
}

/* Two pages of pictures, of what changed: in channel 2 nothing did. */
static void test_at_most_four_pictures(void **state)
{
    (void)state;
    struct fixture made;
    char *plots = make_plots(), *group = in(plots, "sine"), name[128];
    snprintf(name, sizeof name, "comparison-channel1-%s.svg", lds_plot_series_name("response.gain", "").text);
    char *path = in(group, name);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs(picture, out);
    assert_int_equal(fclose(out), 0);
    fill(&made, "plain");
    char *page = page_of(&made, plots);
    assert_int_equal(count(page, "<figure>"), 4);
    assert_int_equal(count(page, ">Harmonics before and after, plain, plain:"), 1);
    assert_int_equal(count(page, ">Gain re 1 kHz over frequency before and after, plain, plain:"), 1);
    assert_int_equal(count(page, ">Harmonics before and after, plain, channel 2:"), 0);
    free(page);
    free(path);
    free(group);
    remove_plots(plots);
    empty(&made);
}

static void test_without_pictures(void **state)
{
    (void)state;
    struct fixture made;
    char *folder = new_folder(), *broken = in(folder, "sine");
    fill(&made, "plain");
    for (int i = 0; i < 3; i++) {
        char *page = page_of(&made, i == 0 ? NULL : folder);
        assert_int_equal(check_page(page).svgs, 1); /* the changes, which need no gnuplot */
        assert_non_null(strstr(page, "The plots were not drawn, since gnuplot was not there"));
        free(page);
        if (i > 0)
            continue;
        char *path = in(broken, "comparison-channel1-spectra.svg");
        assert_int_equal(mkdir(broken, 0777), 0);
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        fputs("<svg xmlns='http://www.w3.org/2000/svg'><g>", out); /* the end is missing */
        assert_int_equal(fclose(out), 0);
        free(path);
    }
    free(broken);
    remove_plots(folder);
    empty(&made);
}

/* The rows of changes on a page: the text of their cells, joined. */
struct rows {
    char text[256][512];
    size_t count;
};

static void collect_row(xmlNode *node, void *context)
{
    struct rows *rows = context;
    if (!is(node, "tr") || rows->count == 256)
        return;
    xmlChar *content = xmlNodeGetContent(node);
    snprintf(rows->text[rows->count++], sizeof rows->text[0], "%s", (const char *)content);
    xmlFree(content);
}

/* Whether a row begins with the label and holds the cells of one channel next to each other. */
static bool has_row(const struct rows *rows, const char *begin, const char *cells)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strncmp(rows->text[i], begin, strlen(begin)) == 0 && strstr(rows->text[i] + strlen(begin), cells))
            return true;
    return false;
}

static void test_numbers_are_those_of_the_text(void **state)
{
    (void)state;
    static struct rows rows;
    struct fixture made;
    char *text = NULL;
    size_t size, checked = 0;
    fill(&made, "plain");
    char *page = page_of(&made, NULL);
    xmlDoc *doc = parsed(page);
    rows.count = 0;
    walk(xmlDocGetRootElement(doc), collect_row, &rows);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_comparison_text(&made.group[0].comparison, out, NULL), LDS_OK);
    fclose(out);
    for (size_t c = 0; c < made.group[0].comparison.channels; c++)
        for (size_t i = 0; i < made.group[0].comparison.channel[c].changes; i++) {
            const struct lds_change *change = &made.group[0].comparison.channel[c].change[i];
            const struct lds_change_cells cells = lds_change_cells(change);
            char joined[512];
            snprintf(joined, sizeof joined, "%s%s%s%s%s", cells.before, cells.after, cells.number, cells.interval,
                     change->judged ? lds_word_name(change->word) : "");
            bool restates = change->name.row->restates; /* SINAD beside THD+N: left out */
            if (has_row(&rows, cells.label.text, joined) == restates)
                fail_msg("%s row \"%s ... %s\"", restates ? "a" : "no", cells.label.text, joined);
            assert_non_null(strstr(text, cells.values));
            checked++;
        }
    assert_true(checked > 10);
    free(text);
    xmlFreeDoc(doc);
    free(page);
    empty(&made);
}

static void test_cannot_be_written(void **state)
{
    (void)state;
    struct fixture made;
    struct lds_error error = {0};
    fill(&made, "plain");
    assert_int_equal(lds_job_html(&made.job, NULL, "/nowhere/at/all/report.html", &error), LDS_IO);
    assert_non_null(strstr(error.message, "report.html"));
    assert_int_equal(lds_job_html(&made.job, NULL, "/dev/full", &error), LDS_IO);
    empty(&made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_series),
        cmocka_unit_test(test_definitions),
        cmocka_unit_test(test_clean),
        cmocka_unit_test(test_hostile_names_stay_text),
        cmocka_unit_test(test_pictures),
        cmocka_unit_test(test_at_most_four_pictures),
        cmocka_unit_test(test_residual_and_mains),
        cmocka_unit_test(test_without_pictures),
        cmocka_unit_test(test_numbers_are_those_of_the_text),
        cmocka_unit_test(test_cannot_be_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
