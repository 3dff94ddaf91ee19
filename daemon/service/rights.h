/*
 * Who asks, and whether he may. Persons are what the kernel says: the other side of the socket, the
 * owner of a file. Root and the service's own user have every duty, since both can change the
 * configuration and the vault; as several people stand behind each, neither is a person whom one
 * could tell from another.
 */
#ifndef RIGHTS_H
#define RIGHTS_H

#include "inside.h"

enum { RIGHTS_NAME = 160 };

/* The owner of a file in words: "anna (uid 1002)", "uid 4711, no such user", "somebody through
 * office server (account smb, uid 990)". */
void rights_owner(const struct service *s, uid_t uid, char out[RIGHTS_NAME]);

/*
 * Which one person who is, as an event names him: true and *uid. False, and why: it may be several, or
 * nobody knows.
 */
bool rights_person(
    const struct service *s, const char *who, uid_t *uid, const char **why);

/* Whether the owner of a file, as an event names him, has this duty by the groups of his account. */
bool rights_owner_has(const struct service *s, const char *who, enum duty duty);

/*
 * Whether a call from a machine's keyboard may ask for this: by the groups of the login that its badge
 * names (NULL: without a badge), where the duty is given to groups at all. On false why says it.
 */
bool rights_call(const struct service *s, const char *login, enum duty duty, char *why, size_t n);

/* Whether whoever asks has this duty. */
bool rights_has(const struct service *s, const struct api_who *who, enum duty duty);

/* Every verb of the API: who asks is named, and refused with an event, or answered by the verb's own
 * function. */
extern api_fn *const rights_answers[API_COUNT];

/* Let bytes be taken from those only who may ask for it: api_take's. */
bool rights_may_upload(void *service, const struct api_who *who);

#endif
