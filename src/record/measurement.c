#include "loadside/measurement.h"

#include <stdlib.h>
#include <string.h>

#include "record/record.h"
#include "record/series.h"

static void free_figures(struct lds_figure *figure, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(figure[i].key);
        free(figure[i].other);
    }
    free(figure);
}

static void free_channel(struct lds_channel *channel)
{
    free(channel->name);
    free_figures(channel->figure, channel->figures);
    lds_absents_free(channel->absent, channel->absents);
    free(channel->problem);
    lds_series_free(channel->series, channel->series_count);
}

void lds_measurement_free(struct lds_measurement *measurement)
{
    if (!measurement)
        return;
    for (size_t i = 0; i < measurement->channels; i++)
        free_channel(&measurement->channel[i]);
    free(measurement->channel);
    for (size_t i = 0; i < measurement->pairs; i++) {
        free_figures(measurement->pair[i].figure, measurement->pair[i].figures);
        lds_absents_free(measurement->pair[i].absent, measurement->pair[i].absents);
        lds_series_free(measurement->pair[i].series, measurement->pair[i].series_count);
    }
    free(measurement->pair);
    free(measurement->file);
    lds_bench_free(&measurement->bench);
    *measurement = (struct lds_measurement){0};
}

static const struct lds_figure *find_figure(const struct lds_figure *figure, size_t count, const char *key)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(figure[i].key, key) == 0)
            return &figure[i];
    return NULL;
}

const struct lds_figure *lds_channel_figure(const struct lds_channel *channel, const char *key)
{
    return find_figure(channel->figure, channel->figures, key);
}

const struct lds_figure *lds_pair_figure(const struct lds_pair *pair, const char *key)
{
    return find_figure(pair->figure, pair->figures, key);
}

static const struct lds_figure *find_id(const struct lds_figure *figure, size_t count, enum lds_figure_id id)
{
    for (size_t i = 0; i < count; i++)
        if (lds_figure_is(&figure[i].name, id))
            return &figure[i];
    return NULL;
}

const struct lds_figure *lds_channel_find(const struct lds_channel *channel, enum lds_figure_id id)
{
    return find_id(channel->figure, channel->figures, id);
}

const struct lds_figure *lds_pair_find(const struct lds_pair *pair, enum lds_figure_id id)
{
    return find_id(pair->figure, pair->figures, id);
}

const struct lds_problem *lds_channel_problem(const struct lds_channel *channel, const char *kind)
{
    for (size_t i = 0; i < channel->problems; i++)
        if (strcmp(channel->problem[i].kind, kind) == 0)
            return &channel->problem[i];
    return NULL;
}

const char *lds_channel_absent(const struct lds_channel *channel, const char *key)
{
    for (size_t i = 0; i < channel->absents; i++)
        if (strcmp(channel->absent[i].key, key) == 0)
            return channel->absent[i].reason;
    return NULL;
}
