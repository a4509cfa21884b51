/* Series of a saved result. */
#ifndef LDS_REPORT_SAVED_SERIES_H
#define LDS_REPORT_SAVED_SERIES_H

#include "loadside/series.h"
#include "report/saved_parts.h"

/* Adds the series that stand in the object of a channel. */
void lds_saved_series(struct lds_saved_reader *reader, const json_t *object, struct lds_channel *channel);

#endif
