#include "record_help.h"

uint64_t record_help_say(struct bench *b, record_fn *fn, const struct vault_about *a)
{
	struct vault_by by = help_by(b, "service");
	uint64_t seq = fn(b->v, &by, a);

	assert_recorded(b, seq);
	return seq;
}

void record_help_refused(
    struct bench *b, record_fn *fn, const struct vault_about *a, const char *why)
{
	struct vault_by by = help_by(b, "service");
	int64_t before = help_number(b->v->db, "SELECT count(*) FROM event");

	assert_int_equal(fn(b->v, &by, a), 0);
	if (!strstr(vault_error(b->v), why))
		fail_msg("'%s' does not say '%s'", vault_error(b->v), why);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM event"), before);
	assert_int_equal(b->v->depth, 0);
}

void record_help_parts(
    const struct vault_part *got, uint32_t n, const struct event_part *want, uint32_t wants)
{
	assert_int_equal(n, wants);
	for (uint32_t i = 0; i < n; i++) {
		assert_string_equal(got[i].channel, want[i].channel);
		assert_int_equal(got[i].present, want[i].has_after);
		if (want[i].has_after)
			assert_memory_equal(&got[i].sha, &want[i].after, sizeof(got[i].sha));
	}
}

void record_help_holds(struct bench *b, enum vault_content content, const char *job,
    const char *revision, const struct event_part *part, uint32_t parts)
{
	struct vault_machine m = help_machine(b);

	assert_string_equal(vault_content_name(m.content), vault_content_name(content));
	assert_string_equal(m.job, job);
	assert_string_equal(m.revision, revision);
	record_help_parts(m.part, m.parts, part, parts);
}

struct event record_help_last;
char record_help_text[9][200];

int record_help_keep(void *ctx, const struct event *e, const struct sha *hash)
{
	const char *from[9] = {e->who, e->from, e->machine, e->job, e->revision, e->outcome,
	    e->text, e->detail, event_name(e->kind)};

	record_help_last = *e;
	for (int i = 0; i < 9; i++)
		db_cut(record_help_text[i], sizeof(record_help_text[i]), from[i]);
	return 1;
}

/* The newest entry, as it is told. */
void record_help_newest(struct bench *b, const char *kind, const char *machine, const char *job,
    const char *revision, uint64_t order)
{
	assert_int_equal(
	    vault_events(b->v, &(struct vault_filter){.limit = 1}, record_help_keep, NULL), 1);
	assert_string_equal(record_help_text[8], kind);
	assert_string_equal(record_help_text[2], machine);
	assert_string_equal(record_help_text[3], job);
	assert_string_equal(record_help_text[4], revision);
	assert_int_equal(record_help_last.order, order);
}
