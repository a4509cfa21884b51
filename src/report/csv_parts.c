#include "report/csv_parts.h"

#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "safe_text.h"

/* Cells with a comma, a quote or a line break are quoted, with quotes doubled (RFC 4180, 2.6 and 2.7). CSV has no
 * escapes; but neither a terminal nor a spreadsheet should get control characters, so these become "\x1b" and the
 * like. */
static void write_text(FILE *out, const char *text)
{
    char *clean = lds_words_escape_dark(text);
    if (!clean)
        return;
    const char *start = clean + strspn(clean, " ");
    bool formula = *start != '\0' && strchr("=+-@\t\r", *start);
    bool quoted = strpbrk(clean, ",\"\r\n") != NULL;
    if (quoted)
        fputc('"', out);
    if (formula)
        fputc('\'', out);
    for (const char *c = clean; *c; c++) {
        if (*c == '"')
            fputc('"', out);
        fputc(*c, out);
    }
    if (quoted)
        fputc('"', out);
    free(clean);
}

/* An array becomes its words with "; " between them: flags. */
static void write_cell(FILE *out, const json_t *value)
{
    size_t i;
    const json_t *word;
    if (json_is_real(value))
        fprintf(out, "%.15g", json_real_value(value));
    else if (json_is_integer(value))
        fprintf(out, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
    else if (json_is_boolean(value))
        fputs(json_is_true(value) ? "yes" : "no", out);
    else if (json_is_string(value))
        write_text(out, json_string_value(value));
    json_array_foreach(value, i, word) fprintf(out, "%s%s", i > 0 ? "; " : "", json_string_value(word));
}

void lds_csv_row(struct lds_csv_sheet *csv, json_t *row, json_t *rest)
{
    for (const char *column = csv->columns; *column;) {
        char name[32];
        size_t length = strcspn(column, ",\r");
        snprintf(name, sizeof name, "%.*s", (int)length, column);
        const json_t *value = json_object_get(row, name);
        write_cell(csv->file.out, value ? value : json_object_get(rest, name));
        column += length;
        if (*column == ',')
            fputc(*column++, csv->file.out);
        else
            column += fprintf(csv->file.out, "\r\n");
    }
    json_decref(row);
    json_decref(rest);
}

enum lds_status lds_csv_begin(struct lds_csv_sheet *csv, const char *columns, const char *path, struct lds_error *error)
{
    enum lds_status status = lds_whole_file_open(&csv->file, path, error);
    if (status != LDS_OK)
        return status;
    csv->columns = columns;
    fputs(columns, csv->file.out);
    if (lds_point_locale_enter(&csv->locale))
        return LDS_OK;
    lds_whole_file_abandon(&csv->file);
    return lds_fail_memory(error, "the CSV");
}

enum lds_status lds_csv_finish(struct lds_csv_sheet *csv, struct lds_error *error)
{
    lds_point_locale_leave(&csv->locale);
    return lds_whole_file_commit(&csv->file, error);
}

const char *lds_csv_label(const char *key)
{
    const char *label = lds_label_of(key);
    return label ? label : "";
}
