#include "grow.h"

#include <stdlib.h>
#include <string.h>

bool lds_resize(void *list, size_t count, size_t size)
{
    void *old;
    memcpy(&old, list, sizeof old); /* a T *, whatever T is */
    void *grown = realloc(old, count * size);
    if (grown)
        memcpy(list, &grown, sizeof grown);
    return grown != NULL;
}

void *lds_grow(void *list, size_t *count, size_t size)
{
    char *elements;
    if (!lds_resize(list, *count + 1, size))
        return NULL;
    memcpy(&elements, list, sizeof elements);
    return memset(elements + (*count)++ * size, 0, size);
}
