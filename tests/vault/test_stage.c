/*
 * Goal: a program comes out of the vault exactly as it went in, whatever its size and however it
 * was cut, is stored once, and never lies under a SHA-256 that is not its own; what is not kept
 * leaves nothing behind.
 */
#include <stdlib.h>
#include <sys/resource.h>
#include "hash.h"
#include "vault_help.h"

#if defined(__SANITIZE_ADDRESS__)
#define SANITIZED 1
#elif defined(__has_feature)
#define SANITIZED __has_feature(address_sanitizer)
#else
#define SANITIZED 0
#endif

struct got {
	unsigned char *p;
	size_t n, cap, calls;
};

static int collect(void *ctx, const void *bytes, size_t n)
{
	struct got *g = ctx;

	g->calls++;
	if (g->n + n > g->cap)
		return -1;
	memcpy(g->p + g->n, bytes, n);
	g->n += n;
	return 0;
}

static int refuse(void *ctx, const void *bytes, size_t n)
{
	return 1;
}

/* Bytes that do not repeat with any piece's length. */
static unsigned char *make_bytes(size_t n)
{
	unsigned char *p = malloc(n + 1);
	uint32_t x = 12345;

	assert_non_null(p);
	for (size_t i = 0; i < n; i++) {
		x = x * 1664525 + 1013904223;
		p[i] = x >> 24;
	}
	return p;
}

static void assert_reads(struct bench *b, const struct sha *sha, const void *bytes, size_t n)
{
	struct got g = {malloc(n + 1), 0, n, 0};

	assert_non_null(g.p);
	assert_int_equal(vault_program_size(b->v, sha), n);
	if (vault_program_read(b->v, sha, collect, &g) != 0)
		fail_msg("%s", vault_error(b->v));
	assert_int_equal(g.n, n);
	assert_memory_equal(g.p, bytes, n);
	free(g.p);
}

static void every_size_comes_back(void **state)
{
	struct bench *b = *state;
	static const size_t size[] = {
	    0, 1, 4095, 4096, 4097, (1 << 20) - 1, 1 << 20, (1 << 20) + 1, 5 << 20};
	static const size_t step[] = {1 << 20, 1000003, 65536};
	struct sha sha[sizeof(size) / sizeof(size[0])];

	for (size_t i = 0; i < sizeof(size) / sizeof(size[0]); i++) {
		unsigned char *p = make_bytes(size[i]);
		struct vault_stage *s = vault_stage_new(b->v);
		size_t by = step[i % 3];

		assert_non_null(s);
		sha[i] = help_sha(p, size[i]);
		for (size_t at = 0; at < size[i]; at += by)
			assert_int_equal(
			    vault_stage_add(s, p + at, at + by < size[i] ? by : size[i] - at), 0);
		assert_int_equal(vault_stage_keep(s, &sha[i]), 0);
		assert_reads(b, &sha[i], p, size[i]);
		free(p);
	}
	help_reopen(b);
	for (size_t i = 0; i < sizeof(size) / sizeof(size[0]); i++) {
		unsigned char *p = make_bytes(size[i]);

		assert_reads(b, &sha[i], p, size[i]);
		free(p);
	}
	help_assert_good(b, 0);
}

static void the_same_program_is_stored_once(void **state)
{
	struct bench *b = *state;
	unsigned char *p = make_bytes(3 << 20);
	struct sha big = help_keep(b, p, 3 << 20), small = help_keep(b, "M30", 3);

	help_keep(b, p, 3 << 20);
	help_keep(b, "M30", 3);
	help_keep(b, "", 0);
	help_keep(b, NULL, 0);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM program"), 3);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM piece"), 3 + 1);
	assert_reads(b, &big, p, 3 << 20);
	assert_reads(b, &small, "M30", 3);
	free(p);
	help_assert_good(b, 0);
}

static void several_stages_grow_side_by_side(void **state)
{
	struct bench *b = *state;
	enum { STAGES = 5, BYTES = 5 << 19 };
	struct vault_stage *s[STAGES];
	unsigned char *p = make_bytes(BYTES + STAGES);
	struct vault_by by;

	for (int i = 0; i < STAGES; i++)
		assert_non_null(s[i] = vault_stage_new(b->v));
	for (size_t at = 0; at < BYTES; at += 1 << 17) {
		for (int i = 0; i < STAGES; i++)
			assert_int_equal(vault_stage_add(s[i], p + i + at, 1 << 17), 0);
		by = help_by(b, "service"); /* others write in between */
		assert_recorded(b, vault_record_refused(b->v, &by, &(struct vault_about){0}));
	}
	vault_stage_drop(s[2]);
	for (int i = 0; i < STAGES; i++) {
		struct sha sha = help_sha(p + i, BYTES);

		if (i != 2) {
			assert_int_equal(vault_stage_keep(s[i], &sha), 0);
			assert_reads(b, &sha, p + i, BYTES);
		} else {
			assert_int_equal(vault_program_size(b->v, &sha), -1);
		}
	}
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM program"), STAGES - 1);
	assert_int_equal(
	    help_number(b->v->db,
	        "SELECT count(*) FROM piece WHERE program NOT IN (SELECT id FROM program)"),
	    0);
	free(p);
	help_assert_good(b, 0);
}

static void a_wrong_sum_is_refused(void **state)
{
	struct bench *b = *state;
	unsigned char *p = make_bytes(2 << 20);
	struct sha wrong = help_sha("something else", 14);
	struct vault_stage *s = vault_stage_new(b->v);

	assert_int_equal(vault_stage_add(s, p, 2 << 20), 0);
	assert_int_equal(vault_stage_keep(s, &wrong), -1);
	assert_non_null(strstr(vault_error(b->v), "SHA-256"));
	assert_int_equal(vault_program_size(b->v, &wrong), -1);
	/* The next stage tidies up what that one has written. */
	vault_stage_drop(vault_stage_new(b->v));
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM program"), 0);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM piece"), 0);
	free(p);
}

static void leftovers_of_a_kill_are_gone_after_the_next_open(void **state)
{
	struct bench *b = *state;
	unsigned char *p = make_bytes(2 << 20);
	struct vault_stage *s = vault_stage_new(b->v);

	assert_int_equal(vault_stage_add(s, p, 2 << 20), 0);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM piece"), 2);
	/* Closing with an open stage leaves the file as a kill would; the stage's owner is told. */
	help_reopen(b);
	assert_int_equal(vault_stage_add(s, p, 1), -1);
	vault_stage_drop(s);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM program"), 0);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM piece"), 0);
	free(p);
	vault_stage_drop(NULL);
}

static void a_stage_belongs_to_the_transaction_around_it(void **state)
{
	struct bench *b = *state;
	unsigned char *p = make_bytes(3 << 20);
	struct sha big = help_sha(p, 3 << 20), small = help_sha("M02", 3);
	struct vault_stage *outside = vault_stage_new(b->v), *inside, *after;

	assert_int_equal(vault_stage_add(outside, p, 1 << 19), 0);
	assert_int_equal(vault_begin(b->v), 0);
	inside = vault_stage_new(b->v);
	assert_int_equal(vault_stage_add(inside, p, 2 << 20), 0);
	help_keep(b, "M02", 3);
	assert_true(vault_program_size(b->v, &small) == 3);
	vault_rollback(b->v);

	/* Kept inside: gone. Written inside: broken. Only held in memory: as if nothing had
	 * happened. */
	assert_int_equal(vault_program_size(b->v, &small), -1);
	after = vault_stage_new(b->v);
	assert_int_equal(
	    vault_stage_add(after, p, 2 << 20), 0); /* may get the number that inside had */
	assert_int_equal(vault_stage_add(inside, p, 1), -1);
	assert_non_null(strstr(vault_error(b->v), "read it again"));
	vault_stage_drop(inside);
	assert_int_equal(vault_stage_add(outside, p + (1 << 19), (3 << 20) - (1 << 19)), 0);
	assert_int_equal(vault_stage_keep(outside, &big), 0);
	assert_reads(b, &big, p, 3 << 20);
	assert_int_equal(vault_stage_add(after, p + (2 << 20), 1 << 20), 0);
	assert_int_equal(vault_stage_keep(after, &big), 0);
	assert_reads(b, &big, p, 3 << 20);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM program"), 1);

	assert_int_equal(vault_begin(b->v), 0);
	help_keep(b, "M02", 3);
	assert_int_equal(vault_commit(b->v), 0);
	help_reopen(b);
	assert_reads(b, &small, "M02", 3);
	free(p);
	help_assert_good(b, 0);
}

static void a_reader_may_give_up(void **state)
{
	struct bench *b = *state;
	struct sha sha = help_keep(b, "M30", 3);

	assert_int_equal(vault_program_read(b->v, &sha, refuse, NULL), -1);
	assert_reads(b, &sha, "M30", 3);
	sha.b[0] ^= 1;
	assert_int_equal(vault_program_read(b->v, &sha, refuse, NULL), -1);
	assert_non_null(strstr(vault_error(b->v), "not in the vault"));
}

/* More than the limit of yoke/limits.h, without its memory: the same piece over and over. */
static void a_program_beyond_the_limit_is_refused(void **state)
{
	struct bench *b = *state;
	struct vault_stage *s = vault_stage_new(b->v);
	unsigned char *p = make_bytes(1 << 20);

	assert_int_equal(vault_stage_add(s, p, 1 << 20), 0);
	assert_int_equal(vault_stage_add(s, p, YOKE_PROGRAM_MAX), -1);
	assert_non_null(strstr(vault_error(b->v), "1 GiB"));
	assert_int_equal(vault_stage_keep(s, &(struct sha){0}), -1);
	free(p);
}

/* Memory stays where it is while a program of 200 MB goes in and comes out. */
static int count(void *ctx, const void *bytes, size_t n)
{
	*(uint64_t *)ctx += n;
	return 0;
}

static void a_large_program_takes_little_memory(void **state)
{
	struct bench *b = *state;
	enum { PIECES = 200 };
	unsigned char *p = make_bytes(1 << 20);
	struct vault_stage *s = vault_stage_new(b->v);
	struct hash *h = hash_new();
	struct rusage before, after;
	int64_t sqlite = sqlite3_memory_used();
	struct sha sha;
	uint64_t got = 0;

	sqlite3_memory_highwater(1);
	getrusage(RUSAGE_SELF, &before);
	for (int i = 0; i < PIECES; i++) {
		p[0] = (unsigned char)i;
		hash_add(h, p, 1 << 20);
		assert_int_equal(vault_stage_add(s, p, 1 << 20), 0);
	}
	assert_int_equal(hash_end(h, &sha), 0);
	assert_int_equal(vault_stage_keep(s, &sha), 0);
	assert_int_equal(vault_program_read(b->v, &sha, count, &got), 0);
	getrusage(RUSAGE_SELF, &after);
	assert_int_equal(got, (uint64_t)PIECES << 20);
	assert_true(sqlite3_memory_highwater(0) - sqlite < 16 << 20);
	if (!SANITIZED) /* AddressSanitizer keeps freed memory for a while */
		assert_true(after.ru_maxrss - before.ru_maxrss < 32 * 1024); /* KiB */
	hash_free(h);
	free(p);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(every_size_comes_back),
	    TEST(the_same_program_is_stored_once),
	    TEST(several_stages_grow_side_by_side),
	    TEST(a_wrong_sum_is_refused),
	    TEST(leftovers_of_a_kill_are_gone_after_the_next_open),
	    TEST(a_stage_belongs_to_the_transaction_around_it),
	    TEST(a_reader_may_give_up),
	    TEST(a_program_beyond_the_limit_is_refused),
	    TEST(a_large_program_takes_little_memory),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
