#include "spectrum/store.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

enum { ALIGNMENT = 64, HUGE_PAGE = 2 << 20 };

size_t lds_store_room(size_t bytes)
{
    return (bytes + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
}

void lds_store_init(struct lds_store *store, size_t size)
{
    size_t alignment = size < HUGE_PAGE ? ALIGNMENT : HUGE_PAGE;
    *store = (struct lds_store){.allocated = calloc(1, size + alignment)};
    if (!store->allocated)
        return;
    store->size = size;
    store->memory = store->allocated + (alignment - (uintptr_t)store->allocated % alignment);
    if (alignment == HUGE_PAGE) /* a system without them is only slower */
        (void)madvise(store->memory, size / HUGE_PAGE * HUGE_PAGE, MADV_HUGEPAGE);
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
    free(store->allocated);
    *store = (struct lds_store){0};
}
