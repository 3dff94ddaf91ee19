#include "report_json.h"

#include <string.h>
#include "sha256.h"

json_t *report_json_string(const char *s)
{
	struct text t = {0};
	json_t *string;

	text_visible(&t, s, strlen(s));
	string = t.failed ? NULL : json_stringn(t.s ? t.s : "", t.n);
	text_free(&t);
	return string;
}

static json_t *channel_name(const struct profile *profile, int channel)
{
	if (channel < 0 || (uint32_t)channel >= profile->channels)
		return json_null();
	return report_json_string(profile->channel[channel].name);
}

static json_t *also(const struct finding *f)
{
	if (!f->also)
		return json_null();
	return json_pack("{s:o, s:I, s:I}", "file",
	    report_json_string(f->also_file ? f->also_file : ""), "line", (json_int_t)f->also_line,
	    "col", (json_int_t)f->also_col);
}

static json_t *finding(const struct profile *profile, const struct finding *f)
{
	return json_pack("{s:s, s:s, s:o, s:o, s:I, s:I, s:o, s:o, s:s, s:o}", "name",
	    finding_name(f->id), "weight", finding_weight_name(f->weight), "channel",
	    channel_name(profile, f->channel), "file", report_json_string(f->file ? f->file : ""),
	    "line", (json_int_t)f->line, "col", (json_int_t)f->col, "text",
	    report_json_string(f->text), "remedy", report_json_string(f->remedy ? f->remedy : ""),
	    "why", finding_why(f->id), "also", also(f));
}

json_t *report_json_findings(const struct profile *profile, const struct findings *findings)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < findings->n; i++) {
		if (json_array_append_new(list, finding(profile, &findings->v[i])) < 0) {
			json_decref(list);
			return NULL;
		}
	}
	return list;
}

static json_t *program(const struct profile *profile, const struct report_json_program *p)
{
	char hex[YOKE_SHA_HEX + 1];
	uint32_t number = program_number(p->program);

	sha256_hex(p->sum, hex);
	return json_pack("{s:o, s:o, s:o, s:o, s:o, s:I, s:I, s:b, s:s}", "file",
	    report_json_string(p->file), "channel",
	    channel_name(profile, program_channel(p->program)), "job",
	    report_json_string(program_job(p->program)), "revision",
	    report_json_string(program_revision(p->program)), "number",
	    number ? json_integer(number) : json_null(), "size",
	    (json_int_t)program_size(p->program), "blocks", (json_int_t)program_blocks(p->program),
	    "complete", program_complete(p->program) ? 1 : 0, "sha256", hex);
}

static json_t *program_list(
    const struct profile *profile, const struct report_json_program *programs, size_t n)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < n; i++) {
		if (json_array_append_new(list, program(profile, &programs[i])) < 0) {
			json_decref(list);
			return NULL;
		}
	}
	return list;
}

/* All that were found, also those that were not kept. */
static json_t *counts(const struct profile *profile, const struct findings *f)
{
	json_int_t n[WEIGHT_REFUSE + 1] = {0};

	for (int id = 0; id < FINDING_COUNT; id++)
		n[profile->weight[id]] += f->seen[id];
	return json_pack("{s:I, s:I, s:I}", "refuse", n[WEIGHT_REFUSE], "warn", n[WEIGHT_WARN],
	    "note", n[WEIGHT_NOTE]);
}

json_t *report_json_pair(const struct profile *profile, const struct pair_report *report,
    const struct report_json_program *programs, size_t n)
{
	const struct findings *f = pair_findings(report);

	if (f->failed)
		return NULL;
	return json_pack("{s:s, s:b, s:s, s:o, s:o, s:I, s:o, s:o, s:o, s:s}", "verdict",
	    pair_verdict_name(pair_verdict(report)), "may_release",
	    pair_may_release(report) ? 1 : 0, "weight", finding_weight_name(pair_weight(report)),
	    "job", report_json_string(pair_job(report)), "revision",
	    report_json_string(pair_revision(report)), "meetings",
	    (json_int_t)pair_meetings(report), "counts", counts(profile, f), "programs",
	    program_list(profile, programs, n), "findings", report_json_findings(profile, f),
	    "caution", REPORT_JSON_CAUTION);
}
