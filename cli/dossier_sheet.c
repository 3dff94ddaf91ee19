#include "dossier_sheet.h"

#include <pwd.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "ask.h"
#include "dossier_changes.h"
#include "dossier_sections.h"
#include "dossier_words.h"

static void fact(struct sheet *s, const char *name)
{
	sheet_cell(s, "%s", name);
}

static void put_made(struct sheet *s)
{
	char now[32];
	time_t t = time(NULL);
	struct tm tm;
	const struct passwd *me = getpwuid(getuid());

	fact(s, "Made");
	if (gmtime_r(&t, &tm) && strftime(now, sizeof(now), "%Y-%m-%dT%H:%M:%SZ", &tm))
		dossier_words_time(s, now);
	else
		sheet_cell(s, "at an unknown time");
	sheet_line(s, "by %s (uid %lu), yoke " YOKE_VERSION, me ? me->pw_name : "?",
	    (unsigned long)getuid());
}

/* What ties the paper to the trail. */
static void put_tie(struct sheet *s, const struct dossier *d)
{
	size_t n = json_array_size(d->events);

	fact(s, "Entries of this job");
	sheet_cell(s, "%zu", n);
	if (n)
		sheet_line(s, "from %lld to %lld",
		    (long long)ask_number(json_array_get(d->events, 0), "seq"),
		    (long long)ask_number(json_array_get(d->events, n - 1), "seq"));
	fact(s, "Newest entry of the whole trail");
	sheet_cell(s, "%lld", (long long)ask_number(d->head, "seq"));
	fact(s, "Time of that entry");
	dossier_words_time(s, ask_string(d->head, "time"));
	fact(s, "Hash of that entry (SHA-256)");
	sheet_cell(s, "%s", ask_string(d->head, "hash"));
}

/* What the service's key has signed, word for word: a file with this report is one with that checkpoint. */
static void put_seal(struct sheet *s, const struct dossier *d)
{
	const char *error = ask_string(d->trail, "error"), *line = d->checkpoint;

	fact(s, "Newest signed checkpoint");
	if (!line) {
		sheet_cell(s, "none%s%s", *error ? ": " : "", error);
		return;
	}
	sheet_cell(s, "number %lld, over entries 1 to %lld", (long long)ask_number(d->trail, "number"),
	    (long long)ask_number(d->trail, "sealed"));
	fact(s, "By the key");
	sheet_cell(s, "%s", ask_string(d->trail, "key"));
	sheet_add(s, SHEET_PARAGRAPH, "The checkpoint, word for word:");
	for (size_t n; line[strspn(line, "\n")]; line += n + (line[n] != '\0')) {
		n = strcspn(line, "\n");
		sheet_add(s, SHEET_VERBATIM, "%.*s", (int)n, line);
	}
}

static void put_front(
    struct sheet *s, const struct dossier *d, const struct dossier_sheet_ask *ask)
{
	static const char *const columns[] = {"OF THIS REPORT", "VALUE"};

	sheet_add(s, SHEET_TITLE, "Audit report of job %s", ask->job);
	sheet_add(s, SHEET_PARAGRAPH,
	    "Everything that the audit trail of this service has on job %s: every revision and every "
	    "content, who brought, decided, carried and proved it, and what differs between them.",
	    ask->job);
	sheet_table(s, columns, 2);
	fact(s, "Job");
	sheet_cell(s, "%s", ask->job);
	put_made(s);
	fact(s, "Service");
	sheet_cell(s, "yoked %s", ask_string(d->status, "version"));
	fact(s, "Programs compared by");
	sheet_cell(s, "%s", ask->settings);
	put_tie(s, d);
	put_seal(s, d);
}

static void put_parts(struct sheet *s, const struct dossier *d, const json_t *parts)
{
	const json_t *part;
	size_t i;

	json_array_foreach(parts, i, part)
	{
		struct text t = {0};

		if (*ask_string(part, "sha256"))
			dossier_words_program(&t, d, ask_string(part, "sha256"));
		else
			text_puts(&t, "missing");
		s->failed |= t.failed;
		sheet_line(s, "%s %s", ask_string(part, "channel"), t.s ? t.s : "");
		text_free(&t);
	}
}

static void put_accepted(struct sheet *s, const json_t *accepted)
{
	const json_t *o;
	size_t i;

	json_array_foreach(accepted, i, o)
	{
		struct text t = {0};

		dossier_words_accepted(&t, ask_string(o, "rule"));
		s->failed |= t.failed;
		sheet_line(s, "accepted %s by %s (entry %lld)", t.s ? t.s : "", ask_string(o, "by"),
		    (long long)ask_number(o, "event"));
		text_free(&t);
	}
}

static void put_revisions(struct sheet *s, const struct dossier *d)
{
	static const char *const columns[] = {"REVISION", "STATE", "SINCE: UTC, LOCAL", "WHY, AND PROGRAMS"};
	const json_t *p;
	size_t i;

	sheet_add(s, SHEET_HEAD, "Revisions as they stand");
	sheet_table(s, columns, 4);
	sheet_keep(s, 0);
	sheet_keep(s, 1);
	sheet_keep(s, 2);
	json_array_foreach(d->pairs, i, p)
	{
		sheet_cell(s, "%s", *ask_string(p, "revision") ? ask_string(p, "revision") : "?");
		sheet_cell(s, "%s", ask_string(p, "state"));
		dossier_words_time(s, ask_string(p, "since"));
		sheet_cell(s, "%s", "");
		if (*ask_string(p, "machine"))
			sheet_line(s, "for machine %s", ask_string(p, "machine"));
		if (*ask_string(p, "verdict"))
			sheet_line(s, "wait codes: %s", ask_string(p, "verdict"));
		if (*ask_string(p, "text"))
			sheet_line(s, "%s", ask_string(p, "text"));
		put_parts(s, d, json_object_get(p, "parts"));
		put_accepted(s, json_object_get(p, "accepted"));
	}
}

static void put_holding(struct sheet *s, const struct dossier *d, const json_t *m, const char *job)
{
	const json_t *good = json_object_get(m, "last_good");
	bool holds = !strcmp(ask_string(m, "job"), job), was = !strcmp(ask_string(good, "job"), job);

	if (!holds && !was)
		return;
	sheet_cell(s, "%s", ask_string(m, "name"));
	sheet_cell(s, "%s", ask_string(m, "content"));
	if (*ask_string(m, "job"))
		sheet_line(s, "job %s revision %s", ask_string(m, "job"), ask_string(m, "revision"));
	sheet_line(s, "%s, %s%s", ask_true(m, "read_back") ? "read back" : "not read back",
	    ask_true(m, "proven") ? "proven" : "not proven",
	    ask_true(m, "drift") ? ", CHANGED THERE" : "");
	if (holds)
		put_parts(s, d, json_object_get(m, "parts"));
	sheet_cell(s, "%s", "");
	if (*ask_string(good, "job"))
		sheet_line(s, "job %s revision %s", ask_string(good, "job"), ask_string(good, "revision"));
	else
		sheet_line(s, "none");
	if (was)
		put_parts(s, d, json_object_get(good, "parts"));
}

static void put_holdings(struct sheet *s, const struct dossier *d, const char *job)
{
	static const char *const columns[] = {"MACHINE", "HOLDS NOW, AS FAR AS KNOWN", "LAST GOOD PAIR"};
	const json_t *m;
	size_t i, n = 0;

	sheet_add(s, SHEET_HEAD, "Machines that hold it, or have it as their last good pair");
	json_array_foreach(d->machines, i, m)
	{
		n += !strcmp(ask_string(m, "job"), job) ||
		     !strcmp(ask_string(json_object_get(m, "last_good"), "job"), job);
	}
	if (!n) {
		sheet_add(s, SHEET_PARAGRAPH, "None.");
		return;
	}
	sheet_table(s, columns, 3);
	json_array_foreach(d->machines, i, m)
	{
		put_holding(s, d, m, job);
	}
}

static void put_programs(struct sheet *s, const struct dossier *d)
{
	static const char *const columns[] = {"PROGRAM", "FIRST NAMED", "SHA-256"};

	sheet_add(s, SHEET_HEAD, "Programs");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Every content that an entry names. Elsewhere in this report a program is named by its "
	    "number here and the first digits of its SHA-256.");
	sheet_table(s, columns, 3);
	sheet_keep(s, 0);
	for (size_t i = 0; i < d->programs; i++) {
		const struct dossier_program *p = &d->program[i];

		sheet_cell(s, "P%zu", i + 1);
		sheet_cell(s, "entry %lld, %s, %s", (long long)ask_number(p->first, "seq"),
		    ask_string(p->first, "kind"), p->channel);
		if (*ask_string(p->first, "revision"))
			sheet_line(s, "revision %s", ask_string(p->first, "revision"));
		if (p->size >= 0) {
			sheet_line(s, "%s", ask_string(p->first, "text"));
			sheet_line(s, "%lld bytes", (long long)p->size);
		}
		sheet_cell(s, "%s", p->sha256);
	}
}

static void put_points(struct sheet *s, const char *head, const char *const *points)
{
	sheet_add(s, SHEET_HEAD, "%s", head);
	for (; *points; points++)
		sheet_add(s, SHEET_POINT, "%s", *points);
}

static const char *const limits[] = {
    "That the wait codes of a pair agree does not prove that tools cannot meet. Nothing here says "
    "that a program makes a good part.",
    "\"Proven\" is the word of the person named. What was measured is not in the trail.",
    "A person is known by an account, a file's owner or a badge. Who used that account or wore that "
    "badge is not known here, and a badge is no password.",
    "\"Carried\" without \"read back\" means that the programs left; whether they arrived whole is not "
    "known. What was loaded in a way that Yoke does not see is not known at all.",
    "What is changed at a machine is found when something is read from there, not when it happens. "
    "Whether and when a program was executed, and with which offsets, tools and overrides, is not "
    "in the trail.",
    "Each entry's details (all findings, bytes, line errors) are not on this paper: `yoke audit "
    "--json --job JOB` has them. Which rules and weights were in force stands in entries of the kind "
    "`configured`.",
    "What orders for other jobs did to a machine is in the reports of those jobs.",
    "Differences are told by meaning under the settings named at the top, by the programs as they "
    "are written; the programs themselves decide.",
    "Times are those of the service's computer. The numbers of entries, not their times, are their "
    "order.",
    "This paper is a copy. Nothing on it is signed but the checkpoint, and making it has verified no more "
    "than the SHA-256 of each program that was compared.",
    NULL,
};

static const char *const cautions[] = {
    "Prove out every new, changed or restored pair: single block, rapid override low, guard closed, "
    "hand at feed hold.",
    "Check work offsets and tool offsets of all channels at the control.",
    "Sending a program is not releasing it for production.",
    "Follow the machine builder's manual, the shop's rules and local regulations; trained and "
    "authorised persons only.",
    NULL,
};

static void put_check(struct sheet *s, const struct dossier *d)
{
	long long seq = ask_number(d->head, "seq");

	sheet_add(s, SHEET_HEAD, "How to check this paper against the trail");
	sheet_add(s, SHEET_POINT,
	    "yoke audit verify --against FILE --key KEY, FILE being a file of this report, as text or page: "
	    "must say good. It recomputes the chain and the tree of hashes over all entries and compares "
	    "them with the checkpoint above. KEY is the public key as you know it from elsewhere: one that "
	    "stands on this paper proves nothing.");
	sheet_add(s, SHEET_POINT,
	    "curl --unix-socket HOME/yoke.sock "
	    "'http://yoke/v1/audit?after=%lld&limit=1&order=oldest': shows entry %lld; its hash must be the "
	    "one at the top.",
	    seq ? seq - 1 : 0, seq);
	sheet_add(s, SHEET_POINT,
	    "yoke audit prove NO, and yoke audit check-proof: that one entry is in the trail, also for "
	    "somebody without the service.");
	sheet_add(s, SHEET_POINT,
	    "yoke program SHA256 | sha256sum: the bytes of a program, and that they are those named.");
}

/* Clauses: ISO 9001:2015 from memory, AS9100D 8.5.1.1 as published. */
static void put_clauses(struct sheet *s)
{
	static const char *const columns[] = {"ASKED FOR IN", "WHAT", "LOOK AT"};
	static const char *const row[][3] = {
	    {"ISO 9001:2015 7.5.3",
	        "documented information is under control: versions, retention, no unintended use of "
	        "obsolete ones",
	        "Revisions; Programs; What came in"},
	    {"ISO 9001:2015 8.5.1", "production under controlled conditions",
	        "What was carried; What was said and found at machines"},
	    {"ISO 9001:2015 8.5.6", "changes are reviewed, and who authorised them is recorded",
	        "What came in; What changed; Who is named"},
	    {"AS9100D 8.5.1.1", "programs are validated before they are released, and are maintained",
	        "What came in; proven, under What was said and found at machines"},
	};

	sheet_add(s, SHEET_HEAD, "Where an auditor's questions are answered");
	sheet_add(s, SHEET_PARAGRAPH,
	    "A help for finding things, not a statement that a clause is met: that is for the auditor "
	    "and the standard's own text.");
	sheet_table(s, columns, 3);
	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++)
		for (size_t k = 0; k < 3; k++)
			sheet_cell(s, "%s", row[i][k]);
}

int dossier_sheet(struct sheet *s, const struct dossier *d, const struct dossier_sheet_ask *ask)
{
	int status;

	put_front(s, d, ask);
	put_revisions(s, d);
	put_holdings(s, d, ask->job);
	put_programs(s, d);
	dossier_sections_intake(s, d);
	sheet_add(s, SHEET_HEAD, "What changed");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Each channel's programs in the order in which they came in, every one against the one "
	    "before it, by what a change means at the machine; and what was found changed on machines.");
	status = dossier_changes(s, d, ask->profile, ask->limit);
	dossier_sections_orders(s, d);
	dossier_sections_machines(s, d);
	dossier_sections_rest(s, d);
	dossier_sections_general(s, d);
	dossier_sections_people(s, d);
	put_clauses(s);
	put_points(s, "What this report does not show", limits);
	put_check(s, d);
	put_points(s, "Cautions", cautions);
	return status;
}
