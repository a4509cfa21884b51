/* Series of a saved result. */
#ifndef LDS_SAVED_SERIES_H
#define LDS_SAVED_SERIES_H

#include "loadside/series.h"
#include "saved/parts.h"

/* Where series are read into. */
struct lds_saved_list {
    struct lds_series **series;
    size_t *count;
    bool calibrated;
};

/* Adds the lists of lines in the object of a channel, all of which must be there; or the curves and series over an axis
 * of a channel or pair, which are optional. */
void lds_saved_lines(struct lds_saved_reader *reader, const json_t *object, const struct lds_saved_list *list);
void lds_saved_curves(struct lds_saved_reader *reader, const json_t *object, const struct lds_saved_list *list);

#endif
