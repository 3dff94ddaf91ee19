/* The rungs of the run that is shown, for those who draw or list them: yoke/pair.h. */
#ifndef PAIR_RUNGS_H
#define PAIR_RUNGS_H

#include "program_state.h"
#include "wait.h"

/* How people write the code: "M203", "MEET 7". */
void pair_rungs_code(
    const struct profile *profile, const struct wait_code *code, char *s, size_t size);

/* The file that a place in this program names: its own or a sister's. */
const char *pair_rungs_file(const struct program *p, uint32_t file);

#endif
