#include "loadside/loadside.h"

const char *lds_version(void)
{
    return LOADSIDE_VERSION;
}
