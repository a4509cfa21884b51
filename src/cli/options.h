/* Options as tables: a row says how an option is written, what it takes and where its value goes. */
#ifndef CLI_OPTIONS_H
#define CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/loadside.h"

enum option_kind {
    OPTION_HELP,       /* parsing ends here and reports it */
    OPTION_SWITCH,     /* bool */
    OPTION_FILE,       /* const char * */
    OPTION_FOLDER,     /* const char * */
    OPTION_WORD,       /* const char *, one of words */
    OPTION_QUANTITY,   /* double, least..most in unit */
    OPTION_QUANTITIES, /* struct quantity_list, each least..most in unit; may be repeated */
    OPTION_TOLERANCES, /* struct tolerance_list, "NAME=P%"; may be repeated */
    OPTION_WHOLE,      /* int, least..most */
    OPTION_WHOLES,     /* struct whole_list, "1" or "1,3", each least..most; may be repeated */
    OPTION_PAIRS,      /* struct pair_list, "1-2" or "1-3,2-4", each number least..most; may be repeated */
    OPTION_BAND,       /* struct band_list; may be repeated */
    OPTION_FILES,      /* struct file_list; may be repeated */
    OPTION_FAMILIES,   /* struct family_list, each least..most dB; may be repeated */
    OPTION_LOADS,      /* struct load_list, "8,1M", "8:1%,open" */
};

struct band_list {
    struct lds_band band[LDS_BANDS_MAX];
    size_t count;
};

enum { QUANTITIES_MAX = 16, TOLERANCES_MAX = 32 };

struct quantity_list {
    double value[QUANTITIES_MAX];
    size_t count;
};

struct tolerance_list {
    struct {
        char name[32];
        double percent;
    } of[TOLERANCES_MAX];
    size_t count;
};

struct whole_list {
    int value[LDS_CHANNELS_MAX];
    size_t count;
};

struct pair_list {
    int pair[LDS_PAIRS_MAX][2];
    size_t count;
};

struct load_list {
    struct lds_load load[2]; /* ohm NAN: not given */
};

enum { FILES_MAX = 256 };

struct file_list {
    const char *path[FILES_MAX];
    size_t count;
};

struct family_list {
    double db[LDS_FAMILIES]; /* NAN: not given */
    bool none;               /* the word of the row, for all families */
};

struct option_row {
    const char *name;     /* without the dashes; NULL ends the table */
    const char *argument; /* "FILE"; NULL: takes none */
    enum option_kind kind;
    size_t place;             /* offsetof the value in the command's settings */
    const char *unit;         /* OPTION_QUANTITY: "V", "ohm", "Hz", or "" */
    double least, most;       /* OPTION_QUANTITY, OPTION_WHOLE, OPTION_WHOLES, OPTION_PAIRS, OPTION_FAMILIES */
    const char *const *words; /* OPTION_WORD: NULL at the end; OPTION_FAMILIES: the one for all families */
    const char *example;      /* a value as people would write it; for errors and the manual */
    const char *group;        /* heading of this row and the following ones; NULL: as for the previous row */
    const char *help;         /* a phrase, without a full stop */
    bool hidden;              /* not for users; build steps use it */
};

/* The fields of a row, by what the option takes. at: offset of its value in the settings. */
#define OPTION_FIELDS(option, takes, of_kind, at, text)                                                                \
    .name = option, .argument = takes, .kind = of_kind, .place = at, .help = text
#define OPTION_RANGE(from, to) .least = from, .most = to
#define HELP_OPTION OPTION_FIELDS("help", NULL, OPTION_HELP, 0, "print this help")
#define SWITCH_OPTION(option, at, text) OPTION_FIELDS(option, NULL, OPTION_SWITCH, at, text)
#define FILE_OPTION(option, takes, at, sample, text)                                                                   \
    OPTION_FIELDS(option, takes, OPTION_FILE, at, text), .example = sample
#define FILES_OPTION(option, at, sample, text) OPTION_FIELDS(option, "FILE", OPTION_FILES, at, text), .example = sample
#define FOLDER_OPTION(option, at, sample, text) OPTION_FIELDS(option, "DIR", OPTION_FOLDER, at, text), .example = sample
#define WORD_OPTION(option, takes, at, list, sample, text)                                                             \
    OPTION_FIELDS(option, takes, OPTION_WORD, at, text), .words = list, .example = sample
#define QUANTITY_OPTION(option, takes, at, in, from, to, sample, text)                                                 \
    OPTION_FIELDS(option, takes, OPTION_QUANTITY, at, text), .unit = in, OPTION_RANGE(from, to), .example = sample
#define QUANTITIES_OPTION(option, takes, at, in, from, to, sample, text)                                               \
    OPTION_FIELDS(option, takes, OPTION_QUANTITIES, at, text), .unit = in, OPTION_RANGE(from, to), .example = sample
#define WHOLE_OPTION(option, at, to, sample, text)                                                                     \
    OPTION_FIELDS(option, "N", OPTION_WHOLE, at, text), OPTION_RANGE(1, to), .example = sample
#define BAND_OPTION(option, at, sample, text) OPTION_FIELDS(option, "LO-HI", OPTION_BAND, at, text), .example = sample
#define FAMILIES_OPTION(option, at, from, to, sample, text)                                                            \
    OPTION_FIELDS(option, "FAMILY=DB", OPTION_FAMILIES, at, text), OPTION_RANGE(from, to), .example = sample

enum parsed { PARSED, PARSED_HELP, PARSED_BAD };

struct command;

/* The command's option with this number, from 0, or NULL after the last. */
const struct option_row *option_at(const struct command *command, size_t number);

/* Reads argv into settings by the command's tables; what is not given is 0, a quantity NAN. On PARSED *operand is the
 * index of the first operand; operands of a command are moved to the end of argv, those of the program itself stay, as
 * they belong to the command, which is named first. On PARSED_BAD the error has been printed. */
enum parsed options_parse(const struct command *command, int argc, char **argv, void *settings, int *operand);

/* Whether an option of this kind may be repeated. */
bool option_repeats(enum option_kind kind);

/* "level", "noise", ...: the families that have a word, NULL at the end; family_of_word is the family of each. */
extern const char *const family_words[];
extern const enum lds_family family_of_word[];

/* "the words expected of a value": "a value from 8 kHz to 10 MHz", "one of s8, u8"; for errors and help. */
void option_expects(const struct option_row *row, char *text, size_t size);

#endif
