/* Adds elements to the end of a list on the heap. */
#ifndef LDS_GROW_H
#define LDS_GROW_H

#include <stdbool.h>
#include <stddef.h>

/* Adds one element of `size` bytes, all zero, to a list: `T *one = lds_grow(&list, &count, sizeof *one)`. list: address
 * of the pointer to the list, which is NULL while count is 0. NULL: no memory; list and count are as they were. */
void *lds_grow(void *list, size_t *count, size_t size);

/* Makes room for `count` elements in a list that grows by more than one at a time. false: no memory; the list is
 * unchanged. */
bool lds_resize(void *list, size_t count, size_t size);

#endif
