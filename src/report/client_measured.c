/* The table of the client's page when there is nothing to compare: it shows what was found. */
#include <math.h>
#include <string.h>

#include "report/client.h"
#include "report/screen.h"

static const struct lds_figure *find(const struct lds_channel *channel, const struct lds_key *row)
{
    for (size_t i = 0; i < channel->figures; i++)
        if (channel->figure[i].name.row == row &&
            (isfinite(channel->figure[i].value) || isfinite(channel->figure[i].high)))
            return &channel->figure[i];
    return NULL;
}

static const struct lds_measurement *capture_of_roles(const struct lds_job *job, const struct lds_key *row, bool leads)
{
    for (size_t i = 0; i < job->sheet->captures; i++) {
        const struct lds_role *role = job->sheet->capture[i].role;
        for (size_t c = 0; !role->chain && role->leads == leads && c < job->measurement[i].channels; c++)
            if (find(&job->measurement[i].channel[c], row))
                return &job->measurement[i];
    }
    return NULL;
}

/* The first capture that has the figure; of roles that stand for their signal, if there is one. */
static const struct lds_measurement *capture_with(const struct lds_job *job, const struct lds_key *row)
{
    const struct lds_measurement *leading = capture_of_roles(job, row, true);
    return leading ? leading : capture_of_roles(job, row, false);
}

static void add_row(struct lds_client *client, const struct lds_measurement *m, const struct lds_key *key)
{
    struct lds_client_row *row = &client->row[client->rows++];
    if (client->channels == 0)
        for (size_t c = 0; c < m->channels && c < LDS_CHANNELS_MAX; c++)
            client->channel[client->channels++] = m->channel[c].channel;
    for (size_t c = 0; c < m->channels; c++) {
        const struct lds_figure *figure = find(&m->channel[c], key);
        size_t place = 0;
        while (place < client->channels && client->channel[place] != m->channel[c].channel)
            place++;
        if (!figure || place == client->channels)
            continue;
        row->label = lds_client_label(figure->key, "");
        const struct lds_reading reading = lds_screen_number(figure->value, figure->low, figure->high, figure->unit);
        row->cell[place].after = lds_short("%.14s %.8s", reading.value, reading.unit);
    }
}

void lds_client_measured(struct lds_client *client, const struct lds_job *job)
{
    size_t keys, before = 0, after = 0;
    const struct lds_key *key = lds_keys(&keys);
    for (size_t i = 0; i < keys && client->rows < LDS_ANSWER_FIGURES; i++) {
        const struct lds_measurement *m =
            key[i].glance == LDS_GLANCE_NO || key[i].section == LDS_PAIR ? NULL : capture_with(job, &key[i]);
        if (m)
            add_row(client, m, &key[i]);
    }
    for (size_t i = 0; i < job->sheet->captures; i++) {
        before += job->sheet->capture[i].when == LDS_WHEN_BEFORE;
        after += job->sheet->capture[i].when == LDS_WHEN_AFTER;
    }
    const char *why = before > 0 && after == 0   ? "Captures from before the work; nothing is compared yet."
                      : after > 0 && before == 0 ? "Captures from after the work alone: nothing can be compared."
                      : before > 0               ? "No two captures of one kind are from before and after the work: "
                                                   "nothing can be compared."
                                                 : "These are the figures as measured; nothing is compared.";
    client->verdict = lds_made("%s", why);
}
