/* What is done to the vault while no service runs, for the person who asks for it. */
#ifndef SERVICE_MEND_H
#define SERVICE_MEND_H

#include <stdbool.h>

/* yoked --restore-vault and --repair-vault: says what came of it. The exit status: 0, or 1 failed. */
int mend_restore(const char *home, const char *file, bool set_aside);
int mend_repair(const char *home);

#endif
