#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command.h"
#include "describe.h"
#include "output.h"
#include "say.h"

const struct command *const commands[] = {&measure_command, &compare_command, &units_command,
                                          &job_command,     &ledger_command,  NULL};

struct program_settings {
    bool version;
    bool manual;
    const char *completion;
};

static const char *const shells[] = {"bash", "zsh", NULL};

static const struct option_row program_options[] = {
    {.name = "help", .kind = OPTION_HELP, .group = "Options", .help = "print this help"},
    {.name = "version",
     .kind = OPTION_SWITCH,
     .place = offsetof(struct program_settings, version),
     .help = "print the version and the licence"},
    {.name = "manual",
     .kind = OPTION_SWITCH,
     .place = offsetof(struct program_settings, manual),
     .help = "print the manual page, man(7)",
     .hidden = true},
    {.name = "completion",
     .argument = "SHELL",
     .kind = OPTION_WORD,
     .place = offsetof(struct program_settings, completion),
     .words = shells,
     .example = "bash",
     .help = "print the shell's completion",
     .hidden = true},
    {0},
};

static const char *const program_text[] = {
    "Measures distortion and noise of audio power amplifiers from captures: recordings of the amplifier's output "
    "across a load resistor, made by a sound card or a digitiser.",
    NULL,
};

const struct command program = {
    .operands = "OPERAND...",
    .summary = "distortion and noise of audio power amplifiers from captures across a load",
    .text = program_text,
    .options = program_options,
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

static enum exit_status run_program(int argc, char **argv)
{
    struct program_settings settings = {0};
    int operand = argc;
    switch (options_parse(&program, argc, argv, &settings, &operand)) {
    case PARSED_BAD:
        return EXIT_TROUBLE;
    case PARSED_HELP:
        describe_help(&program, stdout);
        return EXIT_DONE;
    case PARSED:
        break;
    }
    if (settings.version) {
        print_version();
        return EXIT_DONE;
    }
    if (settings.manual) {
        describe_manual(stdout);
        return EXIT_DONE;
    }
    if (settings.completion) {
        (strcmp(settings.completion, "bash") == 0 ? describe_bash : describe_zsh)(stdout);
        return EXIT_DONE;
    }
    if (operand == argc) {
        say("command", "none found; one expected, as in 'loadside measure CAPTURE'; 'loadside --help' lists them");
        return EXIT_TROUBLE;
    }
    const struct command *command = find_command(argv[operand]);
    return command ? command->run(argc - operand, argv + operand) : unknown_command(argv[operand]);
}

int main(int argc, char **argv)
{
    output_prepare();
    return (int)output_close(run_program(argc, argv));
}
