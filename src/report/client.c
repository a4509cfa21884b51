#include "report/client.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/words.h"
#include "scarce.h"
#include "scrap.h"

/* A group of the job as a part of the answer; the title is made here. */
struct parts {
    size_t count;
    struct lds_answer_group *group;
    char (*title)[48];
};

/* The capture of the sheet that a measurement of the job belongs to. */
static const struct lds_sheet_capture *capture_of(const struct lds_job *job, const struct lds_measurement *measurement)
{
    return &job->sheet->capture[measurement - job->measurement];
}

/* "10 W"; "10 W, 6 kHz" where the title of the group also names the tone. */
static const char *make_title(const struct lds_job *job, const struct lds_job_group *group, char *title, size_t size)
{
    const struct lds_sheet_capture *capture = capture_of(job, group->after_capture[0]);
    const char *words = strchr(group->title, ',');
    if (!capture->role->power || !words)
        return NULL;
    snprintf(title, size, "%s", words + 2);
    return title;
}

static void add_parts(struct parts *parts, const struct lds_job *job, bool leads)
{
    for (size_t i = 0; i < job->groups; i++) {
        const struct lds_job_group *group = &job->group[i];
        const struct lds_role *role = group->compared ? capture_of(job, group->after_capture[0])->role : NULL;
        if (!role || role->leads != leads)
            continue;
        struct lds_answer_group *part = &parts->group[parts->count];
        part->comparison = &group->comparison;
        part->title = make_title(job, group, parts->title[parts->count], sizeof parts->title[0]);
        part->name = group->title;
        part->idle = role->holds == LDS_SIGNAL_SILENCE;
        parts->count++;
    }
}

/* Of groups that would do equally well the first counts: roles that stand for their signal come first. */
static bool make_parts(struct parts *parts, const struct lds_job *job)
{
    *parts = (struct parts){.group = calloc(job->groups + 1, sizeof *parts->group),
                            .title = calloc(job->groups + 1, sizeof *parts->title)};
    if (!parts->group || !parts->title)
        return false;
    add_parts(parts, job, true);
    add_parts(parts, job, false);
    return true;
}

static void put_heading(struct lds_client *client, const struct lds_job *job)
{
    const struct lds_sheet *sheet = job->sheet;
    const char *make = sheet->make ? sheet->make : "", *type = sheet->type ? sheet->type : "";
    struct lds_scrap about;
    client->heading = lds_made("%s%s%s%s%s", make[0] || type[0] ? make : "Amplifier", make[0] && type[0] ? " " : "",
                               type, sheet->serial ? ", serial " : "", sheet->serial ? sheet->serial : "");
    if (!lds_scrap_open(&about))
        return;
    const char *between = "";
    if (sheet->client) {
        fprintf(about.out, "for %s", sheet->client);
        between = ", ";
    }
    const struct lds_short date = lds_date_words(job->date);
    if (date.text[0])
        fprintf(about.out, "%s%s", between, date.text);
    client->about = lds_scrap_close(&about) ? about.text : NULL;
}

static void put_done(struct lds_client *client, const struct lds_sheet *sheet)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    for (const char *c = sheet->work ? sheet->work : "The sheet does not say what was done."; *c; c++)
        fputc(*c == '\n' ? ' ' : *c, scrap.out);
    client->done = lds_scrap_close(&scrap) ? scrap.text : NULL;
}

void lds_client_make(struct lds_client *client, const struct lds_job *job)
{
    struct parts parts;
    struct lds_answer answer = {0};
    *client = (struct lds_client){0};
    put_heading(client, job);
    put_done(client, job->sheet);
    bool enough = make_parts(&parts, job);
    client->compared = parts.count > 0;
    if (enough && client->compared) {
        enough = lds_answer_make(&answer, parts.group, parts.count, NULL) == LDS_OK;
        lds_client_rows(client, &answer);
        client->verdict = answer.verdict;
        answer.verdict = NULL;
    } else if (enough) {
        lds_client_measured(client, job);
    }
    lds_client_words(client, job);
    if (!enough)
        lds_scarce_note();
    lds_answer_free(&answer);
    free(parts.group);
    free(parts.title);
}

void lds_client_free(struct lds_client *client)
{
    char *const texts[] = {client->heading, client->about,  client->verdict, client->done, client->limits,
                           client->power,   client->beware, client->sure,    client->by};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        free(texts[i]);
    *client = (struct lds_client){0};
}
