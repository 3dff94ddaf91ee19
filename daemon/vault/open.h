/* A database of its own for the replay. Inside the vault only. */
#ifndef VAULT_OPEN_H
#define VAULT_OPEN_H

struct vault;

/*
 * An empty vault that lives in memory and, when it grows, in a nameless temporary file. NULL on
 * failure, told through owner. Ended with vault_close.
 */
struct vault *open_scratch(struct vault *owner);

/*
 * A second connection, for reading only, to a vault that is open elsewhere: it takes no lock and
 * sees one state at a time. NULL on failure, with one line in why. End it with vault_close.
 */
struct vault *open_reader(const char *path, char *why, size_t n);

/*
 * Nothing but the lock of a vault that nobody has open, whether its file is there or not. NULL on failure,
 * with one line in why. End it with vault_close.
 */
struct vault *open_lock(const char *path, char *why, size_t n);

#endif
