/* After a back-up was brought back, or entries were lost. Inside the vault only. */
#ifndef VAULT_STALE_H
#define VAULT_STALE_H

#include "vault.h"

/*
 * Record that the trail may lack what happened last: orders that wait are cancelled, those under way have
 * failed, and what each machine holds is not known. why: one sentence. Inside a transaction. 0, -1.
 */
int stale(struct vault *v, const struct vault_by *by, const char *outcome, const char *why);

#endif
