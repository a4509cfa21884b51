/* Notes that memory ran out. Texts and pages are put together in many small steps, and each would have to pass on that
 * it found no memory. Instead a step notes it here, for its thread, and whoever finishes the whole checks it. */
#ifndef LDS_SCARCE_H
#define LDS_SCARCE_H

#include <stdbool.h>

void lds_scarce_note(void);

/* Whether memory ran out since the last call. */
bool lds_scarce_take(void);

#endif
