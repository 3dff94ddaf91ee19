#include "proof.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "base64.h"
#include "hash.h"

static const char title[] = "yoke proof 1\n", event[] = "event ", path_front[] = "path ";

void proof_write(struct text *out, const void *leaf, size_t n, const struct sha *path, size_t paths,
    const char *note)
{
	text_puts(out, title);
	text_puts(out, event);
	base64_put(out, leaf, n);
	for (size_t i = 0; i < paths; i++) {
		text_putc(out, '\n');
		text_puts(out, path_front);
		base64_put(out, path[i].b, sizeof(path[i].b));
	}
	text_puts(out, "\n\n");
	text_puts(out, note);
}

void proof_free(struct proof *p)
{
	free(p->bytes);
	*p = (struct proof){0};
}

/* What is read of a file, and where. */
struct reader {
	const char *at, *end;
	struct sha path[TREE_PATH_MAX];
	size_t paths;
	size_t bytes_n;
	char *why;
	size_t why_n;
};

static bool bad(struct reader *r, const char *what)
{
	snprintf(r->why, r->why_n, "%s", what);
	return false;
}

/* The rest of the next line, when it begins with front; NULL, and nothing is taken, when not. */
static const char *line(struct reader *r, const char *front, size_t *n)
{
	size_t skip = strlen(front), left = (size_t)(r->end - r->at);
	const char *at = r->at, *end = memchr(at, '\n', left);

	if (!end || (size_t)(end - at) < skip || memcmp(at, front, skip) != 0)
		return NULL;
	r->at = end + 1;
	*n = (size_t)(end - at) - skip;
	return at + skip;
}

static bool read_event(struct reader *r, struct proof *out)
{
	size_t n;
	const char *s = line(r, event, &n);
	long got;

	if (!s)
		return bad(r, "it has no line with an event");
	out->bytes = malloc(n / 4 * 3 + 1);
	if (!out->bytes)
		return bad(r, "memory ran out");
	got = base64_read(s, n, out->bytes);
	if (got < 0)
		return bad(r, "its event is no base64");
	r->bytes_n = (size_t)got;
	if (!leaf_read(out->bytes, r->bytes_n, &out->leaf))
		return bad(r, "its event is none");
	return true;
}

static bool read_path(struct reader *r)
{
	unsigned char raw[BASE64_LENGTH(YOKE_SHA_SIZE) / 4 * 3];
	const char *s;
	size_t n;

	while ((s = line(r, path_front, &n)) != NULL) {
		if (r->paths == TREE_PATH_MAX)
			return bad(r, "its path is longer than any tree is high");
		if (n != BASE64_LENGTH(YOKE_SHA_SIZE) || base64_read(s, n, raw) != YOKE_SHA_SIZE)
			return bad(r, "its path holds what is no SHA-256 in base64");
		memcpy(r->path[r->paths++].b, raw, YOKE_SHA_SIZE);
	}
	s = line(r, "", &n);
	return s && n == 0 ? true : bad(r, "behind its path there is no empty line");
}

static bool check_note(
    struct reader *r, const struct note_key *keys, size_t keys_n, struct proof *out)
{
	enum note_result best = NOTE_OTHER_KEY;
	struct note note;
	size_t n = note_take(r->at, (size_t)(r->end - r->at), &note);

	if (n == 0 || r->at + n != r->end)
		return bad(r, "its checkpoint is no signed note, or something stands behind it");
	if (!checkpoint_read(note.text, note.text_n, &out->checkpoint))
		return bad(r, "its checkpoint cannot be read");
	for (size_t i = 0; i < keys_n && best != NOTE_GOOD; i++) {
		enum note_result one = note_check(&note, &keys[i]);

		if (one != NOTE_OTHER_KEY)
			best = one;
		if (one == NOTE_GOOD)
			out->key = keys[i];
	}
	if (best == NOTE_OTHER_KEY)
		return bad(r, "its checkpoint is not signed with this key");
	if (best == NOTE_FORGED)
		return bad(r, "the signature of its checkpoint does not fit: it, or the checkpoint, was "
		              "changed");
	if (strcmp(out->checkpoint.origin, out->key.name) != 0)
		return bad(r, "its checkpoint is that of another trail than the key's");
	return true;
}

static bool check_tree(struct reader *r, const struct proof *p)
{
	struct hash *h = hash_new();
	struct sha leaf;
	int fits = -1;

	if (!h)
		return bad(r, "memory ran out");
	tree_leaf(h);
	hash_add(h, p->bytes, r->bytes_n);
	if (hash_end(h, &leaf) == 0)
		fits = tree_check_path(h, &leaf, p->leaf.seq, p->checkpoint.size, r->path, r->paths,
		    &p->checkpoint.root);
	hash_free(h);
	if (fits < 0)
		return bad(r, "SHA-256 cannot be computed");
	return fits ? true
	            : bad(r, "the event is not in the tree of the checkpoint: it, its number or the "
	                     "path was changed");
}

bool proof_check(const char *s, size_t n, const struct note_key *keys, size_t keys_n,
    struct proof *out, char *why, size_t why_n)
{
	struct reader r = {.at = s, .end = s + n, .why = why, .why_n = why_n};

	*out = (struct proof){0};
	if (n > PROOF_MAX)
		return bad(&r, "it is larger than any proof");
	if (n < sizeof(title) - 1 || memcmp(s, title, sizeof(title) - 1) != 0)
		return bad(&r, "it is no proof: its first line is not \"yoke proof 1\"");
	r.at = s + sizeof(title) - 1;
	return read_event(&r, out) && read_path(&r) && check_note(&r, keys, keys_n, out) &&
	       check_tree(&r, out);
}
