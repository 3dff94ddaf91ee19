#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include "append.h"
#include "open.h"
#include "repair.h"
#include "replace.h"
#include "stale.h"

void repair_say(struct repair *r, const char *format, ...)
{
	char line[512];
	va_list ap;

	va_start(ap, format);
	vsnprintf(line, sizeof(line), format, ap);
	va_end(ap);
	r->say(r->ctx, line);
}

/* What was saved and what was not, as an event: verify reads lost_programs. */
static int record(struct repair *r, const struct vault_by *by)
{
	const struct rescue_repair *o = r->out;
	struct text text = {0}, detail = {0};
	struct vault_about a = {.outcome = "repaired"};
	int rc = -1;

	text_printf(&text, "saved: %llu entries, %llu programs; lost: ", (unsigned long long)o->events,
	    (unsigned long long)o->programs);
	if (o->lost_to)
		text_printf(&text, "entries %llu to %llu, ", (unsigned long long)o->lost_from,
		    (unsigned long long)o->lost_to);
	if (o->lost_checkpoints)
		text_printf(&text, "%llu checkpoints, ", (unsigned long long)o->lost_checkpoints);
	text_printf(&text, "%llu programs", (unsigned long long)o->lost_programs);
	text_printf(&detail,
	    "{\"entries\":%llu,\"lost_from\":%llu,\"lost_to\":%llu,\"unsealed\":[%s],"
	    "\"lost_programs\":[%s]}",
	    (unsigned long long)o->events, (unsigned long long)o->lost_from,
	    (unsigned long long)o->lost_to, r->unsealed.s ? r->unsealed.s : "",
	    r->lost.s ? r->lost.s : "");
	a.text = text.s;
	a.detail = detail.s;
	if (text.failed || detail.failed || r->lost.failed || r->unsealed.failed)
		db_say(r->to, "memory ran out");
	else if (vault_record_repaired(r->to, by, &a) &&
	         (!o->lost_to ||
	             stale(r->to, by, "repaired",
	                 "the vault was damaged and its last entries are lost: what happened then is not "
	                 "known; do not run the machine with what it holds before you have sent, restored "
	                 "or fetched") == 0))
		rc = 0;
	text_free(&text);
	text_free(&detail);
	return rc;
}

static int save_all(struct repair *r, const struct vault_by *by)
{
	/* Programs in transactions of their own: an event refers to what is there. */
	if (vault_begin(r->to) < 0)
		return -1;
	if (repair_trail(r) < 0) {
		vault_rollback(r->to);
		return -1;
	}
	if (vault_commit(r->to) < 0 || repair_programs(r) < 0 || vault_begin(r->to) < 0)
		return -1;
	if (record(r, by) < 0) {
		vault_rollback(r->to);
		return -1;
	}
	return vault_commit(r->to);
}

static int make_new(struct repair *r, const char *new, const struct vault_by *by,
    struct endnote *end, char *why, size_t n)
{
	struct vault_verdict verdict;
	int rc = -1;

	r->to = vault_open(new, why, n);
	if (!r->to)
		return -1;
	if (save_all(r, by) == 0 && vault_verify(r->to, true, &verdict) == 0 &&
	    append_end(r->to, &end->seq, &end->head) == 0) {
		r->out->good = verdict.good;
		snprintf(r->out->text, sizeof(r->out->text), "%s", verdict.text);
		rc = 0;
	} else {
		snprintf(why, n, "%s", vault_error(r->to));
	}
	vault_close(r->to);
	text_free(&r->lost);
	text_free(&r->unsealed);
	return rc;
}

int rescue_repair(const char *path, const struct vault_by *by, struct rescue_repair *out,
    void (*say)(void *ctx, const char *line), void *ctx, char *aside, char *why, size_t n)
{
	struct repair r = {.out = out, .say = say, .ctx = ctx};
	struct vault *held = open_lock(path, why, n);
	char new[RESCUE_PATH] = "";
	struct endnote end = {0};
	struct stat st;
	int rc = -1;

	*out = (struct rescue_repair){0};
	*aside = 0;
	if (!held)
		return -1;
	if (stat(held->path, &st) < 0) {
		snprintf(why, n, "vault %s: %s; bring a back-up back with --restore-vault", path,
		    strerror(errno));
		goto out;
	}
	endnote_read(held->path, &r.told);
	r.from = scrape_open(held->path, why, n);
	if (!r.from)
		goto out;
	if (replace_begin(held, new) < 0) {
		snprintf(why, n, "%s", vault_error(held));
		goto out;
	}
	if (make_new(&r, new, by, &end, why, n) < 0)
		goto out;
	if (out->events == 0 && out->programs == 0) {
		snprintf(why, n, "vault %s: nothing of a vault can be found in it", path);
		goto out;
	}
	rc = replace_end(held, new, &end, "damaged", by->utc_us, aside);
	if (rc < 0)
		snprintf(why, n, "%s", vault_error(held));
out:
	scrape_close(r.from);
	if (rc < 0 && *new)
		replace_undo(new);
	vault_close(held);
	return rc;
}
