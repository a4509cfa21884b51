#include "command.h"

#include <string.h>

enum { WIDTH = 80, OPTION_COLUMN = 24 };

/* Number of characters, not bytes, of UTF-8 text. */
static size_t text_width(const char *text, size_t bytes)
{
    size_t width = 0;
    for (size_t i = 0; i < bytes; i++)
        width += ((unsigned char)text[i] & 0xc0) != 0x80;
    return width;
}

/* Prints the words of text between the columns margin and WIDTH; the line is already at column. Ends the line. */
static void print_wrapped(const char *text, size_t column, size_t margin, FILE *out)
{
    bool first = true;
    while (*text) {
        const size_t bytes = strcspn(text, " ");
        const size_t width = text_width(text, bytes);
        if (!first && column + 1 + width > WIDTH) {
            fputc('\n', out);
            column = 0;
            first = true;
        }
        if (column < margin) {
            fprintf(out, "%*s", (int)(margin - column), "");
            column = margin;
        }
        if (!first)
            column += (size_t)fprintf(out, " ");
        fprintf(out, "%.*s", (int)bytes, text);
        column += width;
        first = false;
        text += bytes;
        text += strspn(text, " ");
    }
    fputc('\n', out);
}

void describe_paragraph(const char *text, FILE *out)
{
    print_wrapped(text, 0, 0, out);
}

void describe_option(const struct option_row *row, char *text, size_t size)
{
    char expects[256];
    const char *range = NULL;
    option_expects(row, expects, sizeof expects);
    if (row->kind == OPTION_QUANTITY || row->kind == OPTION_WHOLE)
        range = strstr(expects, "from ") + strlen("from ");
    else if (row->kind == OPTION_WORD)
        range = expects + strlen("one of ");
    else if (option_repeats(row->kind))
        range = "may be repeated";
    snprintf(text, size, "%s%s%s%s", row->help, range ? " (" : "", range ? range : "", range ? ")" : "");
}

static void print_option(const struct option_row *row, FILE *out)
{
    char text[1024];
    describe_option(row, text, sizeof text);
    size_t column =
        (size_t)fprintf(out, "  --%s%s%s", row->name, row->argument ? " " : "", row->argument ? row->argument : "");
    if (column + 2 > OPTION_COLUMN) {
        fputc('\n', out);
        column = 0;
    }
    print_wrapped(text, column, OPTION_COLUMN, out);
}

static void print_paragraphs(const char *const *paragraphs, size_t margin, FILE *out)
{
    for (size_t i = 0; paragraphs && paragraphs[i]; i++) {
        fputc('\n', out);
        print_wrapped(paragraphs[i], 0, margin, out);
    }
}

static void print_commands(FILE *out)
{
    fprintf(out, "\nCommands:\n");
    for (size_t i = 0; commands[i]; i++) {
        const size_t column = (size_t)fprintf(out, "  %s", commands[i]->name);
        print_wrapped(commands[i]->summary, column, OPTION_COLUMN, out);
    }
    fprintf(out, "\n'loadside COMMAND --help' explains a command.\n");
}

void describe_help(const struct command *command, FILE *out)
{
    const struct option_row *row;
    if (command->name)
        fprintf(out, "Usage: loadside %s [OPTION]... %s\n", command->name, command->operands);
    else
        fprintf(out, "Usage: loadside COMMAND [OPTION]... %s\n", command->operands);
    print_paragraphs(command->text, 0, out);
    if (!command->name)
        print_commands(out);
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++) {
        if (row->hidden)
            continue;
        if (row->group)
            fprintf(out, "\n%s:\n", row->group);
        print_option(row, out);
    }
    if (command->caution) {
        fprintf(out, "\nCaution:");
        print_paragraphs(command->caution, 2, out);
    }
    if (command->examples) {
        fprintf(out, "\nExamples:\n");
        for (const struct example *example = command->examples; example->line; example++) {
            fprintf(out, "  %s\n", example->line);
            print_wrapped(example->what, 0, 6, out);
        }
    }
}
