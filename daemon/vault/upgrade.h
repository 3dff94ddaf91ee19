/*
 * A vault of an earlier version: the trail and the programs stay as they are, and the state, which is
 * a fold of the trail, is made anew from it. Inside the vault only.
 */
#ifndef VAULT_UPGRADE_H
#define VAULT_UPGRADE_H

struct vault;

/*
 * Make the state of v anew, as this version has it, in one transaction. 0; -1 failed, told, and
 * nothing was changed: an entry that cannot be read, or a trail that does not end where it says.
 */
int upgrade(struct vault *v);

#endif
