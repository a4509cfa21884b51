#include "spectrum/store.h"

#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

enum { ALIGNMENT = 64, HUGE_PAGE = 2 << 20 };

size_t lds_store_room(size_t bytes)
{
    return (bytes + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
}

void lds_store_init(struct lds_store *store, size_t size)
{
    size_t whole = (size + HUGE_PAGE - 1) / HUGE_PAGE * HUGE_PAGE;
    *store = (struct lds_store){.memory = aligned_alloc(HUGE_PAGE, whole), .size = size};
    if (!store->memory) {
        store->size = 0;
        return;
    }
    (void)madvise(store->memory, whole, MADV_HUGEPAGE); /* a system without them is only slower */
    memset(store->memory, 0, size);
}

void *lds_store_take(struct lds_store *store, size_t bytes)
{
    size_t room = lds_store_room(bytes);
    if (room > store->size - store->used)
        return NULL;
    void *taken = store->memory + store->used;
    store->used += room;
    return taken;
}

void lds_store_free(struct lds_store *store)
{
    free(store->memory);
    *store = (struct lds_store){0};
}
