/* Two vaults, table by table. Inside the vault only. */
#ifndef VAULT_COMPARE_H
#define VAULT_COMPARE_H

#include "db.h"
#include "schema.h"

/*
 * Compare a table of v with that of its replay, row by row in the order of the key. 0 equal; 1 not,
 * with the first difference in why (size n); -1 failed, told through v.
 */
int compare_table(
    struct vault *v, struct vault *replay, const struct schema_table *t, char *why, size_t n);

#endif
