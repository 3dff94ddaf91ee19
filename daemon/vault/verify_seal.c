/*
 * Is the trail what was signed? The tree grows here from the entries themselves, leaf by leaf; what the
 * vault keeps of it is compared, and each checkpoint is met where its size is reached: its root must be
 * the tree's, and a key that was in force must have signed it. So all checkpoints are consistent with each
 * other: their roots are of one tree at its sizes.
 *
 * The key is what the last entry "keyed" names. That entry ends a checkpoint, which the new key signs and
 * the one before it too; when that one was lost, the verdict says where.
 */
#include "sealed.h"
#include "verify.h"

/* The checkpoint that comes next, if there is one. */
static int next_point(struct verify *c)
{
	struct verify_seal *s = &c->seal;
	uint64_t want = c->out->checkpoints + 1;
	int r = db_next(c->v, s->points);
	const char *text;
	size_t n;

	s->more = r == 1;
	if (r != 1)
		return r;
	text = db_column(s->points, 2, &n);
	text_free(&s->text);
	text_add(&s->text, text, n);
	if (s->text.failed)
		return db_say(c->v, "memory ran out; ask again");
	if ((uint64_t)sqlite3_column_int64(s->points, 0) != want)
		return verify_bad(
		    c, 0, "checkpoint %llu is missing", (unsigned long long)want);
	if (n == 0 || !sealed_read(s->text.s, n, &s->note, &s->next) || s->next.number != want ||
	    s->next.size != (uint64_t)sqlite3_column_int64(s->points, 1))
		return verify_bad(c, 0, "checkpoint %llu was changed: it cannot be read",
		    (unsigned long long)want);
	if (s->next.size <= s->edge.size)
		return verify_bad(c, 0,
		    "checkpoint %llu is of %llu entries, which others sealed before",
		    (unsigned long long)want, (unsigned long long)s->next.size);
	return 0;
}

int verify_seal_begin(struct verify *c)
{
	struct verify_seal *s = &c->seal;

	s->nodes = db_stmt(c->v, "SELECT seq,hashes FROM node ORDER BY seq", NULL, 0);
	s->points = db_stmt(c->v, "SELECT n,size,note FROM checkpoint ORDER BY n", NULL, 0);
	if (!s->nodes || !s->points)
		return -1;
	return next_point(c);
}

void verify_seal_done(struct verify *c)
{
	db_done(c->v, c->seal.nodes);
	db_done(c->v, c->seal.points);
	text_free(&c->seal.text);
	c->seal = (struct verify_seal){0};
}

/* The vault keeps the subtrees that this entry ended. */
static int check_nodes(struct verify *c, const struct sha *leaf)
{
	struct verify_seal *s = &c->seal;
	struct sha ended[TREE_LEVELS];
	size_t n;
	int r;

	if (tree_add(c->v->hash, &s->edge, leaf, ended) < 0)
		return db_say(c->v, "SHA-256 cannot be computed");
	n = tree_ends(s->edge.size) * sizeof(*ended);
	r = db_next(c->v, s->nodes);
	if (r < 0)
		return -1;
	if (r == 0 || (uint64_t)sqlite3_column_int64(s->nodes, 0) != s->edge.size ||
	    (size_t)sqlite3_column_bytes(s->nodes, 1) != n ||
	    memcmp(sqlite3_column_blob(s->nodes, 1), ended, n) != 0)
		return verify_bad(c, 0, "the tree over the trail is not what entry %llu makes of it",
		    (unsigned long long)s->edge.size);
	return 0;
}

static int check_signed(struct verify *c, const char *time)
{
	struct verify_seal *s = &c->seal;
	unsigned long long number = s->next.number;
	enum note_result r;

	if (!s->has_key)
		return verify_bad(c, 0,
		    "checkpoint %llu of %s: no key that the trail names can have signed it", number,
		    time);
	if (strcmp(s->next.origin, s->key.name) != 0)
		return verify_bad(c, 0, "checkpoint %llu is that of another trail", number);
	r = note_check(&s->note, &s->key);
	if (r != NOTE_GOOD)
		return verify_bad(c, 0,
		    "checkpoint %llu of %s %s the key %08x, which entry %llu names", number, time,
		    r == NOTE_FORGED ? "does not have the signature of" : "is not signed with",
		    (unsigned)note_key_id(&s->key), (unsigned long long)s->keyed);
	if (s->keyed != s->edge.size || !s->has_before)
		return 0;
	r = note_check(&s->note, &s->before);
	if (r == NOTE_FORGED)
		return verify_bad(c, 0,
		    "checkpoint %llu of %s does not have the signature of the key %08x, which was in "
		    "force before",
		    number, time, (unsigned)note_key_id(&s->before));
	if (r == NOTE_OTHER_KEY)
		c->out->unsigned_key = s->keyed;
	return 0;
}

static int check_point(struct verify *c)
{
	struct verify_seal *s = &c->seal;
	char time[CHECKPOINT_TIME_MAX + 1];
	struct sha root;
	int r;

	checkpoint_time(s->next.utc_s, time);
	r = check_signed(c, time);
	if (r != 0)
		return r;
	if (tree_root(c->v->hash, &s->edge, &root) < 0)
		return db_say(c->v, "SHA-256 cannot be computed");
	if (memcmp(root.b, s->next.root.b, sizeof(root.b)) != 0)
		return verify_bad(c, c->out->sealed + 1,
		    "entries %llu to %llu are not those that checkpoint %llu of %s sealed",
		    (unsigned long long)c->out->sealed + 1, (unsigned long long)s->next.size,
		    (unsigned long long)s->next.number, time);
	if (c->out->checkpoints++ == 0)
		c->out->first_sealed_s = s->next.utc_s;
	c->out->sealed = s->next.size;
	c->out->sealed_s = s->next.utc_s;
	return next_point(c);
}

/* A repair has said that the checkpoint of this entry could not be saved: 1, 0, -1. */
static int told_lost(struct verify *c, uint64_t seq)
{
	sqlite3_stmt *s = db_query(c->v,
	    "SELECT 1 FROM event, json_each(detail,'$.unsealed') WHERE kind='repaired' AND seq>?1 AND "
	    "json_each.value=?1",
	    db_int((int64_t)seq));
	int r = s ? db_next(c->v, s) : -1;

	db_done(c->v, s);
	if (r == 1)
		c->out->unsigned_key = seq;
	return r;
}

int verify_seal_entry(struct verify *c, const struct event *e, const struct sha *leaf)
{
	struct verify_seal *s = &c->seal;
	char origin[NOTE_NAME_MAX + 1];
	struct note_key key;
	bool keyed = e->kind == EVENT_KEYED && note_key_read(e->outcome, strlen(e->outcome), &key);
	int r = check_nodes(c, leaf);

	if (r != 0)
		return r;
	if (keyed && !s->has_key &&
	    (checkpoint_origin(key.public, origin) < 0 || strcmp(origin, key.name) != 0))
		return verify_bad(c, e->seq, "entry %llu names a first key that has not the trail's name",
		    (unsigned long long)e->seq);
	if (keyed) {
		s->before = s->key;
		s->has_before = s->has_key;
		s->key = key;
		s->has_key = true;
		s->keyed = e->seq;
	}
	if (s->more && s->next.size == e->seq)
		return check_point(c);
	r = keyed ? told_lost(c, e->seq) : 1;
	if (r == 0)
		return verify_bad(c, e->seq,
		    "entry %llu names a new key, and the checkpoint that this key signed with it is "
		    "missing",
		    (unsigned long long)e->seq);
	return r < 0 ? -1 : 0;
}

int verify_seal_end(struct verify *c)
{
	struct verify_seal *s = &c->seal;
	char time[CHECKPOINT_TIME_MAX + 1];
	int r;

	if (s->more) {
		checkpoint_time(s->next.utc_s, time);
		return verify_bad(c, s->edge.size + 1,
		    "entries %llu to %llu are missing at the end of the trail: checkpoint %llu of %s "
		    "sealed them",
		    (unsigned long long)s->edge.size + 1, (unsigned long long)s->next.size,
		    (unsigned long long)s->next.number, time);
	}
	r = db_next(c->v, s->nodes);
	if (r == 1)
		return verify_bad(c, 0, "the tree over the trail has more leaves than there are entries");
	return r;
}
