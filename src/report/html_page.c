/* A job as one self-contained page: HTML without scripts, with the pictures inside. */
#include <libxml/HTMLtree.h>
#include <libxml/parser.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/expected_cells.h"
#include "report/figures.h"
#include "report/html_parts.h"
#include "scarce.h"
#include "whole_file.h"

static void put_head(struct lds_html *html, xmlNode *root, const struct lds_job_words *words)
{
    xmlNode *head = lds_html_add(html, root, "head");
    lds_html_attribute(html, lds_html_add(html, head, "meta"), "charset", "utf-8");
    lds_html_element(html, head, "title", NULL, words->title);
    xmlNode *view = lds_html_add(html, head, "meta");
    lds_html_attribute(html, view, "name", "viewport");
    lds_html_attribute(html, view, "content", "width=device-width, initial-scale=1");
    lds_html_element(html, head, "style", NULL, lds_html_style);
}

static void build(struct lds_html *html, const struct lds_job_words *words)
{
    html->doc = htmlNewDocNoDtD(NULL, NULL);
    xmlNode *root = html->doc ? xmlNewDocNode(html->doc, NULL, BAD_CAST "html", NULL) : NULL;
    html->failed = !root || !xmlCreateIntSubset(html->doc, BAD_CAST "html", NULL, NULL);
    if (html->failed) {
        xmlFreeNode(root);
        return;
    }
    xmlDocSetRootElement(html->doc, root);
    lds_html_attribute(html, root, "lang", "en");
    put_head(html, root, words);
    html->main = lds_html_add(html, lds_html_add(html, root, "body"), "main");
    lds_html_client(html);
    lds_html_plots(html);
    for (size_t i = 0; i < html->job->groups; i++)
        if (html->job->group[i].compared)
            lds_html_changes(html, &html->job->group[i]);
        else
            lds_html_figures(html, &html->job->group[i]);
    lds_html_limits(html);
    lds_html_front(html, words);
    lds_html_expected(html);
    lds_html_back(html, words);
    lds_html_files(html);
}

/* Goes through memory, since libxml2 reports errors with its own files on standard error. */
static enum lds_status save(const struct lds_html *html, const char *path, struct lds_error *error)
{
    struct lds_whole_file file;
    xmlBuffer *text = xmlBufferCreate();
    xmlOutputBuffer *out = text ? xmlOutputBufferCreateBuffer(text, xmlFindCharEncodingHandler("UTF-8")) : NULL;
    if (out)
        htmlDocContentDumpFormatOutput(out, html->doc, "UTF-8", 0);
    bool enough = out && xmlOutputBufferClose(out) >= 0 && !lds_scarce_take();
    enum lds_status status = enough ? lds_whole_file_open(&file, path, error) : lds_fail_memory(error, "the page");
    if (status == LDS_OK) {
        fwrite(xmlBufferContent(text), 1, (size_t)xmlBufferLength(text), file.out);
        status = lds_whole_file_commit(&file, error);
    }
    xmlBufferFree(text);
    return status;
}

/* libxml2 reports errors on standard error unless a handler is set. The handler also notices that memory ran out where
 * its functions do not say so. Each thread has handlers of its own. */
#if LIBXML_VERSION < 21200
typedef xmlError lds_xml_error;
#else
typedef const xmlError lds_xml_error;
#endif

static void listen(void *context, lds_xml_error *fault)
{
    (void)context;
    if (fault && fault->code == XML_ERR_NO_MEMORY)
        lds_scarce_note();
}

static void hear_nothing(void *context, const char *format, ...)
{
    (void)context;
    (void)format;
}

struct listeners {
    xmlStructuredErrorFunc structured;
    void *structured_context;
    xmlGenericErrorFunc generic;
    void *generic_context;
};

static struct listeners begin_to_listen(void)
{
    struct listeners before = {xmlStructuredError, xmlStructuredErrorContext, xmlGenericError, xmlGenericErrorContext};
    xmlSetStructuredErrorFunc(NULL, listen);
    xmlSetGenericErrorFunc(NULL, hear_nothing);
    return before;
}

static void end_to_listen(const struct listeners *before)
{
    xmlSetStructuredErrorFunc(before->structured_context, before->structured);
    xmlSetGenericErrorFunc(before->generic_context, before->generic);
}

enum lds_status lds_job_html(const struct lds_job *job, const char *plots_folder, const char *path,
                             struct lds_error *error)
{
    struct lds_html html = {.job = job, .plots = plots_folder};
    struct lds_job_words words = {0};
    struct lds_point_locale locale;
    const struct listeners before = begin_to_listen();
    bool enough = lds_point_locale_enter(&locale);
    if (enough) {
        lds_job_words_make(&words, job);
        build(&html, &words);
        lds_point_locale_leave(&locale);
    }
    enough = !lds_scarce_take() && enough && !html.failed;
    enum lds_status status = enough ? save(&html, path, error) : lds_fail_memory(error, "the page");
    xmlFreeDoc(html.doc);
    end_to_listen(&before);
    lds_job_words_free(&words);
    return status;
}
