/* Memory that runs out at a chosen allocation. The test must be linked with -Wl,--wrap for malloc,
 * calloc, realloc, reallocarray and strdup. */
#ifndef SCARCE_H
#define SCARCE_H

#include <stdbool.h>

/* From now on so many allocations succeed; then all fail, or just one. Negative: none fails. */
void scarce_after(long allocations, bool once);
/* Has one failed since? */
bool scarce_struck(void);

#endif
