#include "report/html_tree.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "safe_text.h"

static bool is_forbidden(uint32_t code)
{
    bool control = (code < 0x20 && code != '\t' && code != '\n') || (code >= 0x7F && code < 0xA0);
    bool noncharacter = (code & 0xFFFE) == 0xFFFE || (code >= 0xFDD0 && code <= 0xFDEF);
    /* Embeddings, overrides and isolates (Unicode Standard Annex #9) would change the direction of the words that
     * follow. */
    bool direction = (code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
    return control || noncharacter || direction;
}

/* A byte becomes at most the three bytes of U+FFFD. */
char *lds_html_clean(const char *text)
{
    static const char replacement[] = "\xEF\xBF\xBD";
    char *clean = malloc(strlen(text) * 3 + 1);
    if (!clean)
        return NULL;
    size_t length = 0, bytes;
    for (uint32_t code; (code = lds_utf8_next(text, &bytes)) != 0; text += bytes) {
        const char *from = text;
        size_t count = bytes;
        if (code == '\r') {
            if (text[1] == '\n')
                continue;
            from = "\n";
        } else if (code == 0xFFFD || is_forbidden(code)) {
            from = replacement;
            count = 3;
        }
        memcpy(clean + length, from, count);
        length += count;
    }
    clean[length] = '\0';
    return clean;
}

xmlNode *lds_html_add(struct lds_html *html, xmlNode *parent, const char *name)
{
    if (html->failed || !parent)
        return NULL;
    xmlNode *node = xmlNewDocNode(html->doc, NULL, BAD_CAST name, NULL);
    html->failed = !node;
    return node ? xmlAddChild(parent, node) : NULL;
}

void lds_html_text(struct lds_html *html, xmlNode *node, const char *text)
{
    if (html->failed || !node || !text || !*text)
        return;
    char *clean = lds_html_clean(text);
    xmlNode *child = clean ? xmlNewDocText(html->doc, BAD_CAST clean) : NULL;
    free(clean);
    html->failed = !child;
    if (child)
        xmlAddChild(node, child);
}

void lds_html_format(struct lds_html *html, xmlNode *node, const char *format, ...)
{
    char *text = NULL;
    va_list args;
    va_start(args, format);
    if (vasprintf(&text, format, args) < 0)
        text = NULL;
    va_end(args);
    html->failed = html->failed || !text;
    lds_html_text(html, node, text);
    free(text);
}

void lds_html_attribute(struct lds_html *html, xmlNode *node, const char *name, const char *value)
{
    if (html->failed || !node || !value)
        return;
    char *clean = lds_html_clean(value);
    html->failed = !clean || !xmlNewProp(node, BAD_CAST name, BAD_CAST clean);
    free(clean);
}

xmlNode *lds_html_element(struct lds_html *html, xmlNode *parent, const char *name, const char *style_class,
                          const char *text)
{
    xmlNode *node = lds_html_add(html, parent, name);
    lds_html_attribute(html, node, "class", style_class);
    lds_html_text(html, node, text);
    return node;
}

struct lds_short lds_html_id(struct lds_html *html, xmlNode *node)
{
    const struct lds_short id = lds_short("n%u", ++html->ids);
    lds_html_attribute(html, node, "id", id.text);
    return id;
}

xmlNode *lds_html_section(struct lds_html *html, const char *heading)
{
    xmlNode *section = lds_html_add(html, html->main, "section");
    lds_html_element(html, section, "h2", NULL, heading);
    return section;
}
