/*
 * Goal: who has a proof and a public key knows what was recorded and that it is in the trail; whatever is
 * changed in the file, one bit at a time, or cut off, it proves nothing any more.
 */
#include <stdio.h>
#include <stdlib.h>
#include "proof.h"
#include "seal_help.h"

struct bench {
	struct ed25519 *private;
	struct note_key key;
	struct seal_grown grown;
	unsigned char bytes[1000];
	size_t n;
	struct text file;
};

static void put(struct bench *b, const void *bytes, size_t n)
{
	memcpy(b->bytes + b->n, bytes, n);
	b->n += n;
}

static void put_number(struct bench *b, uint64_t x, int n)
{
	while (n-- > 0)
		b->bytes[b->n++] = (unsigned char)(x >> 8 * n);
}

static void put_text(struct bench *b, const char *s)
{
	put_number(b, strlen(s), 4);
	put(b, s, strlen(s));
}

/* Entry 5, by the description in leaf.h. */
static void make_leaf(struct bench *b)
{
	static const char *const texts[] = {"carried", "anna (uid 1002)", "socket", "LATHE1", "4417",
	    "C", "done", "both programs are there", "{}"};

	memset(b->bytes, 0x5a, 32);
	b->n = 32;
	put(b, "yoke event 1\n", 13);
	put_number(b, 5, 8);
	put_number(b, 1700000000000000, 8);
	put_number(b, 4, 8);
	for (size_t i = 0; i < 9; i++)
		put_text(b, texts[i]);
	put_number(b, 1, 4);
	put_text(b, "upper");
	put_number(b, 0, 1);
	put_number(b, 1, 1);
	put(b, b->bytes, 32);
}

static int setup(void **state)
{
	struct bench *b = calloc(1, sizeof(*b));
	struct sha path[TREE_PATH_MAX], leaf;
	struct checkpoint c = {.size = 11, .number = 3, .utc_s = 1933135628};
	struct text body = {0}, note = {0};
	struct tree t;
	size_t n;

	b->private = ed25519_make();
	assert_int_equal(ed25519_public(b->private, b->key.public), 0);
	assert_int_equal(checkpoint_origin(b->key.public, b->key.name), 0);
	make_leaf(b);
	leaf = seal_leaf(b->bytes, b->n);
	seal_grow(&b->grown, 4);
	seal_add(&b->grown, &leaf);
	for (unsigned i = 0; i < 6; i++) {
		leaf = seal_leaf(&i, sizeof(i));
		seal_add(&b->grown, &leaf);
	}
	t = seal_tree(&b->grown);
	assert_int_equal(tree_path(&t, 5, 11, path, &n), 0);
	assert_int_equal(tree_root(b->grown.h, &b->grown.edge, &c.root), 0);
	snprintf(c.origin, sizeof(c.origin), "%s", b->key.name);
	checkpoint_write(&c, &body);
	assert_int_equal(note_sign(&note, body.s, &b->key, b->private), 0);
	proof_write(&b->file, b->bytes, b->n, path, n, note.s);
	assert_false(b->file.failed);
	text_free(&body);
	text_free(&note);
	*state = b;
	return 0;
}

static int teardown(void **state)
{
	struct bench *b = *state;

	ed25519_free(b->private);
	seal_end(&b->grown);
	text_free(&b->file);
	free(b);
	return 0;
}

static bool check(struct bench *b, const char *s, size_t n, char why[200])
{
	struct proof p;
	bool good;

	why[0] = '\0';
	good = proof_check(s, n, &b->key, 1, &p, why, 200);
	proof_free(&p);
	assert_true(good == (why[0] == '\0'));
	return good;
}

static void a_proof_says_what_was_recorded(void **state)
{
	struct bench *b = *state;
	struct proof p;
	char why[200] = "";

	if (!proof_check(b->file.s, b->file.n, &b->key, 1, &p, why, sizeof(why)))
		fail_msg("%s", why);
	assert_int_equal(p.leaf.seq, 5);
	assert_int_equal(p.leaf.order, 4);
	assert_int_equal(p.leaf.utc_us, 1700000000000000);
	assert_int_equal(p.leaf.who.n, 15);
	assert_memory_equal(p.leaf.who.s, "anna (uid 1002)", 15);
	assert_memory_equal(p.leaf.detail.s, "{}", 2);
	assert_int_equal(p.leaf.parts, 1);
	assert_string_equal(p.leaf.part[0].channel, "upper");
	assert_false(p.leaf.part[0].has_before);
	assert_memory_equal(p.leaf.part[0].after.b, b->bytes, 32);
	assert_int_equal(p.checkpoint.size, 11);
	assert_memory_equal(&p.key, &b->key, sizeof(p.key));
	proof_free(&p);
}

static void nothing_that_was_changed_is_taken(void **state)
{
	struct bench *b = *state;
	char why[200];

	for (size_t i = 0; i < b->file.n; i++)
		for (int bit = 0; bit < 8; bit++) {
			b->file.s[i] ^= (char)(1 << bit);
			if (check(b, b->file.s, b->file.n, why))
				fail_msg("bit %d of byte %zu", bit, i);
			b->file.s[i] ^= (char)(1 << bit);
		}
	for (size_t cut = 0; cut < b->file.n; cut++) {
		char *copy = malloc(cut + 1);

		memcpy(copy, b->file.s, cut);
		assert_false(check(b, copy, cut, why));
		free(copy);
	}
	text_puts(&b->file, "\n");
	assert_false(check(b, b->file.s, b->file.n, why));
}

static void the_reason_is_said(void **state)
{
	struct bench *b = *state;
	struct note_key mine = b->key;
	char why[200];

	assert_false(check(b, "", 0, why));
	assert_non_null(strstr(why, "it is no proof"));
	b->key.public[0] ^= 1;
	assert_false(check(b, b->file.s, b->file.n, why));
	assert_non_null(strstr(why, "not signed with this key"));
	b->key = mine;
	*strchr(strstr(b->file.s, "number 3"), '3') = '4';
	assert_false(check(b, b->file.s, b->file.n, why));
	assert_non_null(strstr(why, "signature of its checkpoint does not fit"));
	*strchr(strstr(b->file.s, "number 4"), '4') = '3';
	strstr(b->file.s, "path ")[5] ^= 1;
	assert_false(check(b, b->file.s, b->file.n, why));
	assert_non_null(strstr(why, "not in the tree"));
}

/* Bytes that are no leaf, whatever is cut off or put in. */
static void leaves_are_read_to_the_byte(void **state)
{
	struct bench *b = *state;
	struct leaf leaf;

	assert_true(leaf_read(b->bytes, b->n, &leaf));
	for (size_t cut = 0; cut < b->n; cut++) {
		unsigned char *copy = malloc(cut + 1);

		memcpy(copy, b->bytes, cut);
		assert_false(leaf_read(copy, cut, &leaf));
		free(copy);
	}
	assert_false(leaf_read(b->bytes, b->n + 1, &leaf));
	b->bytes[69] = 0xff; /* the length of the first text */
	assert_false(leaf_read(b->bytes, b->n, &leaf));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(a_proof_says_what_was_recorded, setup, teardown),
	    cmocka_unit_test_setup_teardown(nothing_that_was_changed_is_taken, setup, teardown),
	    cmocka_unit_test_setup_teardown(the_reason_is_said, setup, teardown),
	    cmocka_unit_test_setup_teardown(leaves_are_read_to_the_byte, setup, teardown),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
