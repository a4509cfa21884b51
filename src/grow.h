/* One more element at the end of a list on the heap. */
#ifndef LDS_GROW_H
#define LDS_GROW_H

#include <stddef.h>

/* Grows a list of *count elements of `size` by one element of zeros and counts it. The list may be NULL when *count is
 * 0. NULL: no memory; list and *count are then as they were. */
void *lds_grow(void *list, size_t *count, size_t size);

#endif
