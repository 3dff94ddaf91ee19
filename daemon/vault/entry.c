#include "entry.h"
#include "leaf.h"
#include "tree.h"

void entry_of_event(struct entry *en, struct parts_bytes *buffer, const struct event *e)
{
	const char *text[ENTRY_TEXTS] = {event_name(e->kind), e->who, e->from, e->machine, e->job,
	    e->revision, e->outcome, e->text, e->detail};

	en->seq = e->seq;
	en->order = e->order;
	en->utc_us = e->utc_us;
	for (int i = 0; i < ENTRY_TEXTS; i++) {
		en->text[i].s = text[i] ? text[i] : "";
		en->text[i].n = strlen(en->text[i].s);
	}
	parts_encode(buffer, e->part, e->parts);
	en->parts = buffer->b;
	en->parts_n = buffer->n;
}

void entry_of_row(struct entry *en, sqlite3_stmt *s)
{
	en->seq = (uint64_t)sqlite3_column_int64(s, 0);
	en->utc_us = sqlite3_column_int64(s, 1);
	en->order = (uint64_t)sqlite3_column_int64(s, 2);
	en->parts = sqlite3_column_blob(s, 3);
	en->parts_n = (size_t)sqlite3_column_bytes(s, 3);
	for (int i = 0; i < ENTRY_TEXTS; i++)
		en->text[i].s = db_column(s, 4 + i, &en->text[i].n);
}

int entry_event(const struct entry *en, struct event *e)
{
	*e = (struct event){
	    .seq = en->seq,
	    .utc_us = en->utc_us,
	    .kind = event_by_name(en->text[ENTRY_KIND].s),
	    .who = en->text[ENTRY_WHO].s,
	    .from = en->text[ENTRY_FROM].s,
	    .machine = en->text[ENTRY_MACHINE].s,
	    .job = en->text[ENTRY_JOB].s,
	    .revision = en->text[ENTRY_REVISION].s,
	    .order = en->order,
	    .outcome = en->text[ENTRY_OUTCOME].s,
	    .text = en->text[ENTRY_TEXT].s,
	    .detail = en->text[ENTRY_DETAIL].s,
	};
	return parts_decode(en->parts, en->parts_n, e->part, &e->parts);
}

static void add(struct hash *h, const struct sha *prev, const struct entry *en)
{
	hash_add(h, prev->b, sizeof(prev->b));
	hash_add(h, LEAF_VERSION, sizeof(LEAF_VERSION) - 1);
	hash_add_u64(h, en->seq);
	hash_add_u64(h, (uint64_t)en->utc_us);
	hash_add_u64(h, en->order);
	for (int i = 0; i < ENTRY_TEXTS; i++) {
		hash_add_u32(h, (uint32_t)en->text[i].n);
		hash_add(h, en->text[i].s, en->text[i].n);
	}
	hash_add(h, en->parts, en->parts_n);
}

int entry_hash(struct hash *h, const struct sha *prev, const struct entry *en, struct sha *out)
{
	hash_start(h);
	add(h, prev, en);
	return hash_end(h, out);
}

int entry_leaf(struct hash *h, const struct sha *prev, const struct entry *en, struct sha *out)
{
	tree_leaf(h);
	add(h, prev, en);
	return hash_end(h, out);
}

static void put_number(struct text *out, uint64_t x, int bytes)
{
	while (bytes-- > 0)
		text_putc(out, (char)(x >> 8 * bytes & 0xff));
}

void entry_bytes(const struct sha *prev, const struct entry *en, struct text *out)
{
	text_add(out, (const char *)prev->b, sizeof(prev->b));
	text_puts(out, LEAF_VERSION);
	put_number(out, en->seq, 8);
	put_number(out, (uint64_t)en->utc_us, 8);
	put_number(out, en->order, 8);
	for (int i = 0; i < ENTRY_TEXTS; i++) {
		put_number(out, en->text[i].n, 4);
		text_add(out, en->text[i].s, en->text[i].n);
	}
	text_add(out, en->parts, en->parts_n);
}
