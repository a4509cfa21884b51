#include "spectrum/store.h"

#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

enum { ALIGNMENT = 64, HUGE_PAGE = 2 << 20 };

static size_t rounded_up(size_t bytes, size_t to)
{
    return (bytes + to - 1) / to * to;
}

size_t lds_store_room(size_t bytes)
{
    return rounded_up(bytes, ALIGNMENT);
}

void lds_store_init(struct lds_store *store, size_t size)
{
    const size_t page = size < HUGE_PAGE ? ALIGNMENT : HUGE_PAGE, whole = rounded_up(size, page);
    *store = (struct lds_store){.memory = aligned_alloc(page, whole)};
    if (!store->memory)
        return;
    store->size = size;
    if (page == HUGE_PAGE) /* a system without them is only slower */
        (void)madvise(store->memory, whole, MADV_HUGEPAGE);
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
