/* Completions from the same tables as parsing. The bash one needs only bash 4 itself; the zsh one uses _arguments. */
#include "command.h"

/* The possible values: words, or families, as in "none level= noise= ...", whose value follows. */
static void print_values(const struct option_row *row, FILE *out)
{
    for (size_t i = 0; row->words && row->words[i]; i++)
        fprintf(out, "%s%s", i ? " " : "", row->words[i]);
    for (size_t i = 0; row->kind == OPTION_FAMILIES && family_words[i]; i++)
        fprintf(out, "%s%s=", i || row->words ? " " : "", family_words[i]);
}

static bool is_file(const struct option_row *row)
{
    return row->kind == OPTION_FILE || row->kind == OPTION_FILES || row->kind == OPTION_FOLDER;
}

static bool has_words(const struct option_row *row)
{
    return row->kind == OPTION_WORD || row->kind == OPTION_FAMILIES;
}

/* A case for what follows an option. */
static void print_bash_value(const struct option_row *row, FILE *out)
{
    fprintf(out, "        --%s) ", row->name);
    if (is_file(row)) {
        fprintf(out, "mapfile -t COMPREPLY < <(compgen -%c -- \"$cur\"); compopt -o filenames 2>/dev/null; ",
                row->kind == OPTION_FOLDER ? 'd' : 'f');
    } else if (has_words(row)) {
        fputs("mapfile -t COMPREPLY < <(compgen -W '", out);
        print_values(row, out);
        fprintf(out, "' -- \"$cur\"); %s", row->kind == OPTION_FAMILIES ? "compopt -o nospace 2>/dev/null; " : "");
    }
    fputs("return ;;\n", out);
}

static void print_bash_options(const struct command *command, FILE *out)
{
    const struct option_row *row;
    fprintf(out, "    %s)\n        case $prev in\n", command->name ? command->name : "''");
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++)
        if (!row->hidden && row->argument)
            print_bash_value(row, out);
    fputs("        esac\n        words='", out);
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++)
        if (!row->hidden)
            fprintf(out, "--%s ", row->name);
    for (size_t i = 0; !command->name && commands[i]; i++)
        fprintf(out, "%s ", commands[i]->name);
    fputs("' ;;\n", out);
}

void describe_bash(FILE *out)
{
    fputs("# bash completion for loadside\n"
          "_loadside()\n"
          "{\n"
          "    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} command= words=\n"
          "    # --option=value comes as three words\n"
          "    if [[ $cur == = ]]; then\n"
          "        cur=\n"
          "    elif [[ $prev == = ]]; then\n"
          "        prev=${COMP_WORDS[COMP_CWORD-2]}\n"
          "    fi\n"
          "    if ((COMP_CWORD > 1)); then\n"
          "        command=${COMP_WORDS[1]}\n"
          "    fi\n"
          "    COMPREPLY=()\n"
          "    case $command in\n",
          out);
    print_bash_options(&program, out);
    for (size_t i = 0; commands[i]; i++)
        print_bash_options(commands[i], out);
    fputs("    esac\n"
          "    if [[ -z $command || $cur == -* ]]; then\n"
          "        mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$cur\")\n"
          "    else\n"
          "        mapfile -t COMPREPLY < <(compgen -f -- \"$cur\")\n"
          "        compopt -o filenames 2>/dev/null\n"
          "    fi\n"
          "}\n"
          "complete -F _loadside loadside\n",
          out);
}

/* Text inside single quotes and the brackets of _arguments. */
static void print_zsh_text(const char *text, FILE *out)
{
    for (; *text; text++) {
        if (*text == '\'') {
            fputs("'\\''", out);
            continue;
        }
        if (*text == '[' || *text == ']' || *text == ':' || *text == '\\')
            fputc('\\', out);
        fputc(*text, out);
    }
}

static void print_zsh_action(const struct option_row *row, FILE *out)
{
    if (is_file(row)) {
        fputs(row->kind == OPTION_FOLDER ? "_files -/" : "_files", out);
    } else if (has_words(row)) {
        fputc('(', out);
        print_values(row, out);
        fputc(')', out);
    } else {
        fputc(' ', out);
    }
}

static void print_zsh_options(const struct command *command, const char *indent, FILE *out)
{
    const struct option_row *row;
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++) {
        if (row->hidden)
            continue;
        fprintf(out, "%s'%s--%s%s[", indent, option_repeats(row->kind) ? "*" : "", row->name, row->argument ? "=" : "");
        print_zsh_text(row->help, out);
        fputc(']', out);
        if (row->argument) {
            fprintf(out, ":%s:", row->argument);
            print_zsh_action(row, out);
        }
        fputs("' \\\n", out);
    }
}

void describe_zsh(FILE *out)
{
    fputs("#compdef loadside\n"
          "local curcontext=$curcontext state line\n"
          "_arguments -C \\\n",
          out);
    print_zsh_options(&program, "    ", out);
    fputs("    '1:command:((", out);
    for (size_t i = 0; commands[i]; i++) {
        fprintf(out, "%s%s\\:\"", i ? " " : "", commands[i]->name);
        print_zsh_text(commands[i]->summary, out);
        fputc('"', out);
    }
    fputs("))' \\\n    '*::argument:->command'\n[[ $state == command ]] || return\ncase $line[1] in\n", out);
    for (size_t i = 0; commands[i]; i++) {
        fprintf(out, "    %s)\n        _arguments \\\n", commands[i]->name);
        print_zsh_options(commands[i], "            ", out);
        fputs("            '*:file:_files' ;;\n", out);
    }
    fputs("esac\n", out);
}
