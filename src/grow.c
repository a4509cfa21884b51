#include "grow.h"

#include <stdlib.h>
#include <string.h>

void *lds_grow(void *list, size_t *count, size_t size)
{
    char *grown = realloc(list, (*count + 1) * size);
    if (grown)
        memset(grown + (*count)++ * size, 0, size);
    return grown;
}
