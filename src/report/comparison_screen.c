/* A comparison on one screen: what changed in a sentence or two, the figures that carry it, limits, reservations. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "loadside/answer.h"
#include "loadside/report.h"
#include "report/change_line.h"
#include "report/comparison_cells.h"
#include "report/comparison_text.h"
#include "report/page.h"
#include "report/screen.h"
#include "report/text.h"
#include "scarce.h"

static const struct lds_change_columns columns = {35, 9, 4, 4, 8, LDS_CHANGE_VALUES};

struct comparison_screen {
    FILE *out;
    const struct lds_comparison *comparison;
    const struct lds_answer *answer;
    bool keys;
};

/* Change and interval; in dB to 0.01 at the finest. */
static struct lds_change_cells cells_of(const struct lds_change *change)
{
    struct lds_change_cells cells = lds_change_cells(change);
    if (strcmp(change->unit, "dB") != 0 || change->at_least || !isfinite(change->change))
        return cells;
    const struct lds_reading db = lds_screen_decibels(change->change, change->low, change->high, "");
    snprintf(cells.number, sizeof cells.number, "%s", db.value);
    snprintf(cells.interval, sizeof cells.interval, "%s", db.interval);
    return cells;
}

static void print_change(const struct comparison_screen *screen, const struct lds_change *change)
{
    const struct lds_change_cells cells = cells_of(change);
    lds_change_line_print(screen->out, &columns,
                          &(struct lds_change_line){screen->keys ? change->key : cells.label.text,
                                                    lds_word_short(change->word), cells.number, cells.interval,
                                                    cells.values, strcmp(change->unit, "dB") == 0 ? "dB" : ""});
}

static void print_heading(FILE *out, const struct lds_compared_channel *channel)
{
    char *safe = lds_words_escape(lds_channel_title(channel->name, channel->channel).text);
    fputc('\n', out);
    lds_change_line_heading(out, &columns, safe ? safe : "", "change, dB");
    free(safe);
}

static void print_table(const struct comparison_screen *screen, const struct lds_compared_channel *channel)
{
    bool any = false;
    for (size_t i = 0; i < screen->answer->figures; i++) {
        const struct lds_answer_figure *figure = &screen->answer->figure[i];
        for (size_t c = 0; c < figure->channels; c++)
            if (figure->channel[c] == channel->channel) {
                if (!any)
                    print_heading(screen->out, channel);
                print_change(screen, figure->change[c]);
                any = true;
            }
    }
}

/* ---- what is said once ---- */

static bool is_untold(const struct lds_change *change)
{
    enum lds_change_group group = lds_change_group_of(change);
    return group >= LDS_CHANGES_LONGER && group <= LDS_CHANGES_CHAIN;
}

/* Why nothing can be said, and what would decide it. */
static struct lds_label reason_of(const struct lds_change *change)
{
    const struct lds_short advice = lds_change_advice(change);
    return lds_label("%s", advice.text[0] ? advice.text : lds_change_group_advice(lds_change_group_of(change), 1));
}

/* A figure about which nothing can be said, and why; the list has those of all channels one after the other. */
struct untold {
    const struct lds_compared_channel *channel;
    const struct lds_change *change;
    struct lds_label reason;
};

static struct untold *gather_untold(const struct lds_comparison *comparison, size_t *count)
{
    struct untold *untold = NULL;
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].changes; i++) {
            const struct lds_change *change = &comparison->channel[c].change[i];
            struct untold *one = is_untold(change) ? lds_grow(&untold, count, sizeof *one) : NULL;
            if (one)
                *one = (struct untold){&comparison->channel[c], change, reason_of(change)};
            else if (is_untold(change))
                lds_scarce_note();
        }
    return untold;
}

/* "Cannot be told: noise density at 1 kHz (right): captures of 11 s would settle it.", once for each reason. */
static void print_untold(FILE *out, const struct lds_comparison *comparison)
{
    size_t count = 0;
    struct untold *untold = gather_untold(comparison, &count);
    struct lds_scrap scrap;
    for (size_t i = 0; i < count; i++) {
        if (!untold[i].change || !lds_scrap_open(&scrap))
            continue;
        fputs("Cannot be told: ", scrap.out);
        for (size_t k = i; k < count; k++) {
            if (!untold[k].change || strcmp(untold[k].reason.text, untold[i].reason.text) != 0)
                continue;
            fprintf(scrap.out, "%s%s", k > i ? "; " : "",
                    lds_named_label(untold[k].change->key, NULL, untold[k].change->channel_name).text);
            if (comparison->channels > 1)
                fprintf(scrap.out, " (%s)",
                        lds_channel_words(untold[k].channel->name, untold[k].channel->channel).text);
            untold[k].change = k > i ? NULL : untold[k].change; /* said */
        }
        fprintf(scrap.out, ": %s.", untold[i].reason.text);
        lds_text_scrap_print(&scrap, out, 2, 2);
    }
    free(untold);
}

static void print_limits(FILE *out, const struct lds_comparison *comparison)
{
    size_t count[LDS_LIMIT_RESULTS];
    lds_comparison_limits(comparison, count);
    if (count[LDS_WITHIN] + count[LDS_OVER] + count[LDS_NOT_SHOWN] == 0)
        return;
    fprintf(out, "\nLimits: %zu met, %zu exceeded, %zu not shown either way.\n", count[LDS_WITHIN], count[LDS_OVER],
            count[LDS_NOT_SHOWN]);
    for (size_t c = 0; c < comparison->channels; c++)
        for (size_t i = 0; i < comparison->channel[c].limits; i++) {
            const struct lds_compared_channel *channel = &comparison->channel[c];
            if (channel->limit[i].result == LDS_WITHIN)
                continue;
            struct lds_limit_cells cells = lds_limit_cells(channel, &channel->limit[i]);
            lds_page_paragraph(out, 2, 2, "%s (%s): %s: %s; limit %s %s",
                               channel->limit[i].result == LDS_OVER ? "Exceeded" : "Not shown",
                               lds_channel_words(channel->name, channel->channel).text, cells.label.text,
                               cells.found.text[0] ? cells.found.text : "not known", cells.kind, cells.bound.text);
        }
}

static size_t count_not_compared(const struct lds_comparison *comparison)
{
    size_t count = 0;
    for (size_t c = 0; c < comparison->channels; c++)
        count += comparison->channel[c].not_compared;
    return count;
}

/* How many judged figures are not in the table. */
static size_t count_others(const struct comparison_screen *screen)
{
    size_t judged = 0, shown = 0;
    for (size_t c = 0; c < screen->comparison->channels; c++)
        for (size_t i = 0; i < screen->comparison->channel[c].changes; i++)
            judged += screen->comparison->channel[c].change[i].judged;
    for (size_t i = 0; i < screen->answer->figures; i++)
        shown += screen->answer->figure[i].channels;
    return judged > shown ? judged - shown : 0;
}

static void print_screen(const struct comparison_screen *screen)
{
    const struct lds_comparison *comparison = screen->comparison;
    FILE *out = screen->out;
    lds_text_verdicts(out, comparison, screen->answer);
    fputc('\n', out);
    lds_text_sides(out, comparison);
    for (size_t c = 0; c < comparison->channels; c++)
        print_table(screen, &comparison->channel[c]);
    print_limits(out, comparison);
    size_t others = count_others(screen);
    fputc('\n', out);
    print_untold(out, comparison);
    size_t not_compared = count_not_compared(comparison);
    if (others > 0)
        lds_page_paragraph(out, 2, 2, "%zu more figure%s compared, and every single line: --full prints them.", others,
                           others == 1 ? " was" : "s were");
    if (not_compared > 0)
        lds_page_paragraph(out, 2, 2, "%zu figure%s not be compared: --full says why.", not_compared,
                           not_compared == 1 ? " could" : "s could");
    for (size_t i = 0; i < comparison->notes; i++)
        lds_page_paragraph(out, 2, 2, "Note: %s.", comparison->note[i]);
}

enum lds_status lds_comparison_screen(const struct lds_comparison *comparison, unsigned options, FILE *out,
                                      struct lds_error *error)
{
    const struct lds_answer_group group = {.comparison = comparison};
    struct lds_answer answer;
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (lds_answer_make(&answer, &group, 1, NULL) != LDS_OK)
        lds_scarce_note();
    else if (text)
        print_screen(&(struct comparison_screen){text, comparison, &answer, (options & LDS_SCREEN_KEYS) != 0});
    lds_answer_free(&answer);
    return lds_text_finish(&page, out, error);
}
