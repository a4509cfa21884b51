#include "report/html_parts.h"

#include <errno.h>
#include <libxml/parser.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/words.h"
#include "scarce.h"

/* Share of the picture's height with its own captions (src/report/plot_page.c): title, subject, conditions. */
static const double captions = 0.13;

/* The elements that a picture needs; none of them runs, links to or loads anything. */
static const char *const elements[] = {
    "svg",      "g",       "defs",     "path",        "rect",           "circle", "ellipse",
    "line",     "polygon", "polyline", "use",         "text",           "tspan",  "pattern",
    "clipPath", "filter",  "feFlood",  "feComposite", "linearGradient", "stop",   "symbol"};

static bool is_kept(const xmlNode *node, const xmlNode *root)
{
    if (node->type == XML_TEXT_NODE)
        return true;
    if (node->ns != root->ns)
        return false;
    for (size_t i = 0; node->type == XML_ELEMENT_NODE && i < sizeof elements / sizeof elements[0]; i++)
        if (strcmp((const char *)node->name, elements[i]) == 0)
            return true;
    return false;
}

/* "url(#a)" and "#a" with the prefix before the a; NULL when it refers to something outside the picture, or memory runs
 * out. */
static char *make_reference(const char *value, const char *prefix)
{
    const char *mark = strchr(value, '#');
    bool inside = mark == value || (mark == value + 4 && strncmp(value, "url(", 4) == 0);
    return inside ? lds_made("%.*s%s%s", (int)(mark + 1 - value), value, prefix, mark + 1) : NULL;
}

static void set_attribute(struct lds_html *html, xmlNode *node, xmlAttr *attribute, const char *prefix)
{
    const char *name = (const char *)attribute->name;
    xmlChar *value = xmlNodeListGetString(node->doc, attribute->children, 1);
    bool reference = strcmp(name, "href") == 0 || (value && strstr((const char *)value, "url("));
    bool dropped = (attribute->ns && strcmp(name, "href") != 0) || strncmp(name, "on", 2) == 0 || !value;
    char *text = NULL;
    if (!dropped)
        text = reference ? make_reference((const char *)value, prefix)
                         : lds_made("%s%s", strcmp(name, "id") == 0 ? prefix : "", (const char *)value);
    xmlFree(value);
    char kept[64];
    snprintf(kept, sizeof kept, "%s", name);
    xmlRemoveProp(attribute);
    lds_html_attribute(html, node, kept, text);
    free(text);
}

static void set_attributes(struct lds_html *html, xmlNode *node, const char *prefix)
{
    /* Each is taken from the front and appended at the end, so the length of the list must be known first. */
    size_t count = 0;
    for (xmlAttr *attribute = node->properties; attribute; attribute = attribute->next)
        count++;
    while (count-- > 0 && node->properties)
        set_attribute(html, node, node->properties, prefix);
}

static void unlink_node(xmlNode *node)
{
    xmlUnlinkNode(node);
    xmlFreeNode(node);
}

static void set_tree(struct lds_html *html, xmlNode *node, const xmlNode *root, const char *prefix)
{
    if (node->type != XML_ELEMENT_NODE)
        return;
    set_attributes(html, node, prefix);
    for (xmlNode *child = node->children, *next; child; child = next) {
        next = child->next;
        if (is_kept(child, root))
            set_tree(html, child, root, prefix);
        else
            unlink_node(child);
    }
}

/* No element of another namespace is left, so their declarations can go too. */
static void drop_other_namespaces(xmlNode *svg)
{
    for (xmlNs **place = &svg->nsDef; *place;) {
        xmlNs *ns = *place;
        if (ns == svg->ns) {
            place = &ns->next;
            continue;
        }
        *place = ns->next;
        ns->next = NULL;
        xmlFreeNs(ns);
    }
}

static void set_frame(struct lds_html *html, xmlNode *svg)
{
    xmlChar *box = xmlGetProp(svg, BAD_CAST "viewBox");
    double left, top, width, height;
    if (box && sscanf((const char *)box, "%lf %lf %lf %lf", &left, &top, &width, &height) == 4) {
        const struct lds_label frame =
            lds_label("%.6g %.6g %.6g %.6g", left, top + captions * height, width, (1.0 - captions) * height);
        xmlUnsetProp(svg, BAD_CAST "viewBox");
        xmlUnsetProp(svg, BAD_CAST "width");
        xmlUnsetProp(svg, BAD_CAST "height");
        lds_html_attribute(html, svg, "viewBox", frame.text);
    }
    xmlFree(box);
}

static void put_words(struct lds_html *html, xmlNode *svg, const char *title, const char *message)
{
    static const char *const names[] = {"desc", "title"};
    const char *const texts[] = {message, title};
    for (int i = 0; i < 2; i++) {
        char *clean = lds_html_clean(texts[i]);
        xmlNode *node = clean ? xmlNewDocRawNode(html->doc, svg->ns, BAD_CAST names[i], NULL) : NULL;
        if (node && svg->children)
            xmlAddPrevSibling(svg->children, node);
        else if (node)
            xmlAddChild(svg, node);
        html->failed = html->failed || !node;
        lds_html_text(html, node, clean);
        free(clean);
    }
    char *label = lds_made("%s: %s", title, message);
    html->failed = html->failed || !label;
    lds_html_attribute(html, svg, "role", "img");
    lds_html_attribute(html, svg, "aria-label", label);
    free(label);
}

/* NULL: no picture, or a broken one. libxml2 does not always report that memory ran out; but then it reports no fault
 * of the text either. */
static xmlDoc *read_picture(const char *path)
{
    /* Opened here, since libxml2 would take a path as a URI. */
    FILE *file = fopen(path, "rb");
    if (!file) {
        if (errno == ENOMEM)
            lds_scarce_note();
        return NULL;
    }
    xmlResetLastError();
    xmlDoc *picture =
        xmlReadFd(fileno(file), NULL, NULL,
                  XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING | XML_PARSE_NOBLANKS | XML_PARSE_NOCDATA);
    fclose(file);
    if (!picture) {
        const xmlError *fault = xmlGetLastError();
        if (!fault || fault->code == XML_ERR_OK || fault->code == XML_ERR_NO_MEMORY)
            lds_scarce_note();
    }
    return picture;
}

bool lds_html_svg(struct lds_html *html, xmlNode *parent, const char *path, const char *title, const char *message)
{
    if (html->failed || !parent)
        return false;
    xmlDoc *picture = read_picture(path);
    xmlNode *root = picture ? xmlDocGetRootElement(picture) : NULL;
    bool found = root && strcmp((const char *)root->name, "svg") == 0;
    if (found) {
        const struct lds_short prefix = lds_short("plot%u-", ++html->drawn);
        xmlNode *svg = xmlDocCopyNode(root, html->doc, 1);
        if (svg && lds_scarce_take()) { /* libxml2 leaves out names then */
            xmlFreeNode(svg);
            svg = NULL;
        }
        html->failed = !svg || !xmlAddChild(parent, svg);
        if (!html->failed) {
            set_tree(html, svg, svg, prefix.text);
            drop_other_namespaces(svg);
            set_frame(html, svg);
            put_words(html, svg, title, message);
        }
    }
    xmlFreeDoc(picture);
    return found;
}
