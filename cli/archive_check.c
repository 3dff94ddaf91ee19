#include "archive_check.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "archive.h"
#include "ask.h"
#include "base64.h"
#include "checkpoint.h"
#include "exit.h"
#include "hash.h"
#include "new_file.h"
#include "out.h"
#include "sha256.h"
#include "sum_set.h"
#include "tree.h"

enum { CHUNK = 1 << 16 };

struct check {
	FILE *f;
	const struct trail_keys *keys;
	struct hash *hash;
	char *line;
	size_t room, n, number; /* of the line: its room, its bytes without the line end, which one it is */
	char *leaf;             /* room for the bytes of an entry */
	size_t leaf_room;
	struct tree_edge edge;
	struct sha before; /* hash of the entry that was read last */
	struct sum_set named;
	bool *there; /* by place in named: told by the file, be it as missing */
	struct checkpoint checkpoint;
	size_t programs, missing;
	uint64_t bytes;       /* of all programs */
	struct sha wanted;    /* a program that is asked for, */
	long wanted_at;       /* where its bytes begin, 0: it is not in it */
	size_t wanted_n;      /* and how many they are */
	char why[300];
};

static bool __attribute__((format(printf, 2, 3))) bad(struct check *c, const char *format, ...)
{
	size_t n = (size_t)snprintf(c->why, sizeof(c->why), "line %zu: ", c->number);
	va_list ap;

	va_start(ap, format);
	vsnprintf(c->why + n, sizeof(c->why) - n, format, ap);
	va_end(ap);
	return false;
}

/* The next line as an object; NULL and why. */
static json_t *next(struct check *c)
{
	ssize_t got = getline(&c->line, &c->room, c->f);
	json_t *o;

	c->number++;
	if (got < 0) {
		bad(c, ferror(c->f) ? "it cannot be read" : "the file ends here: something was cut off");
		return NULL;
	}
	c->n = (size_t)got;
	if (!c->n || c->line[c->n - 1] != '\n') {
		bad(c, "it has no end: something was cut off");
		return NULL;
	}
	o = json_loadb(c->line, --c->n, JSON_REJECT_DUPLICATES | JSON_ALLOW_NUL, NULL);
	if (!json_is_object(o)) {
		json_decref(o);
		bad(c, "it is no JSON object");
		return NULL;
	}
	return o;
}

static bool check_leaf(struct check *c, const char *base64, const json_t *event)
{
	size_t n = strlen(base64);
	struct leaf leaf;
	struct sha hash, ended[TREE_LEVELS];
	json_t *said;
	bool same;
	long got;

	if (n > c->leaf_room) {
		free(c->leaf);
		c->leaf = malloc(n);
		c->leaf_room = c->leaf ? n : 0;
	}
	got = c->leaf ? base64_read(base64, n, c->leaf) : -1;
	said = got < 0 ? NULL : archive_entry(c->leaf, (size_t)got, &leaf);
	if (!said)
		return bad(c, "its leaf holds no entry");
	same = json_equal(said, event);
	json_decref(said);
	if (leaf.seq != c->edge.size + 1)
		return bad(c, "entry %llu stands where entry %llu belongs", (unsigned long long)leaf.seq,
		    (unsigned long long)c->edge.size + 1);
	if (!same)
		return bad(c, "entry %llu says something else than its bytes", (unsigned long long)leaf.seq);
	if (memcmp(&leaf.before, &c->before, sizeof(c->before)))
		return bad(c, "entry %llu does not follow the one before it: one of them was changed",
		    (unsigned long long)leaf.seq);
	sum_set_add_parts(&c->named, leaf.part, leaf.parts);
	tree_leaf(c->hash);
	hash_add(c->hash, c->leaf, (size_t)got);
	if (sha256_of(c->leaf, (size_t)got, c->before.b) || hash_end(c->hash, &hash) ||
	    tree_add(c->hash, &c->edge, &hash, ended) || c->named.failed)
		return bad(c, "memory ran out");
	return true;
}

/* The entries, up to the line that is none: that one. NULL and why. */
static json_t *check_entries(struct check *c)
{
	json_t *o;

	while ((o = next(c)) && json_is_object(json_object_get(o, "event"))) {
		bool good = check_leaf(c, ask_string(o, "leaf"), json_object_get(o, "event"));

		json_decref(o);
		if (!good)
			return NULL;
	}
	return o;
}

static bool check_note(struct check *c, const char *s)
{
	enum note_result best = NOTE_OTHER_KEY;
	const struct note_key *key = NULL;
	struct sha root;
	struct note note;

	if (note_take(s, strlen(s), &note) != strlen(s) || !*s ||
	    !checkpoint_read(note.text, note.text_n, &c->checkpoint))
		return bad(c, "behind the entries there is no checkpoint");
	for (size_t i = 0; i < c->keys->n && best != NOTE_GOOD; i++) {
		enum note_result one = note_check(&note, &c->keys->key[i]);

		if (one != NOTE_OTHER_KEY)
			best = one;
		if (one == NOTE_GOOD)
			key = &c->keys->key[i];
	}
	if (best == NOTE_OTHER_KEY)
		return bad(c, "the checkpoint is not signed with this key");
	if (best == NOTE_FORGED)
		return bad(c, "the signature of the checkpoint does not fit: it, or the checkpoint, was changed");
	if (strcmp(c->checkpoint.origin, key->name))
		return bad(c, "the checkpoint is that of another trail than the key's");
	if (c->checkpoint.size != c->edge.size)
		return bad(c, "the checkpoint seals %llu entries, and %llu are here",
		    (unsigned long long)c->checkpoint.size, (unsigned long long)c->edge.size);
	if (tree_root(c->hash, &c->edge, &root))
		return bad(c, "SHA-256 cannot be computed");
	return memcmp(&root, &c->checkpoint.root, sizeof(root))
	           ? bad(c, "the entries are not those that the checkpoint seals")
	           : true;
}

/* The bytes behind the line. */
static bool check_bytes(struct check *c, const char *hex, const struct sha *sum, json_int_t size)
{
	struct sha256 *s = sha256_new();
	static char bytes[CHUNK];
	struct sha came;
	bool good = s != NULL;

	if (!memcmp(sum, &c->wanted, sizeof(*sum))) {
		c->wanted_at = ftell(c->f);
		c->wanted_n = (size_t)size;
	}
	for (json_int_t left = size; good && left > 0;) {
		size_t want = left < CHUNK ? (size_t)left : CHUNK, got = fread(bytes, 1, want, c->f);

		good = got == want && sha256_add(s, bytes, got) == 0;
		left -= (json_int_t)got;
	}
	good = good && getc(c->f) == '\n' && sha256_end(s, came.b) == 0;
	sha256_free(s);
	c->bytes += (uint64_t)size;
	if (!good)
		return bad(c, "the program %s is not whole", hex);
	return memcmp(&came, sum, sizeof(came)) ? bad(c, "the bytes of the program %s were changed", hex)
	                                        : true;
}

static bool check_program(struct check *c, const json_t *o)
{
	const char *hex = ask_string(o, "program");
	const json_t *size = json_object_get(o, "size");
	struct sha sum;
	size_t i;

	if (!sha256_parse(hex, sum.b))
		return bad(c, "it is neither a program nor the end");
	i = sum_set_find(&c->named, &sum);
	if (i == c->named.n)
		return bad(c, "no entry names the program %s", hex);
	if (c->there[i])
		return bad(c, "the program %s stands here twice", hex);
	c->there[i] = true;
	if (ask_true(o, "missing")) {
		c->missing++;
		return true;
	}
	c->programs++;
	return json_is_integer(size) && json_integer_value(size) >= 0
	           ? check_bytes(c, hex, &sum, json_integer_value(size))
	           : bad(c, "the program %s has no size", hex);
}

static bool check_programs(struct check *c)
{
	json_t *o;
	bool good = true, end = false;

	c->there = calloc(c->named.n + 1, sizeof(*c->there));
	if (!c->there)
		return bad(c, "memory ran out");
	while (good && !end && (o = next(c))) {
		end = ask_true(o, "end");
		good = end || check_program(c, o);
		json_decref(o);
	}
	if (!good || !end)
		return false;
	if (getc(c->f) != EOF)
		return bad(c, "something stands behind the end");
	for (size_t i = 0; i < c->named.n; i++)
		if (!c->there[i]) {
			char hex[YOKE_SHA_HEX + 1];

			sha256_hex(c->named.sum[i].b, hex);
			return bad(c, "the program %s, which an entry names, is left out", hex);
		}
	return true;
}

static bool check_all(struct check *c)
{
	json_t *o = next(c);
	bool good;

	if (!o)
		return false;
	good = ask_number(o, ARCHIVE_MARK) == ARCHIVE_VERSION;
	json_decref(o);
	if (!good)
		return bad(c, "this is no archive of this kind");
	o = check_entries(c);
	good = o && check_note(c, ask_string(o, "checkpoint"));
	json_decref(o);
	return good && check_programs(c);
}

static void say(const char *file, const struct check *c, bool good, bool aside)
{
	char time[CHECKPOINT_TIME_MAX + 1];
	struct text t = {0};

	if (good) {
		checkpoint_time(c->checkpoint.utc_s, time);
		text_printf(&t, "good: entries 1 to %llu of the trail %s, sealed by checkpoint %llu at %s\n",
		    (unsigned long long)c->edge.size, c->checkpoint.origin,
		    (unsigned long long)c->checkpoint.number, time);
		text_printf(&t, "%zu programs, %llu bytes", c->programs, (unsigned long long)c->bytes);
		if (c->missing)
			text_printf(&t,
			    "; %zu more are named, of which the file says that the vault did not have "
			    "them (nothing seals that)",
			    c->missing);
		text_putc(&t, '\n');
	} else {
		text_puts(&t, "NOT GOOD: ");
		ask_put(&t, file);
		text_puts(&t, ": ");
		ask_put(&t, c->why);
		text_putc(&t, '\n');
	}
	if (aside) {
		fputs(t.s ? t.s : "", stderr);
		text_free(&t);
	} else {
		out_text(&t);
	}
}

static int list_entries(struct check *c)
{
	uint64_t n = 0;

	rewind(c->f);
	json_decref(next(c));
	for (; n < c->edge.size; n++) {
		json_t *o = next(c);

		if (!o) /* it was whole a moment ago */
			return EXIT_USE;
		ask_json_line(json_object_get(o, "event"));
		json_decref(o);
	}
	return EXIT_DONE;
}

static int give_program(struct check *c, const struct archive_check_ask *ask)
{
	struct text t = {0};
	char *bytes;

	if (!c->wanted_at) {
		out_error("the program %s is not in it", ask->program);
		return EXIT_REFUSED;
	}
	bytes = malloc(c->wanted_n + 1);
	if (!bytes || fseek(c->f, c->wanted_at, SEEK_SET) ||
	    fread(bytes, 1, c->wanted_n, c->f) != c->wanted_n) {
		out_error("the program cannot be read again");
		free(bytes);
		return EXIT_USE;
	}
	if (ask->out) {
		text_add(&t, bytes, c->wanted_n);
		free(bytes);
		return new_file_write(ask->out, &t);
	}
	fwrite(bytes, 1, c->wanted_n, stdout);
	free(bytes);
	return EXIT_DONE;
}

int archive_check(
    const char *file, const struct trail_keys *keys, const struct archive_check_ask *ask)
{
	struct check c = {.f = fopen(file, "re"), .keys = keys, .hash = hash_new()};
	bool good = false, aside = ask->entries || ask->program;
	int status = EXIT_USE;

	if (!c.f) {
		out_error("%s cannot be read: %s", file, strerror(errno));
	} else if (!c.hash) {
		out_error("out of memory");
	} else if (ask->program && !sha256_parse(ask->program, c.wanted.b)) {
		out_error("'%s' names no program: the 64 hexadecimal digits of its SHA-256 do", ask->program);
	} else {
		good = check_all(&c);
		say(file, &c, good, aside);
		status = good ? EXIT_DONE : EXIT_REFUSED;
	}
	if (good && ask->entries)
		status = list_entries(&c);
	if (good && ask->program)
		status = give_program(&c, ask);
	if (c.f)
		fclose(c.f);
	hash_free(c.hash);
	free(c.line);
	free(c.leaf);
	free(c.there);
	sum_set_free(&c.named);
	return status;
}

int archive_check_key(const char *file, const char *key, const struct archive_check_ask *ask)
{
	struct trail_keys keys = {0};
	int status;

	if (!key) {
		out_error("audit: check-archive needs --key: the public key that you trust, as `yoke keys` "
		          "lists it there, or a file with it");
		return EXIT_USE;
	}
	status = trail_keys_read("audit", key, &keys);
	if (!status)
		status = archive_check(file, &keys, ask);
	trail_keys_free(&keys);
	return status;
}
