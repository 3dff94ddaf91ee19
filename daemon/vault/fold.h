/* The one place where an event becomes state: for a new event and for the replay of the trail
 * alike. */
#ifndef VAULT_FOLD_H
#define VAULT_FOLD_H

#include "db.h"

/*
 * Change the state tables of v as e says; hash is e's own, the new head of the trail. Every event
 * can be folded: what may be recorded was decided before. Depends on nothing but e and the state
 * tables. 0; -1 failed, told. The caller has a transaction open.
 */
int fold(struct vault *v, const struct event *e, const struct sha *hash);

#endif
