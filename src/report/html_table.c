#include "report/html_table.h"

#include <string.h>

enum { ROWS_TOGETHER = 14 }; /* a table, or a group of rows, with no more rows moves to the next page as a whole */

static const char *class_of(enum lds_html_kind kind)
{
    static const char *const classes[] = {[LDS_HTML_RIGHT] = "right", [LDS_HTML_NUMBER] = "number"};
    return classes[kind];
}

void lds_html_table_open(struct lds_html_table *table, struct lds_html *html, xmlNode *parent, const char *caption,
                         const struct lds_html_column *column, size_t columns)
{
    *table = (struct lds_html_table){.html = html, .column = column, .columns = columns};
    xmlNode *wrapper = lds_html_element(html, parent, "div", "table", NULL);
    table->table = lds_html_add(html, wrapper, "table");
    const struct lds_short id = lds_html_id(html, lds_html_element(html, table->table, "caption", NULL, caption));
    lds_html_attribute(html, wrapper, "role", "group");
    lds_html_attribute(html, wrapper, "aria-labelledby", id.text);
    lds_html_attribute(html, wrapper, "tabindex", "0");
    xmlNode *row = lds_html_add(html, lds_html_add(html, table->table, "thead"), "tr");
    for (size_t i = 0; i < columns; i++) {
        xmlNode *head = lds_html_element(html, row, "th", class_of(column[i].kind), column[i].heading);
        lds_html_attribute(html, head, "scope", "col");
    }
}

void lds_html_table_group(struct lds_html_table *table, const char *heading)
{
    table->body = lds_html_add(table->html, table->table, "tbody");
    xmlNode *row = lds_html_element(table->html, table->body, "tr", "group", NULL);
    xmlNode *head = lds_html_element(table->html, row, "th", NULL, heading);
    lds_html_attribute(table->html, head, "colspan", lds_short("%zu", table->columns).text);
    lds_html_attribute(table->html, head, "scope", "rowgroup");
}

/* "-7" and ".38" separately, so that all fractions can be made equally wide. */
static void put_number(struct lds_html_table *table, xmlNode *cell, size_t column, const char *text)
{
    const char *point = strchr(text, '.');
    size_t whole = point ? (size_t)(point - text) : strlen(text), fraction = strlen(text) - whole;
    lds_html_format(table->html, cell, "%.*s", (int)whole, text);
    if (fraction > table->fraction[column])
        table->fraction[column] = fraction;
    if (point)
        lds_html_element(table->html, cell, "span", NULL, point);
}

xmlNode *lds_html_table_row(struct lds_html_table *table, const char *const *text)
{
    xmlNode *first = NULL;
    if (!table->body)
        table->body = lds_html_add(table->html, table->table, "tbody");
    xmlNode *row = lds_html_add(table->html, table->body, "tr");
    table->rows++;
    for (size_t i = 0; text[i]; i++) {
        enum lds_html_kind kind = table->column[i].kind;
        bool label = kind == LDS_HTML_LABEL, number = kind == LDS_HTML_NUMBER;
        xmlNode *cell =
            lds_html_element(table->html, row, label ? "th" : "td", class_of(kind), number ? NULL : text[i]);
        if (label)
            lds_html_attribute(table->html, cell, "scope", "row");
        if (number)
            put_number(table, cell, i, text[i]);
        first = first ? first : cell;
    }
    return first;
}

void lds_html_table_remark(struct lds_html_table *table, xmlNode *cell, const char *text)
{
    if (!text || !text[0])
        return;
    lds_html_text(table->html, cell, " ");
    lds_html_format(table->html, lds_html_add(table->html, cell, "small"), "(%s)", text);
}

/* A fraction gets the width of the longest in its column, a number without one the same room beside it. */
static void set_width(struct lds_html *html, xmlNode *cell, size_t fraction)
{
    for (xmlNode *part = cell->children; part; part = part->next)
        if (xmlStrEqual(part->name, BAD_CAST "span")) {
            lds_html_attribute(html, part, "class", lds_short("f%zu", fraction).text);
            return;
        }
    if (fraction == 0)
        return;
    xmlUnsetProp(cell, BAD_CAST "class");
    lds_html_attribute(html, cell, "class", lds_short("number w%zu", fraction).text);
}

static void set_widths(struct lds_html_table *table, xmlNode *row)
{
    size_t column = 0;
    for (xmlNode *cell = row->children; cell && column < table->columns; cell = cell->next, column++)
        if (table->column[column].kind == LDS_HTML_NUMBER)
            set_width(table->html, cell, table->fraction[column] < 8 ? table->fraction[column] : 8);
}

static void keep_together(struct lds_html *html, xmlNode *node, size_t rows)
{
    if (rows <= ROWS_TOGETHER)
        lds_html_attribute(html, node, "class", "whole");
}

void lds_html_table_close(struct lds_html_table *table)
{
    for (xmlNode *body = table->html->failed ? NULL : table->table->children; body; body = body->next) {
        if (!xmlStrEqual(body->name, BAD_CAST "tbody"))
            continue;
        for (xmlNode *row = body->children; row; row = row->next)
            set_widths(table, row);
        keep_together(table->html, body, (size_t)xmlChildElementCount(body));
    }
    if (!table->html->failed)
        keep_together(table->html, table->table, table->rows);
}
