/* Goal: refusals become few events however many there are, none is lost from the count, and each
 * person's flood leaves the others their own. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "refusals.h"

struct seen {
	size_t events;
	uint64_t told; /* refusals that the events speak of */
	bool broken;   /* the vault takes nothing */
	char who[200], text[700], outcome[40], machine[80], job[80];
};

static bool record(void *ctx, const char *who, const char *from, const struct vault_about *a)
{
	struct seen *s = ctx;
	unsigned long long more = 1;

	if (s->broken)
		return false;
	if (a->detail)
		assert_int_equal(sscanf(a->detail, "{\"more\":%llu}", &more), 1);
	s->events++;
	s->told += more;
	snprintf(s->who, sizeof(s->who), "%s", who);
	snprintf(s->text, sizeof(s->text), "%s", a->text);
	snprintf(s->outcome, sizeof(s->outcome), "%s", a->outcome);
	snprintf(s->machine, sizeof(s->machine), "%s", a->machine);
	snprintf(s->job, sizeof(s->job), "%s", a->job);
	return true;
}

static void tell(struct refusals *r, uint64_t now, const char *who, const char *job, const char *text)
{
	struct vault_about a = {.machine = "M1", .job = job, .outcome = "held", .text = text};

	refusals_tell(r, now, who, "socket", &a);
}

static void the_same_is_counted(void **state)
{
	struct seen s = {0};
	struct refusals *r = refusals_new(record, &s);

	for (uint64_t i = 0; i < 1000; i++)
		tell(r, 5000 + i, "anna (uid 1002)", "J1", "send: it is held");
	assert_int_equal(s.events, 1);
	assert_string_equal(s.text, "send: it is held");
	refusals_due(r, 64999); /* a minute after the first, less a millisecond */
	assert_int_equal(s.events, 1);
	refusals_due(r, 65000);
	assert_int_equal(s.events, 2);
	assert_int_equal(s.told, 1000);
	assert_string_equal(s.text, "send: it is held (999 more of the same within a minute)");
	assert_string_equal(s.who, "anna (uid 1002)");
	assert_string_equal(s.machine, "M1");
	assert_string_equal(s.job, "J1");
	/* The next minute begins anew, and one alone is told once. */
	tell(r, 70000, "anna (uid 1002)", "J1", "send: it is held");
	refusals_due(r, 200000);
	assert_int_equal(s.events, 3);
	/* Each of these is another: who, what about, why. */
	tell(r, 300000, "anna (uid 1002)", "J1", "send: it is held");
	tell(r, 300000, "ben (uid 1003)", "J1", "send: it is held");
	tell(r, 300000, "anna (uid 1002)", "J2", "send: it is held");
	tell(r, 300000, "anna (uid 1002)", "J1", "send: it is locked");
	assert_int_equal(s.events, 7);
	refusals_free(r);
}

static void one_person_is_bounded(void **state)
{
	struct seen s = {0};
	struct refusals *r = refusals_new(record, &s);
	char job[32];

	for (int i = 0; i < 5000; i++) {
		snprintf(job, sizeof(job), "J%d", i);
		tell(r, 1000, "anna (uid 1002)", job, "send: there is no such pair");
	}
	assert_int_equal(s.events, 10);
	tell(r, 1000, "ben (uid 1003)", "J1", "send: there is no such pair");
	assert_int_equal(s.events, 11);
	assert_string_equal(s.who, "ben (uid 1003)");
	refusals_due(r, 61000);
	assert_int_equal(s.events, 12);
	assert_int_equal(s.told, 5001);
	assert_string_equal(s.outcome, "many");
	assert_string_equal(s.who, "anna (uid 1002)");
	refusals_free(r);
}

static void all_together_are_bounded(void **state)
{
	struct seen s = {0};
	struct refusals *r = refusals_new(record, &s);
	char who[32];

	for (int i = 0; i < 1000; i++) {
		snprintf(who, sizeof(who), "a (uid %d)", i);
		for (int k = 0; k < 3; k++)
			tell(r, 1000, who, k ? "J1" : "J2", "send: it is held");
	}
	assert_int_equal(s.events, 64);
	refusals_end(r);
	assert_int_equal(s.told, 3000);
	assert_true(s.events <= 2 * 64 + 1);
	assert_string_equal(s.who, "several");
	refusals_free(r);
}

/* A full disk: what could not be told is told when it can be, and not before. */
static void nothing_is_dropped_silently(void **state)
{
	struct seen s = {0};
	struct refusals *r = refusals_new(record, &s);

	tell(r, 1000, "anna (uid 1002)", "J1", "send: it is held");
	tell(r, 1001, "anna (uid 1002)", "J1", "send: it is held");
	s.broken = true;
	refusals_due(r, 70000);
	assert_int_equal(s.events, 1);
	s.broken = false;
	refusals_due(r, 71000);
	assert_int_equal(s.events, 2);
	assert_int_equal(s.told, 2);
	refusals_free(r);
}

/* A name that is longer than the vault takes was refused by it, and the refusal was no event. */
static void long_names_are_cut(void **state)
{
	struct seen s = {0};
	struct refusals *r = refusals_new(record, &s);
	char job[300], text[3000];

	memset(job, '7', sizeof(job) - 1);
	job[sizeof(job) - 1] = '\0';
	memset(text, 0, sizeof(text));
	for (size_t i = 0; i + 2 < sizeof(text); i += 2)
		memcpy(text + i, "\xc3\xa4", 2); /* two bytes a character */
	tell(r, 1000, "anna (uid 1002)", job, text);
	assert_int_equal(s.events, 1);
	assert_int_equal(strlen(s.job), YOKE_NAME_MAX);
	assert_true(strlen(s.text) < 512 && strlen(s.text) % 2 == 0);
	refusals_free(r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_same_is_counted),
	    cmocka_unit_test(one_person_is_bounded),
	    cmocka_unit_test(all_together_are_bounded),
	    cmocka_unit_test(nothing_is_dropped_silently),
	    cmocka_unit_test(long_names_are_cut),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
