/*
 * One entry of the trail as bytes, and its link in the chain.
 *
 * Each entry holds hash = SHA-256(prev || "yoke event 1\n" || body). prev is the hash of the entry
 * before it, 32 bytes; for the first entry 32 zero bytes. The body is, in this order:
 *
 *   seq, utc_us, order                      each 8 bytes, big-endian (utc_us as two's complement)
 *   kind, who, from, machine, job,
 *   revision, outcome, text, detail         each 4 bytes length, big-endian, then that many bytes
 * as stored; kind is its name ("carried"); a string that is not there has length 0 parts as in
 * parts.h: 4 bytes count, then for each part the channel's name with its length, one byte 0 or 1
 * and the SHA-256 before, the same after
 *
 * In the table event these are the columns seq, utc_us, ord, kind, who, origin, machine, job,
 * revision, outcome, text, detail and parts; hash is stored beside them. Every field is covered,
 * and no two entries have the same bytes.
 */
#ifndef VAULT_ENTRY_H
#define VAULT_ENTRY_H

#include "db.h"
#include "hash.h"
#include "parts.h"
#include "yoke/text.h"

enum entry_text {
	ENTRY_KIND,
	ENTRY_WHO,
	ENTRY_FROM,
	ENTRY_MACHINE,
	ENTRY_JOB,
	ENTRY_REVISION,
	ENTRY_OUTCOME,
	ENTRY_TEXT,
	ENTRY_DETAIL,
	ENTRY_TEXTS,
};

/* A view: nothing in it is owned. */
struct entry {
	uint64_t seq, order;
	int64_t utc_us;
	struct {
		const char *s;
		size_t n;
	} text[ENTRY_TEXTS];
	const void *parts;
	size_t parts_n;
};

/* The columns in the order that entry_of_row expects, hash last. */
#define ENTRY_COLUMNS                                                                              \
	"seq,utc_us,ord,parts,kind,who,origin,machine,job,revision,outcome,text,detail,hash"
enum { ENTRY_HASH_COLUMN = 13 };

/* The entry of an event; its parts are written to buffer, which must live as long as the entry. */
void entry_of_event(struct entry *en, struct parts_bytes *buffer, const struct event *e);

/* The entry in the row at hand, until the statement's next step. */
void entry_of_row(struct entry *en, sqlite3_stmt *s);

/*
 * The event in an entry; its texts belong to where the entry's do. 0, or -1 when its parts cannot
 * be read. A kind that is not known becomes EVENT_COUNT.
 */
int entry_event(const struct entry *en, struct event *e);

/* The entry's hash in the chain, after prev. 0; -1 when libcrypto failed. */
int entry_hash(struct hash *h, const struct sha *prev, const struct entry *en, struct sha *out);

/* Its hash in the tree over the trail (tree.h): of the same bytes, as a leaf. */
int entry_leaf(struct hash *h, const struct sha *prev, const struct entry *en, struct sha *out);

/* Append the bytes that both are of: leaf.h reads them. */
void entry_bytes(const struct sha *prev, const struct entry *en, struct text *out);

#endif
