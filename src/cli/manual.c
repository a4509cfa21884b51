/* The manual page in man(7), from the same tables as parsing and --help. Escapes: groff_char(7), groff_man_style(7). */
#include "command.h"

#include <string.h>

static const char changed[] = "2026-11-29"; /* when the text last changed */

/* Text that roff shows unchanged: '-' stays a hyphen-minus that can be searched and copied. */
static void print_roff(const char *text, FILE *out)
{
    static const struct {
        char plain;
        const char *roff;
    } escapes[] = {{'-', "\\-"},   {'\\', "\\e"},  {'"', "\\(dq"}, {'\'', "\\(aq"},
                   {'^', "\\(ha"}, {'~', "\\(ti"}, {'`', "\\(ga"}};
    if (*text == '.' || *text == '\'')
        fputs("\\&", out);
    for (; *text; text++) {
        const char *roff = NULL;
        for (size_t i = 0; i < sizeof escapes / sizeof *escapes; i++)
            if (escapes[i].plain == *text)
                roff = escapes[i].roff;
        if (roff)
            fputs(roff, out);
        else
            fputc(*text, out);
    }
}

static void print_line(const char *text, FILE *out)
{
    print_roff(text, out);
    fputc('\n', out);
}

static void print_paragraphs(const char *const *paragraphs, FILE *out)
{
    for (size_t i = 0; paragraphs && paragraphs[i]; i++) {
        if (i)
            fputs(".PP\n", out);
        print_line(paragraphs[i], out);
    }
}

static void print_option(const struct option_row *row, FILE *out)
{
    char text[1024];
    fputs(".TP\n\\fB\\-\\-", out);
    print_roff(row->name, out);
    fputs("\\fR", out);
    if (row->argument) {
        fputs(" \\fI", out);
        print_roff(row->argument, out);
        fputs("\\fR", out);
    }
    fputc('\n', out);
    describe_option(row, text, sizeof text);
    print_line(text, out);
}

static void print_options(const struct command *command, FILE *out)
{
    const struct option_row *row;
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++) {
        if (row->hidden)
            continue;
        if (row->group) {
            fputs(".PP\n", out);
            print_roff(row->group, out);
            fputs(":\n", out);
        }
        print_option(row, out);
    }
}

static void print_examples(const struct command *command, FILE *out)
{
    for (const struct example *example = command->examples; example && example->line; example++) {
        fputs(".TP\n\\fB", out);
        print_roff(example->line, out);
        fputs("\\fR\n", out);
        print_line(example->what, out);
    }
}

static void print_synopsis(FILE *out)
{
    fputs(".SH SYNOPSIS\n", out);
    for (size_t i = 0; commands[i]; i++) {
        fprintf(out, "\\fBloadside %s\\fR [\\fIOPTION\\fR]... \\fI", commands[i]->name);
        print_roff(commands[i]->operands, out);
        fputs("\\fR\n.br\n", out);
    }
    fputs("\\fBloadside\\fR \\fB\\-\\-help\\fR\n.br\n\\fBloadside\\fR \\fB\\-\\-version\\fR\n", out);
}

static void print_command(const struct command *command, FILE *out)
{
    fputs(".SH \"LOADSIDE ", out);
    for (const char *letter = command->name; *letter; letter++)
        fputc(*letter >= 'a' && *letter <= 'z' ? *letter - 'a' + 'A' : *letter, out);
    fputs("\"\n", out);
    print_paragraphs(command->text, out);
    print_options(command, out);
    if (command->caution) {
        fputs(".SS Caution\n", out);
        print_paragraphs(command->caution, out);
    }
    if (command->examples) {
        fputs(".SS Examples\n", out);
        print_examples(command, out);
    }
}

void describe_manual(FILE *out)
{
    fprintf(out, ".TH LOADSIDE 1 %s \"loadside %s\"\n", changed, LOADSIDE_VERSION);
    fputs(".SH NAME\nloadside \\- ", out);
    print_line(program.summary, out);
    print_synopsis(out);
    fputs(".SH DESCRIPTION\n", out);
    print_paragraphs(program.text, out);
    print_options(&program, out);
    for (size_t i = 0; commands[i]; i++)
        print_command(commands[i], out);
    fputs(".SH \"EXIT STATUS\"\n.TP\n0\ndone, and nothing worse or over a limit\n.TP\n1\nsomething is worse, or over a "
          "limit\n.TP\n2\nan error, reported on standard error in one line each: what was found, "
          "what was expected and what to do\n",
          out);
}
