#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command.h"
#include "output.h"
#include "say.h"

const struct command *const commands[] = {
    &measure_command, &compare_command,   &units_command,  &job_command,       &ledger_command,
    &signal_command,  &calibrate_command, &expect_command, &impedance_command, NULL};

struct program_settings {
    bool version;
    bool manual;
    const char *completion;
};

static const char *const shells[] = {"bash", "zsh", NULL};

#define PLACE(member) offsetof(struct program_settings, member)

static const struct option_row own_options[] = {
    {.group = "Options", HELP_OPTION},
    {SWITCH_OPTION("version", PLACE(version), "print the version and the licence")},
    {SWITCH_OPTION("manual", PLACE(manual), "print the manual page, man(7)"), .hidden = true},
    {WORD_OPTION("completion", "SHELL", PLACE(completion), shells, "bash", "print the shell's completion"),
     .hidden = true},
    {0},
};

static const struct option_row *const program_options[] = {own_options, NULL};

static const char *const program_text[] = {
    "Measures distortion and noise of audio power amplifiers from captures: recordings of the amplifier's output "
    "across a load resistor, made by a sound card or a digitiser.",
    NULL,
};

static void print_version(void)
{
    printf("loadside %s\n"
           "Licence GPL-3.0-or-later: free software, which you may change and pass on. No warranty.\n",
           lds_version());
}

static const struct command *find_command(const char *name)
{
    for (size_t i = 0; commands[i]; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

static enum exit_status unknown_command(const char *name)
{
    const char *names[sizeof commands / sizeof *commands + 1];
    size_t count = 0;
    for (; commands[count]; count++)
        names[count] = commands[count]->name;
    names[count++] = "--help"; /* "help" and "version" are commands of many programs */
    names[count++] = "--version";
    const char *nearest = lds_nearest(name, names, count);
    if (access(name, F_OK) == 0)
        say(name, "a file found; a command expected; to measure a capture, 'loadside measure FILE'");
    else if (nearest)
        say(name, "no such command; the nearest is %s; 'loadside --help' lists them", nearest);
    else
        say(name, "no such command; 'loadside --help' lists them");
    return EXIT_TROUBLE;
}

/* argv[0] is the name of the command. */
static enum exit_status run_command(const struct command *command, int argc, char **argv)
{
    enum exit_status status = EXIT_TROUBLE;
    int operand = argc;
    void *settings = calloc(1, command->settings);
    if (!settings) {
        say("memory", "none left for the options; close other programs");
        return EXIT_TROUBLE;
    }
    switch (options_parse(command, argc, argv, settings, &operand)) {
    case PARSED_BAD:
        break;
    case PARSED_HELP:
        describe_help(command, stdout);
        status = EXIT_DONE;
        break;
    case PARSED:
        status = command->run(settings, argc - operand, argv + operand);
        break;
    }
    free(settings);
    return status;
}

static enum exit_status run_program(const void *chosen, int operands, char **operand)
{
    const struct program_settings *settings = chosen;
    if (settings->version) {
        print_version();
    } else if (settings->manual) {
        describe_manual(stdout);
    } else if (settings->completion) {
        (strcmp(settings->completion, "bash") == 0 ? describe_bash : describe_zsh)(stdout);
    } else if (operands == 0) {
        say("command", "none found; one expected, as in 'loadside measure CAPTURE'; 'loadside --help' lists them");
        return EXIT_TROUBLE;
    } else {
        const struct command *command = find_command(operand[0]);
        return command ? run_command(command, operands, operand) : unknown_command(operand[0]);
    }
    return EXIT_DONE;
}

const struct command program = {
    .operands = "OPERAND...",
    .summary = "distortion and noise of audio power amplifiers from captures across a load",
    .text = program_text,
    .options = program_options,
    .settings = sizeof(struct program_settings),
    .run = run_program,
};

int main(int argc, char **argv)
{
    output_prepare();
    return (int)output_close(run_command(&program, argc, argv));
}
