#include "large.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

void *lds_large(size_t bytes)
{
    enum { PAGE = 1 << 21 };
    void *memory = malloc(bytes);
#ifdef MADV_HUGEPAGE
    const size_t skipped = memory ? (PAGE - (uintptr_t)memory % PAGE) % PAGE : 0;
    if (memory && bytes >= skipped + PAGE) /* the system is free to ignore it */
        (void)madvise((char *)memory + skipped, (bytes - skipped) / PAGE * PAGE, MADV_HUGEPAGE);
#endif
    return memory;
}
