/* `yoke audit verify`. */
#ifndef AUDIT_VERIFY_H
#define AUDIT_VERIFY_H

#include <stdbool.h>

/*
 * Let the service verify the trail; with against, compare it with the checkpoints in that file; with key,
 * they, and the trail, must be signed with it (trail_keys.h). Either may be NULL. An exit status.
 */
int audit_verify(bool programs, const char *against, const char *key, bool json);

#endif
