/* The tables of the vault, as SQL. */
#ifndef VAULT_SCHEMA_H
#define VAULT_SCHEMA_H

enum {
	SCHEMA_APPLICATION = 0x596f6b65, /* "Yoke", PRAGMA application_id */
	SCHEMA_VERSION = 8,              /* PRAGMA user_version: one more whenever a table of the
	                                    state, or what an event does to it, is another */
};

/* Creates everything in an empty database, the marks included. */
extern const char schema_sql[];

/* Creates what a vault of an earlier version has not beside its state: nothing of it is ever changed. */
extern const char schema_more_sql[];

/* Creates the tables of the state where there are none, empty, and sets the marks. */
extern const char schema_state_sql[];

/* A table as verify reads it: in the order of its key. */
struct schema_table {
	const char *name;
	const char *select; /* every row, in the order of the key */
	int keys;           /* its first columns are the key */
};

/* The tables that are a fold of the events, but for node, which is one of their bytes (node.h); the last
 * entry has no name. */
extern const struct schema_table schema_state[];

/* The layout itself: the tables; the triggers and indexes. */
extern const struct schema_table schema_tables, schema_guards;

#endif
