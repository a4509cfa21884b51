/* Whether the captures of a job are sound: each sentence once, with the recordings to which it applies. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "report/job_words.h"
#include "report/text.h"
#include "scarce.h"

/* A sentence about recordings, and those to which it applies. */
struct finding {
    char *sentence, *where;
    size_t count;
};

struct findings {
    struct finding *finding;
    size_t count, channels;
    char place[256]; /* the recording whose sentences are being collected */
};

static struct finding *finding_of(struct findings *findings, const char *sentence)
{
    for (size_t i = 0; i < findings->count; i++)
        if (strcmp(findings->finding[i].sentence, sentence) == 0)
            return &findings->finding[i];
    char *copy = strdup(sentence);
    struct finding *finding = copy ? lds_grow(&findings->finding, &findings->count, sizeof *finding) : NULL;
    if (finding)
        finding->sentence = copy;
    else
        free(copy);
    return finding;
}

static void hear(void *context, const char *sentence)
{
    struct findings *findings = context;
    struct finding *finding = finding_of(findings, sentence);
    if (!finding) {
        lds_scarce_note();
        return;
    }
    char *where = lds_made("%s%s%s", finding->where ? finding->where : "", finding->where ? "; " : "", findings->place);
    free(finding->where);
    finding->where = where;
    finding->count++;
}

static void hear_all(struct findings *findings, const struct lds_job *job)
{
    const struct lds_listener listener = {hear, findings};
    for (size_t i = 0; i < job->sheet->captures; i++)
        for (size_t c = 0; c < job->measurement[i].channels; c++) {
            const struct lds_channel *channel = &job->measurement[i].channel[c];
            snprintf(findings->place, sizeof findings->place, "%s, %s", job->sheet->capture[i].name,
                     lds_job_channel_words(job->sheet, channel->channel).text);
            findings->channels++;
            lds_trust_say(channel, &listener);
        }
}

void lds_job_words_sound(struct lds_job_words *words, const struct lds_job *job)
{
    struct findings findings = {0};
    hear_all(&findings, job);
    for (size_t i = 0; i < findings.count; i++) {
        struct finding *finding = &findings.finding[i];
        bool all = finding->count == findings.channels;
        lds_row_of_words(&words->sound, all || !finding->where ? "All" : finding->where, "%s", finding->sentence);
        free(finding->sentence);
        free(finding->where);
    }
    free(findings.finding);
}
