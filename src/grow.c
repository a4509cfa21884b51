#include "grow.h"

#include <stdlib.h>
#include <string.h>

void *lds_grow(void *list, size_t *count, size_t size)
{
    void *old;
    memcpy(&old, list, sizeof old); /* a T *, whatever T is */
    char *grown = realloc(old, (*count + 1) * size);
    if (!grown)
        return NULL;
    memcpy(list, &grown, sizeof grown);
    return memset(grown + (*count)++ * size, 0, size);
}
