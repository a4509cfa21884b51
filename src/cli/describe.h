/* What the tables of commands and options are turned into for people and shells. */
#ifndef CLI_DESCRIBE_H
#define CLI_DESCRIBE_H

#include <stdio.h>

#include "command.h"

/* --help of the program or of a command, 80 columns. */
void describe_help(const struct command *command, FILE *out);

/* The manual page, man(7). */
void describe_manual(FILE *out);

/* The shell's completion. */
void describe_bash(FILE *out);
void describe_zsh(FILE *out);

/* The phrase of an option with what its value may be: "load resistor (1 mohm to 1 Mohm)". */
void describe_option(const struct option_row *row, char *text, size_t size);

/* A paragraph, 80 columns. */
void describe_paragraph(const char *text, FILE *out);

#endif
