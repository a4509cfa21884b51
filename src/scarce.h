/* Memory that ran out on the way. Words and pages are put together in many small steps, each of which would have to
 * hand on that it found no memory; a step notes it here instead, for its thread, and whoever finishes the whole looks.
 */
#ifndef LDS_SCARCE_H
#define LDS_SCARCE_H

#include <stdbool.h>

void lds_scarce_note(void);

/* Whether memory ran out since this was last asked. */
bool lds_scarce_take(void);

#endif
