/* One piece of memory for all the arrays of a channel, on huge pages where the system has them: the pass goes through
 * megabytes at every step, and small pages cost a quarter of its time in page faults and table look-ups. */
#ifndef LDS_SPECTRUM_STORE_H
#define LDS_SPECTRUM_STORE_H

#include <stddef.h>

struct lds_store {
    char *memory;
    size_t size, used;
};

/* Room for `size` bytes, zeroed. If it fails, the store is empty and lds_store_take returns NULL. */
void lds_store_init(struct lds_store *store, size_t size);
/* The next bytes of the store, aligned for any vector; NULL when there is no room. They live as long as the store. */
void *lds_store_take(struct lds_store *store, size_t bytes);
void lds_store_free(struct lds_store *store);
/* What lds_store_take uses for this many bytes. */
size_t lds_store_room(size_t bytes);

#endif
