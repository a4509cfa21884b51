/* Making the series of the record. */
#ifndef LDS_RECORD_SERIES_H
#define LDS_RECORD_SERIES_H

#include "loadside/series.h"

/* Appends a series without rows to a list. NULL: no memory, or the table has no such key. The pointer is valid until
 * the next append. */
struct lds_series *lds_series_add(struct lds_series **list, size_t *count, const char *key);
struct lds_series *lds_channel_add_series(struct lds_channel *channel, const char *key);
struct lds_series *lds_pair_add_series(struct lds_pair *pair, const char *key);

/* Appends a row: values in the order of the columns, limits unknown, no flags, no text. false: no memory. */
bool lds_series_add_row(struct lds_series *series, const double *value);

/* Changes a row; only a column with limits has limits to set. */
void lds_series_set(struct lds_series *series, size_t row, int column, double value);
void lds_series_set_limits(struct lds_series *series, size_t row, int column, double low, double high);

/* The series of that key, for changing it in place, or NULL. */
struct lds_series *lds_channel_own_series(struct lds_channel *channel, const char *key);

void lds_series_free(struct lds_series *series, size_t count);

#endif
