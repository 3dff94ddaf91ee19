/*
 * Goal: whichever call to the disk goes wrong, once or from then on, what was acknowledged is there
 * after the next start, nothing is half there, and the trail fits. Every call of a short day is
 * made to fail in turn.
 */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "fault_vfs.h"
#include "vault_help.h"

struct day {
	uint64_t acknowledged; /* seq of the last event that was reported as recorded */
	bool kept_small, kept_big;
	unsigned failures;
};

static char big[3 << 19];

static bool keep(struct day *d, struct vault *v, const void *bytes, size_t n)
{
	struct sha sha = help_sha(bytes, n);
	struct vault_stage *s = vault_stage_new(v);

	if (s && vault_stage_add(s, bytes, n) == 0) {
		if (vault_stage_keep(s, &sha) == 0)
			return true;
	} else {
		vault_stage_drop(s);
	}
	assert_true(*vault_error(v) != 0);
	d->failures++;
	return false;
}

static uint64_t note(struct day *d, struct vault *v, uint64_t seq)
{
	if (seq == 0) {
		assert_true(*vault_error(v) != 0);
		d->failures++;
	} else {
		assert_true(seq > d->acknowledged);
		d->acknowledged = seq;
	}
	return seq;
}

/* Open, work, look, close; whatever fails, go on. */
static void run(struct bench *b, struct day *d)
{
	struct vault_by by = {1, "anna", "socket"};
	struct event_part part[2] = {help_part("upper", "small"), help_part("lower", NULL)};
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "A",
	    .part = part,
	    .parts = 2,
	    .text = "lathe/1200",
	    .outcome = "send"};
	struct vault_verdict out;
	char why[600] = "";
	uint64_t id;

	b->v = vault_open(b->path, why, sizeof(why));
	if (!b->v) {
		assert_true(*why != 0);
		d->failures++;
		return;
	}
	note(d, b->v, vault_record_started(b->v, &by, "yoked", ""));
	d->kept_big = keep(d, b->v, big, sizeof(big));
	d->kept_small = keep(d, b->v, "small", 5);
	if (vault_begin(b->v) == 0) {
		uint64_t before = d->acknowledged, one, two;

		a.parts = 1;
		one = d->kept_small ? vault_record_arrived(b->v, &by, &a) : 0;
		a.parts = 2;
		two = vault_record_released(b->v, &by, &a);
		if (vault_commit(b->v) == 0) {
			assert_true(two != 0);
			d->acknowledged = two;
		} else {
			assert_true(one == 0 || two == 0 || *vault_error(b->v) != 0);
			d->acknowledged = before;
			d->failures++;
		}
	} else {
		d->failures++;
	}
	id = note(d, b->v, vault_record_queued(b->v, &by, &a));
	a.order = id;
	if (id != 0 && note(d, b->v, vault_record_carrying(b->v, &by, &a)) != 0 &&
	    note(d, b->v, vault_record_step(b->v, &by, &a)) != 0)
		note(d, b->v, vault_record_carried(b->v, &by, &a));
	if (vault_verify(b->v, true, &out) != 0)
		d->failures++;
	else if (!out.good)
		d->failures++; /* a page that could not be read looks like damage */
	vault_close(b->v);
	b->v = NULL;
}

static void assert_whole(struct bench *b, const struct day *d, unsigned n)
{
	struct vault_verdict out;
	struct sha sha;

	fault_at(0, false, false);
	help_open(b);
	assert_int_equal(vault_verify(b->v, true, &out), 0);
	if (!out.good)
		fail_msg("call %u: entry %llu: %s", n, (unsigned long long)out.first_bad, out.text);
	if (out.events < d->acknowledged)
		fail_msg("call %u: %llu of %llu events are there", n,
		    (unsigned long long)out.events, (unsigned long long)d->acknowledged);
	sha = help_sha("small", 5);
	assert_true(!d->kept_small || vault_program_size(b->v, &sha) == 5);
	sha = help_sha(big, sizeof(big));
	assert_true(!d->kept_big || vault_program_size(b->v, &sha) == (int64_t)sizeof(big));
	assert_int_equal(
	    help_number(b->v->db, "SELECT count(*) FROM program WHERE sha IS NULL"), 0);
	assert_int_equal(
	    help_number(b->v->db,
	        "SELECT count(*) FROM piece WHERE program NOT IN (SELECT id FROM program)"),
	    0);
	vault_close(b->v);
	b->v = NULL;
}

static void sweep(struct bench *b, bool for_ever, bool full)
{
	static const char *const tail[] = {"", "-wal", "-shm", ".end"};
	unsigned n = 0, told = 0;
	bool happened;

	vault_close(b->v);
	do {
		struct day d = {0};
		char name[320];

		for (int i = 0; i < 4; i++) {
			snprintf(name, sizeof(name), "%s%s", b->path, tail[i]);
			unlink(name);
		}
		fault_at(++n, for_ever, full);
		run(b, &d);
		happened = fault_happened();
		if (d.failures > 0)
			told++;
		if (!happened)
			assert_int_equal(d.failures, 0);
		assert_whole(b, &d, n);
	} while (happened);
	print_message("%u calls made to fail, %u told to a caller\n", n - 1, told);
	assert_true(n > 100 && told > n / 4);
	help_open(b);
}

static void one_call_fails(void **state)
{
	sweep(*state, false, false);
}

static void one_call_meets_a_full_disk(void **state)
{
	sweep(*state, false, true);
}

static void the_disk_is_gone_from_then_on(void **state)
{
	sweep(*state, true, false);
}

static void the_disk_stays_full(void **state)
{
	sweep(*state, true, true);
}

static int install(void **state)
{
	fault_install();
	return 0;
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(one_call_fails),
	    TEST(one_call_meets_a_full_disk),
	    TEST(the_disk_is_gone_from_then_on),
	    TEST(the_disk_stays_full),
	};
	return cmocka_run_group_tests(tests, install, NULL);
}
