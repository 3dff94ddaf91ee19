/* The rungs of the run that is shown, for those who draw or list them: yoke/pair.h. */
#ifndef PAIR_RUNGS_H
#define PAIR_RUNGS_H

#include "wait.h"

/* How people write the code: "M203", "MEET 7". */
void pair_rungs_code(
    const struct profile *profile, const struct wait_code *code, char *s, size_t size);

#endif
