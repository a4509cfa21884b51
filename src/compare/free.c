#include <stdlib.h>

#include "loadside/compare.h"
#include "record/record.h"

static void free_texts(char **text, size_t count)
{
    for (size_t i = 0; text && i < count; i++)
        free(text[i]);
    free(text);
}

static void free_channel(struct lds_compared_channel *channel)
{
    free(channel->name);
    for (size_t i = 0; i < channel->changes; i++)
        free(channel->change[i].key);
    for (size_t i = 0; i < channel->limits; i++) {
        free(channel->limit[i].key);
        free(channel->limit[i].reason);
    }
    free(channel->change);
    free(channel->limit);
    free(channel->line);
    for (size_t i = 0; i < channel->axes; i++) {
        free(channel->axis[i].point);
        free(channel->axis[i].region);
    }
    free(channel->axis);
    lds_absents_free(channel->not_compared_why, channel->not_compared);
    free_texts(channel->hint, channel->hints);
}

void lds_comparison_free(struct lds_comparison *comparison)
{
    if (!comparison)
        return;
    for (size_t c = 0; c < comparison->channels; c++)
        free_channel(&comparison->channel[c]);
    free(comparison->channel);
    free_texts(comparison->before_file, comparison->before_files);
    free_texts(comparison->after_file, comparison->after_files);
    free_texts(comparison->note, comparison->notes);
    *comparison = (struct lds_comparison){0};
}

void lds_unit_tables_free(struct lds_unit_table *table, size_t tables)
{
    for (size_t t = 0; table && t < tables; t++) {
        for (size_t i = 0; i < table[t].rows; i++) {
            struct lds_unit_row *row = &table[t].row[i];
            free(row->key);
            free(row->value);
            free(row->low);
            free(row->high);
        }
        free(table[t].row);
        free_texts(table[t].name, table[t].units);
        lds_absents_free(table[t].not_compared_why, table[t].not_compared);
        free_texts(table[t].note, table[t].notes);
        free(table[t].summary);
        free(table[t].channel_name);
    }
    free(table);
}
