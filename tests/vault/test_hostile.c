/*
 * Goal: nothing that a name, a text or a path can contain changes what is recorded, reaches SQL, or
 * breaks the trail: it comes back byte for byte, or is refused in words.
 */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "vault_help.h"

static const char *const hostile[] = {
    "'); DROP TABLE event; --",
    "\"quoted\" 'twice' `thrice`",
    "%s%n%d{}[]?*",
    "..",
    "../../etc/passwd",
    "\xff\xfe\x80 not UTF-8 \xc3",
    "\xed\xa0\x80 half a surrogate, \xf4\x90\x80\x80 too far, \xc0\xaf overlong",
    "\x1b[2J\x07\x01\x7f\r\n\t",
    "\xe2\x80\xae turned round \xe2\x80\xac",
    "file:vault.db?mode=ro",
    "NULL",
    "0x1200",
    " ",
};

struct seen {
	const char *want;
	int n;
};

static int check_event(void *ctx, const struct event *e, const struct sha *hash)
{
	struct seen *s = ctx;
	const char *text[] = {
	    e->who, e->from, e->machine, e->job, e->revision, e->outcome, e->text, e->detail};

	for (size_t i = 0; i < sizeof(text) / sizeof(text[0]); i++)
		assert_string_equal(text[i], s->want);
	s->n++;
	return 0;
}

static void strings_come_back_byte_for_byte(void **state)
{
	struct bench *b = *state;

	for (size_t i = 0; i < sizeof(hostile) / sizeof(hostile[0]); i++) {
		const char *s = hostile[i];
		struct vault_by by = {1, s, s};
		struct vault_about a = {s, s, s, 0, s, s, s, NULL, 0};
		struct seen seen = {s, 0};

		if (vault_record_refused(b->v, &by, &a) == 0)
			fail_msg("%s", vault_error(b->v));
		assert_int_equal(
		    vault_events(b->v, &(struct vault_filter){.job = s, .machine = s, .who = s},
		        check_event, &seen),
		    0);
		assert_int_equal(seen.n, 1);
	}
	help_assert_good(b, sizeof(hostile) / sizeof(hostile[0]));
}

static int find_slot(void *ctx, const struct vault_slot *s)
{
	*(struct vault_slot *)ctx = *s;
	return 0;
}

static void names_are_only_names(void **state)
{
	struct bench *b = *state;

	for (size_t i = 0; i < sizeof(hostile) / sizeof(hostile[0]); i++) {
		const char *s = hostile[i];
		struct event_part part = {.has_after = true};
		struct vault_by by = {1, s, s};
		struct vault_about a = {s, s, s, 0, "O1", s, s, &part, 1};
		struct vault_slot slot = {.seq = 0};
		struct vault_machine m;
		struct vault_pair p;
		struct sha sha;

		snprintf(part.channel, sizeof(part.channel), "%s", s);
		part.after = help_keep(b, s, strlen(s));
		assert_recorded(b, vault_record_arrived(b->v, &by, &a));
		assert_recorded(b, vault_record_released(b->v, &by, &a));
		assert_recorded(b, vault_record_carried(b->v, &by, &a));
		assert_recorded(b, vault_record_locked(b->v, &by, &a));
		assert_int_equal(vault_slots(b->v, s, s, s, find_slot, &slot), 0);
		assert_string_equal(slot.path, s);
		assert_string_equal(slot.channel, s);
		assert_int_equal(vault_pair(b->v, s, s, NULL, &p), 1);
		assert_int_equal(vault_machine(b->v, s, &m), 1);
		assert_string_equal(m.name, s);
		assert_string_equal(m.job, s);
		assert_string_equal(m.lock_text, s);
		assert_int_equal(vault_path(b->v, s, &sha), 1);
		assert_memory_equal(&sha, &part.after, sizeof(sha));
	}
	help_assert_good(b, 0);
}

static int check_long(void *ctx, const struct event *e, const struct sha *hash)
{
	assert_string_equal(e->text, ctx);
	assert_string_equal(e->detail, ctx);
	return 0;
}

/* A megabyte of text is kept whole in the trail; the state keeps what fits, cut between two
 * characters. */
static void a_long_text_is_kept(void **state)
{
	struct bench *b = *state;
	enum { LONG = 1 << 20 };
	char *s = malloc(LONG + 1);
	struct vault_machine m;
	struct vault_by by = {1, s, "socket"};
	struct vault_about a = {.machine = "lathe", .text = s, .detail = s};
	char *detail;

	assert_non_null(s);
	for (int i = 0; i < LONG; i++)
		s[i] = "\xe2\x82\xac"[i % 3]; /* the euro sign, three bytes */
	s[LONG] = 0;
	assert_recorded(b, vault_record_locked(b->v, &by, &a));
	assert_int_equal(
	    vault_events(b->v, &(struct vault_filter){.machine = "lathe"}, check_long, s), 0);
	detail = vault_event_detail(b->v, 1);
	assert_string_equal(detail, s);
	free(detail);
	assert_int_equal(vault_machine(b->v, "lathe", &m), 1);
	assert_int_equal(strlen(m.lock_text), 510); /* 170 whole characters fit into 511 bytes */
	assert_memory_equal(m.lock_text, s, 510);
	help_assert_good(b, 1);
	free(s);
}

static void a_text_beyond_all_measure_is_refused(void **state)
{
	struct bench *b = *state;
	char *s = malloc(DB_TEXT_MAX + 2);
	struct vault_by by = {1, "anna", "socket"};

	assert_non_null(s);
	memset(s, 'x', DB_TEXT_MAX + 1);
	s[DB_TEXT_MAX + 1] = 0;
	assert_int_equal(vault_record_refused(b->v, &by, &(struct vault_about){.text = s}), 0);
	assert_non_null(strstr(vault_error(b->v), "longer than 64 MiB"));
	free(s);
	assert_int_equal(vault_record_refused(b->v, &by, &(struct vault_about){0}), 1);
	help_assert_good(b, 1);
}

static void a_text_is_cut_between_characters(void **state)
{
	char out[8];

	memset(out, 'x', sizeof(out));
	db_cut(out, sizeof(out), "abc");
	assert_memory_equal(out, "abc\0\0\0\0", 8); /* no rest of what was there before */
	db_cut(out, sizeof(out), "abcdefg");
	assert_string_equal(out, "abcdefg");
	db_cut(out, sizeof(out), "abcdef\xc3\xa9");
	assert_string_equal(out, "abcdef");
	db_cut(out, sizeof(out), "abcd\xf0\x9f\x94\xa7");
	assert_string_equal(out, "abcd");
	db_cut(out, sizeof(out), "\x80\x80\x80\x80\x80\x80\x80\x80\x80\x80");
	assert_true(strlen(out) >= 4 && strlen(out) <= 7);
	db_cut(out, sizeof(out), NULL);
	assert_string_equal(out, "");
}

/* SQLite would take some names for addresses. */
static void a_path_is_only_a_path(void **state)
{
	struct bench *b = *state;
	char why[600], cwd[4096];
	static const char *const name[] = {":memory:", "file:x?mode=memory"};

	assert_non_null(getcwd(cwd, sizeof(cwd)));
	assert_int_equal(chdir(b->dir), 0);
	for (size_t i = 0; i < 2; i++) {
		char lock[100];
		struct vault *v = vault_open(name[i], why, sizeof(why));

		assert_non_null(v);
		vault_close(v);
		assert_int_equal(unlink(name[i]), 0);
		snprintf(lock, sizeof(lock), "%s.lock", name[i]);
		assert_int_equal(unlink(lock), 0);
		snprintf(lock, sizeof(lock), "%s.end", name[i]);
		assert_int_equal(unlink(lock), 0);
	}
	assert_int_equal(chdir(cwd), 0);
	assert_null(vault_open("", why, sizeof(why)));
	assert_non_null(strstr(why, "empty"));
	assert_null(vault_open(b->dir, why, sizeof(why)));
	assert_non_null(strstr(why, "no regular file"));
	snprintf(cwd, sizeof(cwd), "%s.lock", b->dir);
	unlink(cwd);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(strings_come_back_byte_for_byte),
	    TEST(names_are_only_names),
	    TEST(a_long_text_is_kept),
	    TEST(a_text_beyond_all_measure_is_refused),
	    cmocka_unit_test(a_text_is_cut_between_characters),
	    TEST(a_path_is_only_a_path),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
