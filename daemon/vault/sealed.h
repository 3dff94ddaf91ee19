/* The trail's keys and checkpoints as their tables have them. Inside the vault only. */
#ifndef VAULT_SEALED_H
#define VAULT_SEALED_H

#include "db.h"
#include "vault_seal.h"

/* As vault_key. */
int sealed_key(struct vault *v, struct note_key *out);

/* The note and checkpoint in n bytes: false when they are none. note may be NULL. */
bool sealed_read(const char *s, size_t n, struct note *note, struct checkpoint *out);

#endif
