#include "ini_key.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "fail.h"
#include "loadside/quantity.h"

const struct lds_ini_key *lds_ini_key_find(const struct lds_ini_key *keys, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(keys[i].name, name) == 0)
            return &keys[i];
    return NULL;
}

static enum lds_status set_text(char **place, const char *value, struct lds_error *error)
{
    char *copy = strdup(value);
    if (!copy)
        return lds_fail_memory(error, "a text");
    free(*place);
    *place = copy;
    return LDS_OK;
}

static enum lds_status set_path(char **place, const char *value, struct lds_error *error)
{
    size_t length = strlen(value);
    enum lds_status status = set_text(place, value, error);
    if (status || length < 2 || value[0] != '"' || value[length - 1] != '"')
        return status;
    memmove(*place, value + 1, length - 2);
    (*place)[length - 2] = '\0';
    return LDS_OK;
}

static bool is_date(const char *text)
{
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    static const char form[] = "dddd-dd-dd";
    if (strlen(text) != strlen(form))
        return false;
    for (size_t i = 0; form[i]; i++)
        if (form[i] == 'd' ? !isdigit((unsigned char)text[i]) : text[i] != form[i])
            return false;
    int year, month, day;
    if (sscanf(text, "%4d-%2d-%2d", &year, &month, &day) != 3)
        return false;
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] - (month == 2 && !leap);
}

static enum lds_status set_quantity(const struct lds_ini_key *key, double *place, const char *text,
                                    struct lds_error *error)
{
    double value, minutes;
    const char *unit = key->unit, *blank = *unit ? " " : "";
    const bool read = lds_quantity_parse(text, unit, &value); /* a bare number is in the key's own unit */
    if (!read && strcmp(unit, "s") == 0 && lds_quantity_parse(text, "min", &minutes))
        value = 60.0 * minutes;
    else if (!read)
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; a number%s%s was expected", key->name, text,
                        *unit ? " in " : "", unit);
    if (!(key->above_low ? value > key->low : value >= key->low) || value > key->high)
        return lds_fail(error, LDS_BAD_USE, "%s is %.9g%s%s; %s %.9g and at most %.9g was expected", key->name, value,
                        blank, unit, key->above_low ? "more than" : "at least", key->low, key->high);
    *place = value;
    return LDS_OK;
}

static enum lds_status set_rails(const struct lds_ini_key *key, double *place, const char *text,
                                 struct lds_error *error)
{
    char first[64];
    double rail[2] = {NAN, NAN};
    const char *comma = strchr(text, ',');
    snprintf(first, sizeof first, "%.*s", comma ? (int)(comma - text) : (int)strlen(text), text);
    enum lds_status status = set_quantity(key, &rail[0], first, error);
    if (!status && comma)
        status = set_quantity(key, &rail[1], comma + 1, error);
    if (!status)
        memcpy(place, rail, sizeof rail);
    return status;
}

static enum lds_status set_whole(const struct lds_ini_key *key, int *place, const char *text, struct lds_error *error)
{
    double value;
    if (!lds_quantity_parse(text, "", &value) || value != floor(value) || value < key->low || value > key->high)
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; a whole number from %.0f to %.0f was expected", key->name,
                        text, key->low, key->high);
    *place = (int)value;
    return LDS_OK;
}

static enum lds_status set_yes_no(const struct lds_ini_key *key, bool *place, const char *text, struct lds_error *error)
{
    bool yes = !strcasecmp(text, "yes") || !strcasecmp(text, "true");
    if (!yes && strcasecmp(text, "no") != 0 && strcasecmp(text, "false") != 0)
        return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; yes or no was expected", key->name, text);
    *place = yes;
    return LDS_OK;
}

enum lds_status lds_ini_unknown(const char *what, const char *word, const char *const *words, size_t count,
                                const char *otherwise, struct lds_error *error)
{
    const char *near = lds_nearest(word, words, count);
    if (near)
        return lds_fail(error, LDS_BAD_USE, "%s '%.64s': is '%s' meant?", what, word, near);
    return lds_fail(error, LDS_BAD_USE, "%s '%.64s'; %s", what, word, otherwise);
}

void lds_ini_list(const char *const *words, size_t count, char *text, size_t size)
{
    int length = 0;
    *text = '\0';
    for (size_t i = 0; i < count; i++)
        length += snprintf(text + length, size - (size_t)length, "%s%s",
                           i == 0          ? ""
                           : i + 1 < count ? ", "
                                           : " or ",
                           words[i]);
}

static enum lds_status find_word(const struct lds_ini_key *key, int *place, const char *text, struct lds_error *error)
{
    const char *words[32], *word;
    size_t count = 0;
    for (int i = 0; count < sizeof words / sizeof *words && (word = key->word(i)) != NULL; i++) {
        if (strcmp(text, word) == 0) {
            *place = i;
            return LDS_OK;
        }
        if (*word) /* none: the default applies */
            words[count++] = word;
    }
    char what[80], list[480], expected[512];
    snprintf(what, sizeof what, "%s is", key->name);
    lds_ini_list(words, count, list, sizeof list);
    snprintf(expected, sizeof expected, "%s was expected", list);
    return lds_ini_unknown(what, text, words, count, expected, error);
}

static enum lds_status set_row(const struct lds_ini_key *key, void *place, const char *text, struct lds_error *error)
{
    int i;
    enum lds_status status = find_word(key, &i, text, error);
    if (status == LDS_OK) {
        const void *row = key->row(i);
        memcpy(place, &row, sizeof row); /* a const T *, whatever T is */
    }
    return status;
}

enum lds_status lds_ini_set(const struct lds_ini_key *key, void *base, const char *value, struct lds_error *error)
{
    void *place = (char *)base + key->offset;
    double *band = place;
    switch (key->kind) {
    case LDS_INI_DATE:
        if (!is_date(value))
            return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; year-month-day was expected, as in 2026-05-17",
                            key->name, value);
        return set_text(place, value, error);
    case LDS_INI_PATH:
        return set_path(place, value, error);
    case LDS_INI_TEXT:
    case LDS_INI_LINES:
        return set_text(place, value, error);
    case LDS_INI_QUANTITY:
        return set_quantity(key, place, value, error);
    case LDS_INI_WHOLE:
        return set_whole(key, place, value, error);
    case LDS_INI_BAND:
        if (!lds_band_parse(value, &band[0], &band[1]))
            return lds_fail(error, LDS_BAD_USE, "%s is '%.64s'; two frequencies were expected, as in 20 Hz - 20 kHz",
                            key->name, value);
        return LDS_OK;
    case LDS_INI_RAILS:
        return set_rails(key, place, value, error);
    case LDS_INI_YES_NO:
        return set_yes_no(key, place, value, error);
    case LDS_INI_WORD:
        return find_word(key, place, value, error);
    case LDS_INI_ROW:
        return set_row(key, place, value, error);
    case LDS_INI_OWN:
        break;
    }
    return LDS_BAD_USE;
}
