#include "options.h"

#include <getopt.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "say.h"

enum { OPTIONS_MAX = 64, FIRST_VALUE = 256 }; /* values above any letter, to keep getopt's own return values apart */

const char *const family_words[] = {"level", "noise", "distortion", "mains", "dc", NULL};
const enum lds_family family_of_word[] = {LDS_FAMILY_LEVEL, LDS_FAMILY_NOISE, LDS_FAMILY_DISTORTION, LDS_FAMILY_MAINS,
                                          LDS_FAMILY_DC};

const struct option_row *option_at(const struct command *command, size_t number)
{
    for (const struct option_row *const *table = command->options; *table; table++)
        for (const struct option_row *row = *table; row->name; row++)
            if (number-- == 0)
                return row;
    return NULL;
}

/* Prints "--name: ..." for an option; returns false. */
static bool say_of(const struct option_row *row, const char *format, ...) __attribute__((format(printf, 2, 3)));

static bool say_of(const struct option_row *row, const char *format, ...)
{
    char subject[64], message[4096];
    va_list args;
    snprintf(subject, sizeof subject, "--%s", row->name);
    va_start(args, format);
    vsnprintf(message, sizeof message, format, args);
    va_end(args);
    return say(subject, "%s", message);
}

/* The name in "--name" or "--name=value", without the dashes. */
static void option_word(const char *argument, char *word, size_t size)
{
    snprintf(word, size, "%.*s", (int)strcspn(argument + 2, "="), argument + 2);
}

static const char *of_command(const struct command *command)
{
    return command->name ? command->name : "loadside";
}

static const char *help_line(const struct command *command, char *line, size_t size)
{
    snprintf(line, size, "loadside %s%s--help", command->name ? command->name : "", command->name ? " " : "");
    return line;
}

static void say_unknown(const struct command *command, const char *argument)
{
    const struct option_row *row;
    char word[256], line[64], subject[260];
    const char *names[OPTIONS_MAX];
    size_t count = 0;
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++)
        if (!row->hidden)
            names[count++] = row->name;
    help_line(command, line, sizeof line);
    if (argument[0] != '-' || argument[1] != '-') {
        say(argument, "no such option of %s; options are whole words after two dashes; '%s' lists them",
            of_command(command), line);
        return;
    }
    option_word(argument, word, sizeof word);
    snprintf(subject, sizeof subject, "--%s", word);
    const char *nearest = NULL;
    for (size_t i = 0; i < count && !nearest && word[0]; i++)
        if (strncmp(names[i], word, strlen(word)) == 0) /* the beginning of one */
            nearest = names[i];
    if (!nearest)
        nearest = lds_nearest(word, names, count);
    if (nearest)
        say(subject, "no such option of %s; the nearest is --%s; '%s' lists them", of_command(command), nearest, line);
    else
        say(subject, "no such option of %s; '%s' lists them", of_command(command), line);
}

/* "8 kHz": a limit with the SI prefix that avoids zeros. */
static void format_limit(double value, const char *unit, char *text, size_t size)
{
    static const struct {
        double factor;
        const char *prefix;
    } prefixes[] = {{1e9, "G"}, {1e6, "M"}, {1e3, "k"}, {1.0, ""}, {1e-3, "m"}, {1e-6, "u"}, {1e-9, "n"}, {1e-12, "p"}};
    enum { LAST = sizeof prefixes / sizeof *prefixes - 1, NONE = 3 };
    size_t i = 0;
    while (i < LAST && value < prefixes[i].factor)
        i++;
    const bool plain = strncmp(unit, "dB", 2) == 0 || (strcmp(unit, "s") == 0 && value >= 1.0);
    if (value <= 0.0 || !*unit || plain)
        i = NONE;
    const bool spaced = *unit || *prefixes[i].prefix;
    snprintf(text, size, "%.10g%s%s%s", value / prefixes[i].factor, spaced ? " " : "", prefixes[i].prefix, unit);
}

static bool take_switch(const struct option_row *row, const char *value, void *place)
{
    (void)row;
    (void)value;
    *(bool *)place = true;
    return true;
}

static bool take_text(const struct option_row *row, const char *value, void *place)
{
    (void)row;
    *(const char **)place = value;
    return *value != '\0';
}

static bool take_whole(const struct option_row *row, const char *value, void *place)
{
    int *whole = place;
    if (!*value || strspn(value, "0123456789") != strlen(value) || strlen(value) > 9)
        return false;
    *whole = (int)strtol(value, NULL, 10);
    return *whole >= row->least && *whole <= row->most;
}

/* "1" or "1,3"; repeated numbers count once. */
static bool take_wholes(const struct option_row *row, const char *value, void *place)
{
    struct whole_list *list = place;
    for (const char *rest = value; rest;) {
        char one[16];
        size_t length = strcspn(rest, ",");
        int whole = 0;
        snprintf(one, sizeof one, "%.*s", length < sizeof one ? (int)length : (int)sizeof one - 1, rest);
        if (!take_whole(row, one, &whole))
            return false;
        bool known = false;
        for (size_t i = 0; i < list->count; i++)
            known = known || list->value[i] == whole;
        if (!known && list->count < sizeof list->value / sizeof list->value[0])
            list->value[list->count++] = whole;
        rest = rest[length] ? rest + length + 1 : NULL;
    }
    return true;
}

/* "1-2" or "1-3,2-4" */
static bool take_pairs(const struct option_row *row, const char *value, void *place)
{
    struct pair_list *list = place;
    for (const char *rest = value; rest;) {
        char number[2][8] = {"", ""};
        int used = 0;
        if (list->count == LDS_PAIRS_MAX || sscanf(rest, "%7[0-9]-%7[0-9]%n", number[0], number[1], &used) != 2)
            return false;
        int *pair = list->pair[list->count];
        for (int i = 0; i < 2; i++)
            if (!take_whole(row, number[i], &pair[i]))
                return false;
        if (pair[0] == pair[1] || (rest[used] != ',' && rest[used] != '\0'))
            return false;
        list->count++;
        rest = rest[used] ? rest + used + 1 : NULL;
    }
    return true;
}

static bool take_word(const struct option_row *row, const char *value, void *place)
{
    for (size_t i = 0; row->words[i]; i++)
        if (strcmp(value, row->words[i]) == 0)
            return take_text(row, row->words[i], place);
    return false;
}

static bool take_band(const struct option_row *row, const char *value, void *place)
{
    struct band_list *list = place;
    if (list->count == LDS_BANDS_MAX)
        return say("--band", "more than %d bands found; at most %d expected; measure the rest in a second run",
                   LDS_BANDS_MAX, LDS_BANDS_MAX);
    struct lds_band *band = &list->band[list->count];
    if (!lds_band_parse(value, &band->low_hz, &band->high_hz))
        return say("--band", "'%s' found; two frequencies in Hz, the lower first, expected; write it as in --band %s",
                   value, row->example);
    list->count++;
    return true;
}

static bool take_quantity(const struct option_row *row, const char *value, void *place)
{
    double *quantity = place;
    return lds_quantity_parse(value, row->unit, quantity) && *quantity >= row->least && *quantity <= row->most;
}

static bool take_quantities(const struct option_row *row, const char *value, void *place)
{
    struct quantity_list *list = place;
    if (list->count == QUANTITIES_MAX || !take_quantity(row, value, &list->value[list->count]))
        return false;
    list->count++;
    return true;
}

/* "r=1%"; whether there is such a name depends on the command. */
static bool take_tolerance(const struct option_row *row, const char *value, void *place)
{
    struct tolerance_list *list = place;
    const char *equals = strchr(value, '=');
    const size_t length = equals ? (size_t)(equals - value) : 0;
    if (list->count == TOLERANCES_MAX || length == 0 || length >= sizeof list->of[0].name ||
        !lds_quantity_parse(equals + 1, "%", &list->of[list->count].percent) ||
        !(list->of[list->count].percent > row->least && list->of[list->count].percent < row->most))
        return false;
    snprintf(list->of[list->count++].name, sizeof list->of[0].name, "%.*s", (int)length, value);
    return true;
}

/* "8,1M", "8 ohm:1%,open" */
static bool take_loads(const struct option_row *row, const char *value, void *place)
{
    struct load_list *list = place;
    char first[64];
    const char *comma = strchr(value, ',');
    (void)row;
    if (!comma || (size_t)(comma - value) >= sizeof first)
        return false;
    snprintf(first, sizeof first, "%.*s", (int)(comma - value), value);
    return lds_load_parse(first, &list->load[0]) && lds_load_parse(comma + 1, &list->load[1]);
}

static bool take_files(const struct option_row *row, const char *value, void *place)
{
    struct file_list *list = place;
    if (list->count == FILES_MAX)
        return say_of(row, "more than %d files found; at most %d expected; leave some out", FILES_MAX, FILES_MAX);
    list->path[list->count++] = value;
    return *value != '\0';
}

/* "noise=0.2 dB", or the word for all families. */
static bool take_family(const struct option_row *row, const char *value, void *place)
{
    struct family_list *list = place;
    const char *equals = strchr(value, '=');
    double db;
    if (row->words && strcmp(value, row->words[0]) == 0) {
        list->none = true;
        return true;
    }
    if (!equals || !lds_quantity_parse(equals + 1, "dB", &db) || db < row->least || db > row->most)
        return false;
    for (size_t i = 0; family_words[i]; i++)
        if (strlen(family_words[i]) == (size_t)(equals - value) &&
            strncmp(value, family_words[i], strlen(family_words[i])) == 0 && isnan(list->db[family_of_word[i]])) {
            list->db[family_of_word[i]] = db;
            return true;
        }
    return false;
}

/* Everything known about each kind of option. */
static const struct {
    bool (*take)(const struct option_row *row, const char *value, void *place); /* false: it is no such value */
    bool repeats;
    const char *expects; /* NULL: depends on the row */
} kinds[] = {
    [OPTION_HELP] = {NULL, false, "no value"},
    [OPTION_SWITCH] = {take_switch, false, "no value"},
    [OPTION_FILE] = {take_text, false, "a file"},
    [OPTION_FOLDER] = {take_text, false, "a folder"},
    [OPTION_WORD] = {take_word, false, NULL},
    [OPTION_QUANTITY] = {take_quantity, false, NULL},
    [OPTION_QUANTITIES] = {take_quantities, true, NULL},
    [OPTION_TOLERANCES] = {take_tolerance, true, "a name and a tolerance above 0 and below 100 %"},
    [OPTION_WHOLE] = {take_whole, false, NULL},
    [OPTION_WHOLES] = {take_wholes, true, NULL},
    [OPTION_PAIRS] = {take_pairs, true, NULL},
    [OPTION_BAND] = {take_band, true, "two frequencies in Hz, the lower first"},
    [OPTION_FILES] = {take_files, true, "a file"},
    [OPTION_FAMILIES] = {take_family, true, NULL},
    [OPTION_LOADS] = {take_loads, false, "two loads from 0.1 ohm up, or open, each perhaps with its tolerance"},
};

bool option_repeats(enum option_kind kind)
{
    return kinds[kind].repeats;
}

void option_expects(const struct option_row *row, char *text, size_t size)
{
    char least[32], most[32];
    size_t used = 0;
    switch (row->kind) {
    case OPTION_WORD:
        text[0] = '\0';
        for (size_t i = 0; row->words[i] && used < size; i++)
            used += (size_t)snprintf(text + used, size - used, "%s%s", i ? ", " : "one of ", row->words[i]);
        return;
    case OPTION_QUANTITY:
    case OPTION_QUANTITIES:
        format_limit(row->least, row->unit, least, sizeof least);
        format_limit(row->most, row->unit, most, sizeof most);
        snprintf(text, size, "a value from %s to %s", least, most);
        return;
    case OPTION_WHOLE:
        snprintf(text, size, "a whole number from %.0f to %.0f", row->least, row->most);
        return;
    case OPTION_WHOLES:
        snprintf(text, size, "whole numbers from %.0f to %.0f with commas between", row->least, row->most);
        return;
    case OPTION_PAIRS:
        snprintf(text, size, "pairs of two different channels from %.0f to %.0f, at most %d", row->least, row->most,
                 LDS_PAIRS_MAX);
        return;
    case OPTION_FAMILIES:
        if (row->words)
            used += (size_t)snprintf(text, size, "%s, or ", row->words[0]);
        for (size_t i = 0; family_words[i] && used < size; i++)
            used += (size_t)snprintf(text + used, size - used, "%s%s", i ? ", " : "a family (", family_words[i]);
        if (used < size)
            snprintf(text + used, size - used, ") and from %.10g to %.10g dB", row->least, row->most);
        return;
    default:
        snprintf(text, size, "%s", kinds[row->kind].expects);
    }
}

/* Stores a value where the row says. */
static bool take_value(const struct option_row *row, const char *value, void *settings)
{
    char expects[256];
    if (kinds[row->kind].take(row, value, (char *)settings + row->place))
        return true;
    if (row->kind == OPTION_BAND) /* the fault was already printed */
        return false;
    option_expects(row, expects, sizeof expects);
    return say_of(row, "'%s' found; %s expected; write it as in --%s '%s'", value, expects, row->name, row->example);
}

/* Whether the argument that getopt matched to this row has the row's full name: getopt also accepts unambiguous
 * abbreviations, which might become another option's when a new one is added. */
static bool whole_name(const struct option_row *row, const char *argument)
{
    const size_t length = strlen(row->name);
    return strncmp(argument + 2, row->name, length) == 0 &&
           (argument[2 + length] == '\0' || argument[2 + length] == '=');
}

/* Prints what is wrong with the argument of a known option, for which getopt found a value missing or one too many. */
static void say_misplaced(const struct option_row *row, const char *argument)
{
    if (row->argument)
        say_of(row, "no value found; %s expected; write it as in --%s '%s'", row->argument, row->name, row->example);
    else
        say_of(row, "'%s' found; no value expected; leave it out", strchr(argument, '=') + 1);
}

/* A value that is most likely an option, because its own value was forgotten. */
static bool forgotten_value(const struct option_row *row, const char *argument, const char *value)
{
    if (strchr(argument, '=') || strncmp(value, "--", 2) != 0)
        return false;
    say_of(row, "option '%s' found; %s expected; write --%s=%s if that is the value", value, row->argument, row->name,
           value);
    return true;
}

/* Handles one result of getopt other than the end. */
static enum parsed take_answer(const struct command *command, int answer, char **argv, void *settings, bool *seen)
{
    const int known = answer >= FIRST_VALUE ? answer : optopt;
    if (known < FIRST_VALUE) {
        const char *here = argv[optind], *argument = argv[optind - 1];
        /* With several letters after one dash, getopt stays at the argument until it has read the last. */
        if (optopt && here && here[0] == '-' && here[1] != '-' && strchr(here, optopt))
            argument = here;
        say_unknown(command, argument);
        return PARSED_BAD;
    }
    const struct option_row *row = option_at(command, (size_t)(known - FIRST_VALUE));
    const bool apart = answer >= FIRST_VALUE && optarg && optarg == argv[optind - 1];
    const char *argument = argv[optind - (apart ? 2 : 1)];
    if (!whole_name(row, argument)) {
        say_unknown(command, argument);
        return PARSED_BAD;
    }
    if (answer < FIRST_VALUE) {
        say_misplaced(row, argument);
        return PARSED_BAD;
    }
    if (row->kind == OPTION_HELP)
        return PARSED_HELP;
    if (row->argument && forgotten_value(row, argument, optarg))
        return PARSED_BAD;
    if (row->argument && !option_repeats(row->kind) && seen[known - FIRST_VALUE]) {
        say_of(row, "found twice; one value expected; leave one out");
        return PARSED_BAD;
    }
    seen[known - FIRST_VALUE] = true;
    return take_value(row, optarg, settings) ? PARSED : PARSED_BAD;
}

/* The value while the option is not given. */
static void clear(const struct option_row *row, void *place)
{
    struct family_list *families = place;
    if (row->kind == OPTION_QUANTITY)
        *(double *)place = NAN;
    for (int i = 0; row->kind == OPTION_FAMILIES && i < LDS_FAMILIES; i++)
        families->db[i] = NAN;
    struct load_list *loads = place;
    for (int i = 0; row->kind == OPTION_LOADS && i < 2; i++)
        loads->load[i] = (struct lds_load){NAN, NAN};
}

enum parsed options_parse(const struct command *command, int argc, char **argv, void *settings, int *operand)
{
    struct option list[OPTIONS_MAX + 1] = {0};
    bool seen[OPTIONS_MAX] = {false};
    const struct option_row *row;
    for (size_t i = 0; (row = option_at(command, i)) != NULL; i++) {
        if (i == OPTIONS_MAX)
            abort();
        list[i] =
            (struct option){row->name, row->argument ? required_argument : no_argument, NULL, FIRST_VALUE + (int)i};
        clear(row, (char *)settings + row->place);
    }
    opterr = 0;
    optind = 0; /* glibc: start over */
    for (;;) {
        optopt = 0;
        const int answer = getopt_long(argc, argv, command->name ? ":" : "+:", list, NULL);
        if (answer == -1)
            break;
        const enum parsed parsed = take_answer(command, answer, argv, settings, seen);
        if (parsed != PARSED)
            return parsed;
    }
    *operand = optind;
    return PARSED;
}
