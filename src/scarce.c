#include "scarce.h"

static _Thread_local bool ran_out;

void lds_scarce_note(void)
{
    ran_out = true;
}

bool lds_scarce_take(void)
{
    bool did = ran_out;
    ran_out = false;
    return did;
}
