/* Memory for large arrays that are filled from one end to the other. */
#ifndef LDS_LARGE_H
#define LDS_LARGE_H

#include <stddef.h>

/* As malloc; where the system can, in large pages, which take less time to get than many small ones. */
void *lds_large(size_t bytes);

#endif
