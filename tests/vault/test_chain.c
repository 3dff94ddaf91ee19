/*
 * Goal: the trail can be recomputed by somebody else. SHA-256 is held against published vectors,
 * the parts' bytes against their layout, and the chain against sha256sum over bytes that are put
 * together here from the description in entry.h and the stored rows alone.
 */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "hash.h"
#include "parts.h"
#include "vault_help.h"

static void hex(const unsigned char *b, size_t n, char *out)
{
	for (size_t i = 0; i < n; i++)
		sprintf(out + 2 * i, "%02x", b[i]);
}

static void assert_hash(struct hash *h, const void *bytes, size_t n, size_t step, const char *want)
{
	const char *p = bytes;
	struct sha sha;
	char got[65];

	hash_start(h);
	for (size_t at = 0; at < n; at += step)
		hash_add(h, p + at, at + step < n ? step : n - at);
	assert_int_equal(hash_end(h, &sha), 0);
	hex(sha.b, sizeof(sha.b), got);
	assert_string_equal(got, want);
}

static void sha256_is_the_published_one(void **state)
{
	struct hash *h = hash_new();
	char *a = malloc(1000000);

	assert_non_null(h);
	assert_non_null(a);
	memset(a, 'a', 1000000);
	/* FIPS 180-4 examples: "abc", the two-block message, one million 'a'. */
	assert_hash(
	    h, "abc", 3, 1, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
	assert_hash(h, "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 56, 7,
	    "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
	assert_hash(h, a, 1000000, 4093,
	    "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
	/* CAVP SHA256ShortMsg. */
	assert_hash(
	    h, "", 0, 1, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
	assert_hash(
	    h, "\xd3", 1, 1, "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1");
	assert_hash(h, "\x11\xaf", 2, 1,
	    "5ca7133fa735326081558ac312c620eeca9970d1e70a4b95533d956f072d1f98");
	/* The padding's edges, by sha256sum. */
	assert_hash(
	    h, a, 55, 55, "9f4390f8d30c2dd92ec9f095b65e2b9ae9b0a925a5258e241c9f1e910f734318");
	assert_hash(
	    h, a, 56, 55, "b35439a4ac6f0948b6d6f9e3c6af0f5f590ce20f1bde7090ef7970686ec6738a");
	assert_hash(
	    h, a, 64, 63, "ffe054fe7ae0cb6dc65c3af9b61d5209f439851db43d0ba5997337df154668eb");
	free(a);
	hash_free(h);
	hash_free(NULL);
}

static void parts_keep_their_layout(void **state)
{
	struct event_part in[2] = {help_part("upper", "x"), help_part("lower", NULL)},
	                  out[YOKE_CHANNELS_MAX];
	struct parts_bytes b;
	uint32_t n;

	in[1].has_before = true;
	memset(&in[1].before, 0x5a, sizeof(in[1].before));
	parts_encode(&b, in, 2);
	assert_int_equal(b.n, 4 + (4 + 5 + 1 + 1 + 32) + (4 + 5 + 1 + 32 + 1));
	assert_memory_equal(b.b, "\0\0\0\2\0\0\0\5upper\0\1", 15);
	assert_memory_equal(b.b + 15, in[0].after.b, 32);
	assert_memory_equal(b.b + 47, "\0\0\0\5lower\1\x5a\x5a", 12);
	assert_int_equal(b.b[b.n - 1], 0);
	assert_int_equal(parts_decode(b.b, b.n, out, &n), 0);
	assert_int_equal(n, 2);
	assert_memory_equal(out, in, sizeof(in));
}

/* Every cut and every flipped byte is either refused or read as parts of the same length: nothing
 * is read beyond. */
static void damaged_parts_are_refused(void **state)
{
	struct event_part in[YOKE_CHANNELS_MAX], out[YOKE_CHANNELS_MAX];
	struct parts_bytes b;
	uint32_t n;

	for (int i = 0; i < YOKE_CHANNELS_MAX; i++)
		in[i] = help_part("a-rather-long-name-of-a-channel", "x");
	parts_encode(&b, in, YOKE_CHANNELS_MAX);
	for (size_t cut = 0; cut < b.n; cut++) {
		unsigned char *copy = malloc(cut + 1);

		assert_non_null(copy);
		memcpy(copy, b.b, cut);
		assert_int_equal(parts_decode(copy, cut, out, &n), -1);
		free(copy);
	}
	for (size_t i = 0; i < b.n; i++) {
		struct parts_bytes bad = b;

		bad.b[i] ^= 0xff;
		if (parts_decode(bad.b, bad.n, out, &n) == 0)
			assert_int_equal(n, YOKE_CHANNELS_MAX);
		else
			assert_int_equal(n, 0);
	}
	assert_int_equal(parts_decode(NULL, 0, out, &n), -1);
	b.b[b.n] = 0;
	assert_int_equal(parts_decode(b.b, b.n + 1, out, &n), -1);
}

static void equal_parts_are_equal_in_any_order(void **state)
{
	struct event_part e[3] = {
	    help_part("upper", "x"), help_part("lower", "y"), help_part("upper", "x")};
	struct vault_part a[YOKE_CHANNELS_MAX], b[YOKE_CHANNELS_MAX];

	parts_after(a, e, 2);
	parts_after(b, e + 1, 2);
	assert_true(parts_same(a, 2, b, 2));
	assert_false(parts_same(a, 2, b, 1));
	assert_false(parts_same(a, 0, b, 0));
	b[0].present = false;
	assert_false(parts_same(a, 2, b, 2));
	b[0].present = true;
	b[0].sha.b[31] ^= 1;
	assert_false(parts_same(a, 2, b, 2));
}

static void put_number(FILE *f, uint64_t x, int bytes)
{
	while (bytes-- > 0)
		fputc((int)(x >> 8 * bytes & 0xff), f);
}

static void put_bytes(FILE *f, sqlite3_stmt *s, int column, bool length)
{
	const void *p = sqlite3_column_blob(s, column);
	int n = sqlite3_column_bytes(s, column);

	if (length)
		put_number(f, (uint64_t)n, 4);
	if (n > 0)
		assert_int_equal(fwrite(p, 1, (size_t)n, f), n);
}

/* SHA-256 of a file by the tool of the system's core utilities. */
static void ask_sha256sum(const char *file, unsigned char out[32])
{
	char command[400], line[80] = "";
	FILE *p;

	snprintf(command, sizeof(command), "sha256sum '%s'", file);
	p = popen(command, "re");
	assert_non_null(p);
	assert_non_null(fgets(line, sizeof(line), p));
	assert_int_equal(pclose(p), 0);
	for (int i = 0; i < 32; i++) {
		unsigned x;

		assert_int_equal(sscanf(line + 2 * i, "%2x", &x), 1);
		out[i] = (unsigned char)x;
	}
}

static void the_chain_can_be_recomputed_from_its_description(void **state)
{
	struct bench *b = *state;
	uint64_t events = help_day(b), n = 0;
	unsigned char prev[32] = {0};
	char file[300];
	sqlite3_stmt *s;
	struct vault_verdict out;

	snprintf(file, sizeof(file), "%s/entry", b->dir);
	assert_int_equal(
	    sqlite3_prepare_v2(b->v->db,
	        "SELECT seq,utc_us,ord,kind,who,origin,machine,job,revision,outcome,text,detail,"
	        "parts,hash FROM event ORDER BY seq",
	        -1, &s, NULL),
	    SQLITE_OK);
	while (sqlite3_step(s) == SQLITE_ROW) {
		FILE *f = fopen(file, "we");

		assert_non_null(f);
		fwrite(prev, 1, 32, f);
		fputs("yoke event 1\n", f);
		for (int i = 0; i < 3; i++)
			put_number(f, (uint64_t)sqlite3_column_int64(s, i), 8);
		for (int i = 3; i < 12; i++)
			put_bytes(f, s, i, true);
		put_bytes(f, s, 12, false);
		assert_int_equal(fclose(f), 0);
		ask_sha256sum(file, prev);
		assert_int_equal(sqlite3_column_bytes(s, 13), 32);
		assert_memory_equal(sqlite3_column_blob(s, 13), prev, 32);
		n++;
	}
	sqlite3_finalize(s);
	unlink(file);
	assert_int_equal(n, events);
	assert_int_equal(vault_verify(b->v, false, &out), 0);
	assert_true(out.good);
	assert_memory_equal(out.head.b, prev, 32);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(sha256_is_the_published_one),
	    cmocka_unit_test(parts_keep_their_layout),
	    cmocka_unit_test(damaged_parts_are_refused),
	    cmocka_unit_test(equal_parts_are_equal_in_any_order),
	    cmocka_unit_test_setup_teardown(
	        the_chain_can_be_recomputed_from_its_description, help_setup, help_teardown),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
