/* Descriptions of commands and options for people and shells, made from their tables. */
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

/* The description of an option with its range: "load resistor (1 mohm to 1 Mohm)". */
void describe_option(const struct option_row *row, char *text, size_t size);

/* A paragraph, 80 columns. */
void describe_paragraph(const char *text, FILE *out);

#endif
