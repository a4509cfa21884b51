/* A command of the program: one row of text and options, from which parsing, help, manual and completions are made. */
#ifndef CLI_COMMAND_H
#define CLI_COMMAND_H

#include <stddef.h>
#include <stdio.h>

#include "options.h"

enum exit_status {
    EXIT_DONE = 0,
    EXIT_WORSE = 1, /* something is worse or over a limit; the three values are those of diff and grep */
    EXIT_TROUBLE = 2,
};

struct example {
    const char *line;
    const char *what;
};

struct command {
    const char *name;           /* NULL: the program itself */
    const char *operands;       /* "CAPTURE..." */
    const char *summary;        /* one line, without a full stop */
    const char *const *text;    /* paragraphs, NULL at the end */
    const char *const *caution; /* paragraphs, NULL at the end; NULL: the command does not involve connecting
                                 * anything */
    const struct option_row *const *options; /* tables, each with a row without a name at the end; NULL at the end */
    const struct example *examples;          /* a row without a line at the end */
    size_t settings;                         /* size of the struct that the options fill */
    enum exit_status (*run)(const void *settings, int operands, char **operand);
};

extern const struct command program;
extern const struct command measure_command;
extern const struct command compare_command;
extern const struct command units_command;
extern const struct command ledger_command;
extern const struct command job_command;
extern const struct command signal_command;
extern const struct command calibrate_command;
extern const struct command expect_command;
extern const struct command impedance_command;

/* All commands, NULL at the end. */
extern const struct command *const commands[];

/* ---- descriptions for people and shells, made from the tables ---- */

/* --help of the program or of a command, 80 columns. */
void describe_help(const struct command *command, FILE *out);

/* The manual page, man(7). */
void describe_manual(FILE *out);

/* The shell's completion. */
void describe_bash(FILE *out);
void describe_zsh(FILE *out);

/* The description of an option with its range: "load resistor (1 mohm to 1 Mohm)". */
void describe_option(const struct option_row *row, char *text, size_t size);

/* A paragraph, 80 columns. */
void describe_paragraph(const char *text, FILE *out);

#endif
